"""The body's tables: what is read, and what is refused with its cell named."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from bonewright.errors import Problem
from bonewright.study.load import load_study

Damage = Callable[[str, str, str, str], tuple[Problem, ...]]


def test_thickness_and_percentages_are_brought_to_the_units_used_inside(
    study_folder: Path,
) -> None:
    study = load_study(study_folder)
    first, second, end = study.body_hoops
    assert (first.tissue_mm, second.tissue_mm, end.tissue_mm) == (2.0, 2.0, 0.0)
    assert [hoop.station for hoop in study.body_hoops] == [0.0, 0.5, 1.0]
    assert first.dorsal_exponent == 2.0
    crest = study.body_segments[0]
    assert (crest.attach_along, crest.attach_up) == (0.5, 0.0)
    assert crest.angle_rad == pytest.approx(np.radians(80))
    assert study.tissues[0].density_kg_m3 == pytest.approx(920)


def test_a_scan_knows_its_size_in_life(study_folder: Path) -> None:
    (scan,) = load_study(study_folder).body_scans
    assert scan.to_life_size_mm == pytest.approx(40.0)
    assert scan.checked_mm == pytest.approx(168.0)
    assert np.ptp(scan.surface.vertices, axis=0) == pytest.approx([10, 10, 10])


def test_a_model_weighed_in_air_and_water_has_the_volume_of_the_water_it_displaces(
    study_folder: Path, damage: Damage, tables: dict[str, list[list[str]]]
) -> None:
    header, *rows = tables["bodies"]
    header += ["weightInAir", "weightInWater", "weightUnit", "materialDensity", "armatureWeight"]
    for row in rows:
        row += ["", "", "", "", ""]
    rows[0][4:7] = ["", "mL", ""]
    rows[0][7:] = ["450", "200.45", "g", "", ""]
    rows[1][4:7] = ["", "mL", ""]
    rows[1][7:] = ["450", "", "g", "1.75", "12.5"]
    assert damage("bodies", "v-3", "armatureVolume", "3") == ()
    hung, moulded, dipped = load_study(study_folder).bodies
    assert hung.volume_m3 == pytest.approx(249.55e-3 / 998.2)
    assert moulded.volume_m3 == pytest.approx(250e-6)
    assert dipped.volume_m3 == pytest.approx(250e-6)


@pytest.mark.parametrize(
    ("table", "row", "column", "text"),
    [
        ("body_segments", "beak", "parentSegment", "haed"),
        ("body_segments", "beak", "parentSegment", "beak"),
        ("body_segments", "beak", "jointAngle", "60"),
        ("body_segments", "beak", "sides", "both"),
        ("body_segments", "crest", "segmentID", "comb"),
        ("body_hoops", "h-2", "segmentID", "crset"),
        ("body_hoops", "h-2", "station", "0"),
        ("body_hoops", "h-1", "station", "20"),
        ("body_hoops", "h-2", "element", "skull"),
        ("body_hoops", "h-2", "halfWidthRatio", "0"),
        ("body_hoops", "h-2", "measurementUnit", ""),
        ("body_hoops", "h-2", "dorsalExponent", "0.2"),
        ("tissues", "fat", "density", "0.99"),
        ("tissues", "fat", "tissue", "lard"),
        ("lost_parts", "p-1", "element", ""),
        ("lost_parts", "p-2", "element", "femur"),
        ("lost_parts", "p-2", "ratio", "2"),
        ("body_scans", "scan-1", "scanFile", "blok.stl"),
        ("body_scans", "scan-1", "lengthUnit", "kg"),
        ("body_scans", "scan-1", "checkLength", ""),
        ("bodies", "v-1", "measurementValue", ""),
    ],
)
def test_a_damaged_cell_is_named(
    damage: Damage,
    tables: dict[str, list[list[str]]],
    table: str,
    row: str,
    column: str,
    text: str,
) -> None:
    header, *rows = tables[table]
    if column not in header:
        header.append(column)
        for cells in rows:
            cells.append("")
    number = next(i for i, cells in enumerate(rows, start=2) if cells[0] == row)
    problems = damage(table, row, column, text)
    assert problems
    assert {problem.file for problem in problems} <= {
        f"tables/{table}.csv",
        "tables/body_hoops.csv",
    }
    assert any(problem.row == number or column == "segmentID" for problem in problems)


def _break(study_folder: Path, content: bytes, name: str = "block.stl") -> tuple[Problem, ...]:
    from bonewright.study.load import check_folder

    (study_folder / "files" / name).write_bytes(content)
    return check_folder(study_folder)


def test_a_surface_without_triangles_is_refused(study_folder: Path) -> None:
    (problem,) = _break(study_folder, b"nothing".ljust(80) + bytes(4))
    assert problem.file == "files/block.stl"
    assert problem.found == "0 triangles"


def test_a_surface_cut_short_is_refused(study_folder: Path) -> None:
    whole = (study_folder / "files" / "block.stl").read_bytes()
    (problem,) = _break(study_folder, whole[:-30])
    assert "cut short" in problem.found


def test_a_surface_with_points_nowhere_is_refused(study_folder: Path) -> None:
    whole = bytearray((study_folder / "files" / "block.stl").read_bytes())
    whole[100:104] = np.float32(np.nan).tobytes()
    (problem,) = _break(study_folder, bytes(whole))
    assert problem.found == "points without a place"


def test_a_surface_of_more_triangles_than_can_be_held_is_refused(study_folder: Path) -> None:
    count = 12_500_000
    path = study_folder / "files" / "block.stl"
    with path.open("wb") as stream:
        stream.write(b"too many".ljust(80) + count.to_bytes(4, "little"))
        stream.truncate(84 + 50 * count)  # a hole in the file takes no room on the disk
    from bonewright.study.load import check_folder

    (problem,) = check_folder(study_folder)
    assert "12" in problem.found
    assert "million" in problem.expected


def test_rubbish_is_refused_in_every_format(study_folder: Path, damage: Damage) -> None:
    for suffix in ("stl", "ply", "obj", "glb"):
        (study_folder / "files" / f"rubbish.{suffix}").write_bytes(b"solid rubbish\n" * 20)
        problems = damage("body_scans", "scan-1", "scanFile", f"rubbish.{suffix}")
        assert [problem.file for problem in problems] == [f"files/rubbish.{suffix}"]
    (study_folder / "files" / "rubbish.txt").write_text("v 0 0 0")
    (problem,) = damage("body_scans", "scan-1", "scanFile", "rubbish.txt")
    assert ".stl" in problem.expected


@pytest.mark.parametrize("suffix", ["ply", "obj", "glb", "stl"])
def test_a_block_is_the_same_in_every_format(
    study_folder: Path, damage: Damage, suffix: str
) -> None:
    import trimesh

    block = trimesh.creation.box(extents=(10, 10, 10))
    exported = block.export(file_type=suffix if suffix != "stl" else "stl_ascii")
    path = study_folder / "files" / f"other.{suffix}"
    path.write_bytes(exported if isinstance(exported, bytes) else exported.encode())
    assert damage("body_scans", "scan-1", "scanFile", f"other.{suffix}") == ()
    (scan,) = load_study(study_folder).body_scans
    assert len(scan.surface.faces) == 12
    assert np.ptp(scan.surface.vertices, axis=0) == pytest.approx([10, 10, 10])
