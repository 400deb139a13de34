import csv
import io
import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image
from typer.testing import CliRunner

from bonewright.cli import app
from bonewright.errors import BonewrightError, StudyProblems
from bonewright.report.section_desk import (
    PictureToTrace,
    ScanToCut,
    TraceChoices,
    cut_scan,
    traced,
)
from bonewright.report.section_kept import accept_scan, accept_trace
from bonewright.study.load import load_study
from bonewright.study.read import read_tables
from bonewright.study.save import save_tables

DEMO = Path(__file__).parents[2] / "demo"


def tube_slice(n: int = 90, *, size: float = 1.0) -> np.ndarray:
    axis = np.arange(n) - (n - 1) / 2
    x, y = axis[None, :], -axis[:, None]
    bone = ((x / (36 * size)) ** 2 + (y / (30 * size)) ** 2 < 1) & (
        (x / (25 * size)) ** 2 + (y / (20 * size)) ** 2 >= 1
    )
    return np.where(bone, 190, 30).astype(np.uint8)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "break.png"
    Image.fromarray(tube_slice()).save(path)
    return path


@pytest.fixture
def stack(tmp_path: Path) -> Path:
    path = tmp_path / "scan.tif"
    slices = np.stack([tube_slice(size=1 - 0.2 * place / 160) for place in range(160)])
    tifffile.imwrite(path, slices, photometric="minisblack")
    return path


@pytest.fixture
def study(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "study"))


def test_a_traced_contour_is_shown_over_its_picture_with_a_scale(picture: Path) -> None:
    found = traced(picture, "break.png", pixel_mm=0.25, choices=TraceChoices())
    assert found.traced.properties.area_mm2 == pytest.approx(
        np.pi * (36 * 30 - 25 * 20) * 0.25**2, rel=0.01
    )
    for part in ("<image", "data:image/png", "5 mm", "Accept the contour only if"):
        assert part in found.sheet_svg


def test_inverted_grey_is_refused_until_bone_is_said_to_be_dark(tmp_path: Path) -> None:
    path = tmp_path / "negative.png"
    Image.fromarray(255 - tube_slice()).save(path)
    with pytest.raises(StudyProblems) as caught:
        traced(path, "negative.png", pixel_mm=0.25, choices=TraceChoices())
    assert caught.value.problems[0].file == "negative.png"
    assert "inverted" in caught.value.problems[0].found
    found = traced(path, "negative.png", pixel_mm=0.25, choices=TraceChoices(dark_bone=True))
    assert len(found.traced.rings_mm) == 2


NEW_ROW = {
    "materialEntityID": "bone-134",
    "element": "femur",
    "position": "55",
    "boneLength": "157.2",
}


def section_row(study: Path, section_id: str) -> dict[str, str]:
    with (study / "tables" / "sections.csv").open(encoding="utf-8", newline="") as file:
        return next(row for row in csv.DictReader(file) if row["sectionID"] == section_id)


def empty_sizes(study: Path, section_id: str, **cells: str) -> None:
    """Leave a section of the demo without sizes, as one whose picture is still to be traced."""
    path = study / "tables" / "sections.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        if row["sectionID"] == section_id:
            row |= {column: "" for column in row if column.startswith(("outer", "inner"))} | cells
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_an_accepted_contour_becomes_a_row_of_the_study_and_is_not_overwritten(
    picture: Path, study: Path
) -> None:
    found = traced(picture, "break.png", pixel_mm=0.25, choices=TraceChoices()).traced
    kept = accept_trace(study, "sec 50", found, cells=NEW_ROW)
    assert kept.row_is_new
    assert (study / "files" / kept.file).is_file()
    section = next(s for s in load_study(study).sections if s.section_id == "sec 50")
    assert section.specimen_id == "bone-134"
    assert section.outline_mm is not None
    assert section.accuracy_mm == pytest.approx(found.edge_doubt_mm, abs=1e-4)
    with pytest.raises(BonewrightError):
        accept_trace(study, "sec 50", found, cells=NEW_ROW)


def test_an_accepted_contour_fills_the_row_that_waits_for_it(picture: Path, study: Path) -> None:
    empty_sizes(study, "sec-01")
    found = traced(picture, "break.png", pixel_mm=0.25, choices=TraceChoices()).traced
    kept = accept_trace(study, "sec-01", found, cells={})
    assert not kept.row_is_new
    row = section_row(study, "sec-01")
    assert (row["outlineFile"], row["measurementUnit"]) == (kept.file, "mm")
    assert row["sectionRemarks"] == "old break squared off, callipers"


@pytest.mark.parametrize(
    ("name", "cells", "said"),
    [
        ("sec-02", {}, "outerMediolateral already"),
        ("sec-01", {}, "in cm"),
        ("sec-90", {}, "lacks either the bone or the living species"),
        ("sec-90", NEW_ROW | {"position": " "}, "lacks its position"),
        ("sec-90", NEW_ROW | {"scientificName": "Nemorallus velox"}, "not both"),
        ("sec-90", NEW_ROW | {"materialEntityID": "bone-999"}, "no row bone-999"),
        (" -", NEW_ROW, "no name"),
    ],
)
def test_a_contour_that_fits_no_row_is_not_kept(
    picture: Path, study: Path, name: str, cells: dict[str, str], said: str
) -> None:
    empty_sizes(study, "sec-01", measurementUnit="cm", boneLength="17.22")
    before = (study / "tables" / "sections.csv").read_bytes()
    found = traced(picture, "break.png", pixel_mm=0.25, choices=TraceChoices()).traced
    with pytest.raises(BonewrightError, match=said):
        accept_trace(study, name, found, cells=cells)
    assert (study / "tables" / "sections.csv").read_bytes() == before
    assert not (study / "files" / "outlines" / f"{name.strip()}.csv").exists()


def look(path: Path) -> PictureToTrace | ScanToCut:
    if path.suffix == ".png":
        return traced(path, path.name, pixel_mm=0.25, choices=TraceChoices())
    return cut_scan(
        path,
        path.name,
        pixel_mm=0.5,
        between_slices_mm=1.0,
        proximal_first=True,
        choices=TraceChoices(),
    )


def refused(path: Path) -> str:
    with pytest.raises(StudyProblems) as caught:
        look(path)
    (problem,) = caught.value.problems
    assert problem.file == path.name
    return problem.found


def test_a_bone_cut_off_by_the_frame_is_refused(tmp_path: Path) -> None:
    Image.fromarray(tube_slice(66)).save(tmp_path / "close.png")
    slices = np.stack([tube_slice(66)] * 30)
    tifffile.imwrite(tmp_path / "close.tif", slices, photometric="minisblack")
    for name in ("close.png", "close.tif"):
        assert "cut off" in refused(tmp_path / name)


def test_two_bones_side_by_side_are_refused_and_so_is_a_cracked_ring(tmp_path: Path) -> None:
    both = np.concatenate([tube_slice(), tube_slice(size=0.8)], axis=1)
    Image.fromarray(both).save(tmp_path / "two.png")
    tifffile.imwrite(tmp_path / "two.tif", np.stack([both] * 30), photometric="minisblack")
    for name in ("two.png", "two.tif"):
        assert "two pieces of bone" in refused(tmp_path / name)
    cracked = tube_slice()
    cracked[:, 44:47] = 30
    Image.fromarray(cracked).save(tmp_path / "cracked.png")
    assert "two pieces of bone" in refused(tmp_path / "cracked.png")


def test_a_wall_open_on_one_side_is_traced_with_a_remark(tmp_path: Path) -> None:
    opened = tube_slice()
    opened[:45, 44:47] = 30
    Image.fromarray(opened).save(tmp_path / "open.png")
    found = look(tmp_path / "open.png")
    assert "No marrow space is closed off" in found.remarks[0]


def test_a_bone_that_goes_on_beyond_the_stack_is_cut_with_a_remark(
    stack: Path, tmp_path: Path
) -> None:
    whole = tifffile.imread(stack)
    whole[:3] = whole[-3:] = 30
    tifffile.imwrite(tmp_path / "whole.tif", whole, photometric="minisblack")
    remarks = {path.name: look(path).remarks for path in (stack, tmp_path / "whole.tif")}
    assert "first and the last slice" in remarks["scan.tif"][0]
    assert remarks["whole.tif"] == ()


def test_a_scan_becomes_rows_of_sections_and_curves_along_the_bone(
    stack: Path, study: Path
) -> None:
    scan = cut_scan(
        stack,
        "scan.tif",
        pixel_mm=0.5,
        between_slices_mm=1.0,
        proximal_first=True,
        choices=TraceChoices(),
    )
    assert len(list(csv.DictReader(io.StringIO(scan.curves_csv)))) == 99
    before = len(load_study(study).sections)
    owner = {"element": "femur", "materialEntityID": "bone-134"}
    assert accept_scan(study, "ct", scan, every_percent=10, owner=owner) == 9
    sections = load_study(study).sections
    assert len(sections) == before + 9
    added = [section for section in sections if section.section_id.startswith("ct-")]
    assert {section.specimen_id for section in added} == {"bone-134"}
    assert all(section.outline_mm is not None for section in added)
    assert all(section.axis_offset_mm == pytest.approx(0, abs=0.2) for section in added)
    with pytest.raises(BonewrightError):
        accept_scan(study, "ct", scan, every_percent=10, owner=owner)
    nobody = {"element": "femur", "materialEntityID": "bone-999"}
    with pytest.raises(BonewrightError, match="no row bone-999"):
        accept_scan(study, "other", scan, every_percent=10, owner=nobody)
    assert not list((study / "files" / "outlines").glob("other*"))


def test_cutting_a_scan_fills_the_row_that_was_begun_when_its_slices_came(
    stack: Path, study: Path
) -> None:
    scan = cut_scan(
        stack,
        "scan.tif",
        pixel_mm=0.5,
        between_slices_mm=1.0,
        proximal_first=True,
        choices=TraceChoices(),
    )
    tables = read_tables(study)
    table = tables["sections"]
    begun = {
        "sectionID": "ct-50",
        "position": "50",
        "element": "femur",
        "measurementUnit": "mm",
        "sectionRemarks": "slices in files/stacks/ct",
    }
    row = tuple(begun.get(column, "") for column in table.header)
    save_tables(study, [table.with_rows((*table.rows, row))], what="begun", by="page")
    tibia = {"element": "tibiotarsus", "materialEntityID": "bone-134"}
    with pytest.raises(BonewrightError, match="of femur"):
        accept_scan(study, "ct", scan, every_percent=10, owner=tibia)
    owner = {"element": "femur", "materialEntityID": "bone-134"}
    assert accept_scan(study, "ct", scan, every_percent=10, owner=owner) == 9
    rows = read_tables(study)["sections"].rows
    assert len(rows) == len(table.rows) + 9
    filled = dict(zip(table.header, rows[len(table.rows)], strict=True))
    assert filled["sectionRemarks"] == "slices in files/stacks/ct"
    assert filled["outlineFile"] == "outlines/ct-50.csv"
    assert filled["materialEntityID"] == "bone-134"


def test_the_commands_trace_and_cut_leave_sheets_to_look_at(
    picture: Path, stack: Path, study: Path
) -> None:
    runner = CliRunner()
    shown = runner.invoke(
        app, ["trace", str(study), str(picture), "--bar-mm", "10", "--bar-pixels", "40"]
    )
    assert shown.exit_code == 0
    assert (study / "results" / "break-contour.svg").is_file()
    cut = runner.invoke(
        app, ["cut", str(study), str(stack), "--pixel-mm", "0.5", "--between-mm", "1"]
    )
    assert cut.exit_code == 0
    assert (study / "results" / "scan-contours.svg").is_file()
    assert (study / "results" / "scan-along-bone.csv").is_file()
    assert not list((study / "files" / "outlines").glob("scan*"))


def test_wrong_usage_of_the_commands_ends_with_2(picture: Path, study: Path) -> None:
    runner = CliRunner()
    base = ["trace", str(study), str(picture), "--bar-pixels", "40"]
    assert runner.invoke(app, [*base, "--bar-mm", "0"]).exit_code == 2
    assert runner.invoke(app, [*base, "--bar-mm", "9", "--rule", "guess"]).exit_code == 2
    nobody = ["cut", str(study), str(picture), "--accept", "x"]
    assert runner.invoke(app, nobody).exit_code == 2
