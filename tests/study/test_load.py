import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.errors import Problem, StudyProblems
from bonewright.study.load import load_study, load_tables
from bonewright.study.read import read_tables
from bonewright.study.settings_file import read_settings

Damage = Callable[[str, str, str, str], tuple[Problem, ...]]


def test_lengths_masses_and_volumes_are_converted_once(study_folder: Path) -> None:
    study = load_study(study_folder)
    assert [m.value_mm for m in study.measurements] == pytest.approx([170.5, 171.0, 98.25])
    assert study.measurements[1].accuracy_mm == pytest.approx(0.1)
    assert study.measurements[2].accuracy_mm is None
    assert [r.body_mass_kg for r in study.relatives] == pytest.approx([2.5, 0.35])
    assert [b.volume_m3 for b in study.bodies] == pytest.approx([250.5e-6, 251.2e-6, 250e-6])
    assert [b.armature_volume_m3 for b in study.bodies] == pytest.approx([3.5e-6, 0.0, 3e-6])
    assert study.mount_measurements[0].allowance_high_mm == pytest.approx(9.0)


def test_a_claimed_weight_is_in_kg_and_a_claimed_height_in_m(study_folder: Path) -> None:
    weight, height, movement = load_study(study_folder).claims
    # International pound and foot (1959 agreement): 0.45359237 kg and 0.3048 m exactly.
    assert weight.value == pytest.approx(30 * 0.45359237, rel=1e-12)
    assert height.value == pytest.approx(3 * 0.3048, rel=1e-12)
    assert movement.value is None


def test_an_outline_is_read_in_the_unit_of_its_row(study_folder: Path, damage: Damage) -> None:
    in_mm = load_study(study_folder).sections[1].outline_mm
    assert in_mm is not None
    assert in_mm[0][1] == (10.5, 0.0)
    assert len(in_mm) == 2
    assert damage("sections", "sec-2", "measurementUnit", "cm") == ()
    in_cm = load_study(study_folder).sections[1].outline_mm
    assert in_cm is not None
    assert in_cm[0][1] == (105.0, 0.0)


def test_rows_know_where_they_stand_and_empty_cells_are_none(study_folder: Path) -> None:
    study = load_study(study_folder)
    cast = study.specimens[1]
    assert (cast.ref.table, cast.ref.row, cast.ref.row_id) == ("specimens", 3, "bone-2")
    assert cast.individual_id is None
    assert cast.sex == "unknown"
    assert cast.cast_of == "bone-1"
    assert study.sections[0].position_fraction == 0.5


def test_tips_of_the_tree_have_spaces_for_underscores(study_folder: Path) -> None:
    assert load_study(study_folder).tree_tips == ("Rallus fictus", "Rallus alius")
    nexus = (
        "#NEXUS\nbegin trees;\ntranslate 1 Rallus_fictus, 2 Rallus_alius;\n"
        "tree one = (1:1,2:1);\nend;\n"
    )
    (study_folder / "files" / "relatives.nwk").write_text(nexus)
    assert load_study(study_folder).tree_tips == ("Rallus fictus", "Rallus alius")


def test_decisions_become_sets_of_rows(study_folder: Path) -> None:
    study = load_study(study_folder)
    assert study.set_aside == {("measurements", "m-3")}
    assert study.kept == frozenset()


def test_a_study_with_a_problem_does_not_load(study_folder: Path, damage: Damage) -> None:
    problems = damage("bodies", "v-1", "bodyState", "thin")
    with pytest.raises(StudyProblems) as caught:
        load_study(study_folder)
    assert caught.value.problems == problems


def test_tables_already_read_load_without_the_disk(study_folder: Path) -> None:
    raw = read_tables(study_folder)
    settings, _ = read_settings(study_folder)
    assert settings is not None
    without = raw.with_table(raw["bodies"].with_rows(()))
    assert load_tables(without, settings, study_folder).bodies == ()


def test_importing_the_loader_brings_in_no_heavy_library() -> None:
    code = (
        "import sys, bonewright.study.load as _;"
        "print(sorted({'pint', 'dendropy', 'shapely', 'python_calamine', 'pandas'}"
        " & set(sys.modules)))"
    )
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True)  # noqa: S603 (ours)
    assert done.stdout.strip() == "[]"
