from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.errors import Problem
from bonewright.study.check import check_tables
from bonewright.study.load import check_folder, load_study
from bonewright.study.read import read_tables
from bonewright.study.settings_file import read_settings

Tables = dict[str, list[list[str]]]
Writer = Callable[..., Path]
Damage = Callable[[str, str, str, str], tuple[Problem, ...]]


def places(problems: tuple[Problem, ...]) -> set[tuple[str, int | None, str | None]]:
    return {(problem.file, problem.row, problem.column) for problem in problems}


def change_settings(folder: Path, old: str, new: str) -> None:
    path = folder / "study.toml"
    path.write_text(path.read_text().replace(old, new))


def test_the_sound_study_has_no_problem(study_folder: Path) -> None:
    assert check_folder(study_folder) == ()


@pytest.mark.parametrize(
    ("table", "row_id", "column", "text"),
    [
        ("measurements", "m-1", "measurementValue", "17O.5"),
        ("measurements", "m-1", "measurementValue", "-170.5"),
        ("measurements", "m-1", "measurementValue", "0"),
        ("measurements", "m-1", "measurementValue", ""),
        ("measurements", "m-1", "measurementValue", "1,705"),
        ("measurements", "m-1", "measurementUnit", "kg"),
        ("measurements", "m-1", "measurementUnit", "mmm"),
        ("measurements", "m-1", "measurementUnit", ""),
        ("measurements", "m-1", "measurementType", "GLX"),
        ("measurements", "m-1", "measurementAccuracy", "50"),
        ("measurements", "m-1", "sourceID", "src-O1"),
        ("measurements", "m-2", "measurementID", "m-1"),
        ("specimens", "bone-1", "element", "femour"),
        ("specimens", "bone-3", "side", "left"),
        ("specimens", "bone-2", "castOf", "bone-2"),
        ("specimens", "bone-2", "castOf", "bone-9"),
        ("specimens", "bone-2", "preparations", "bone"),
        ("specimens", "bone-2", "element", "tibiotarsus"),
        ("specimens", "bone-2", "side", "right"),
        ("specimens", "bone-1", "institutionCode", ""),
        ("relatives", "Rallus fictus", "bodyMass", "0"),
        ("relatives", "Rallus fictus", "individualCount", "12.5"),
        ("relatives", "Rallus fictus", "locomotion", "run"),
        ("sections", "sec-1", "scientificName", "Rallus alius"),
        ("sections", "sec-1", "materialEntityID", ""),
        ("sections", "sec-1", "element", "tibiotarsus"),
        ("sections", "sec-1", "innerMediolateral", "12.5"),
        ("sections", "sec-1", "innerMediolateral", ""),
        ("sections", "sec-1", "position", "0.5"),
        ("sections", "sec-1", "outerAnteroposterior", "171"),
        ("sections", "sec-2", "outlineFile", "rings.csv"),
        ("sections", "sec-2", "outlineFile", "../study.toml"),
        ("sections", "sec-2", "outerMediolateral", "10"),
        ("bodies", "v-2", "scaleDenominator", "5"),
        ("bodies", "v-2", "bodyState", "fat"),
        ("bodies", "v-3", "armatureVolume", "300"),
        ("bodies", "v-1", "measurementUnit", "mm"),
        ("pictures", "pic-1", "eventDate", "1650-13"),
        ("pictures", "pic-2", "eventDate", "1850"),
        ("pictures", "pic-2", "eventDate", "1640"),
        ("pictures", "pic-1", "copyOf", "pic-1"),
        ("picture_marks", "k-1", "measurementValue", "3.2"),
        ("picture_marks", "k-1", "measurementValue", "6"),
        ("accounts", "acc-1", "standing", "eye witness?"),
        ("claims", "clm-1", "measurementUnit", "m"),
        ("claims", "clm-1", "measurementUnit", ""),
        ("claims", "clm-1", "measurementValue", ""),
        ("claims", "clm-1", "measurementValue", "30000"),
        ("claims", "clm-2", "measurementUnit", "kg"),
        ("claims", "clm-3", "measurementValue", "12"),
        ("claims", "clm-3", "statement", ""),
        ("mount_measurements", "mt-1", "allowanceLow", "1.5"),
        ("mount_measurements", "mt-1", "allowanceHigh", "19"),
        ("decisions", "dec-1", "rowID", "m-33"),
        ("decisions", "dec-1", "tableName", "bones"),
        ("decisions", "dec-1", "reason", ""),
    ],
)
def test_a_damaged_cell_is_named(
    tables: Tables, damage: Damage, table: str, row_id: str, column: str, text: str
) -> None:
    row = next(n for n, cells in enumerate(tables[table], start=1) if cells[0] == row_id)
    problems = damage(table, row_id, column, text)
    found = places(problems)
    assert (f"tables/{table}.csv", row, column) in found, problems
    assert all(p.found and p.expected and p.mend for p in problems)
    assert len(found) == 1, problems


def test_a_paired_bone_on_the_midline_is_named(damage: Damage) -> None:
    problems = damage("specimens", "bone-1", "side", "midline")
    assert ("tables/specimens.csv", 2, "side") in places(problems)


def test_a_measurement_of_a_species_given_twice_names_both_rows(damage: Damage) -> None:
    (problem,) = damage("relative_measurements", "r-2", "element", "femur")
    assert problem.row == 3
    assert "tables/relative_measurements.csv, row 2" in problem.mend


def test_a_renamed_row_is_named_by_the_rows_that_refer_to_it(damage: Damage) -> None:
    problems = damage("specimens", "bone-1", "materialEntityID", "bone-l")
    assert {p.column for p in problems} == {"castOf", "materialEntityID"}
    assert all("'bone-l' (tables/specimens.csv, row 2)" in p.mend for p in problems)


def test_a_circle_of_copies_is_named(damage: Damage) -> None:
    problems = damage("pictures", "pic-1", "copyOf", "pic-2")
    assert any(p.expected == "no circle" for p in problems)


@pytest.mark.parametrize(
    ("table", "row_id", "column", "text"),
    [
        ("measurements", "m-2", "measurementUnit", "m"),
        ("relatives", "Rallus fictus", "bodyMassUnit", "t"),
        ("claims", "clm-1", "measurementValue", "30000"),
        ("measurements", "m-1", "measurementAccuracy", "50"),
    ],
)
def test_an_implausible_value_stops_until_a_reason_keeps_it(
    study_folder: Path,
    tables: Tables,
    write_table: Writer,
    damage: Damage,
    *,
    table: str,
    row_id: str,
    column: str,
    text: str,
) -> None:
    problems = damage(table, row_id, column, text)
    assert len(problems) == 1
    assert f"rowID {row_id}, decision keep" in problems[0].mend
    kept = [*tables["decisions"], ["dec-2", table, row_id, "keep", "Measured twice."]]
    write_table(study_folder, "decisions", kept)
    assert check_folder(study_folder) == ()
    assert (table, row_id) in load_study(study_folder).kept


def test_a_femur_of_17_m_is_told_with_what_it_was_read_as(damage: Damage) -> None:
    (problem,) = damage("measurements", "m-2", "measurementUnit", "m")
    assert problem.column == "measurementValue"
    assert problem.found == "'17.1' m (17100 mm)"


def test_a_reason_overrules_no_hard_bound(
    study_folder: Path, tables: Tables, write_table: Writer, damage: Damage
) -> None:
    kept = [*tables["decisions"], ["dec-2", "relatives", "Rallus fictus", "keep", "It is so."]]
    write_table(study_folder, "decisions", kept)
    assert damage("relatives", "Rallus fictus", "bodyMass", "0")


def test_all_problems_are_told_at_once(study_folder: Path, damage: Damage) -> None:
    change_settings(study_folder, "Rallus fictus", "Rallus fictius")
    damage("bodies", "v-1", "bodyState", "thin")
    damage("claims", "clm-2", "measurementUnit", "kg")
    problems = damage("specimens", "bone-1", "side", "up")
    assert {p.file for p in problems} == {
        "study.toml",
        "tables/bodies.csv",
        "tables/claims.csv",
        "tables/specimens.csv",
    }


def test_an_unreadable_table_is_one_problem_and_not_one_a_reference(study_folder: Path) -> None:
    (study_folder / "tables" / "specimens.csv").write_bytes(b"\xff\xfe")
    problems = check_folder(study_folder)
    assert len(problems) == 1


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("0,0,12", "0,5,-3"),
        ("1,7,8", "1,17,8"),
        ("1,3,8", "1,3,8\n2,4,4\n2,6,4\n2,6,7\n2,4,7"),
        ("0,10.5,12\n0,0,12\n", ""),
        ("0,", "2,"),
        ("ring,x,y", "ring,x,z"),
        ("10.5", "nan"),
        ("0,10.5,0", "0,10.5"),
        ("10.5", "1000.5"),
        ("1,3,8", "1.5,3,8"),
    ],
    ids=[
        "it crosses itself",
        "a hole reaches through the outer ring",
        "a hole lies in a hole",
        "the outer ring has two points",
        "there is no outer ring",
        "a column has another name",
        "there is no number",
        "a cell is missing",
        "it is a metre wide",
        "a ring has no whole number",
    ],
)
def test_an_outline_that_is_no_ring_with_holes_is_named(
    study_folder: Path, old: str, new: str
) -> None:
    path = study_folder / "files" / "ring.csv"
    path.write_text(path.read_text().replace(old, new))
    files = {p.file for p in check_folder(study_folder)}
    assert files
    assert files <= {"files/ring.csv", "tables/sections.csv"}


def test_an_empty_outline_is_named(study_folder: Path) -> None:
    (study_folder / "files" / "ring.csv").write_text("")
    assert [p.file for p in check_folder(study_folder)] == ["files/ring.csv"]


@pytest.mark.parametrize(
    "tree",
    [
        "",
        ";",
        "(a,b",
        "(a,a);",
        "(a,,b);",
        "(a:x,b:1);",
        "#NEXUS begin",
        "text",
        "(" * 5000,
        "(a);",
    ],
)
def test_a_damaged_tree_is_named(study_folder: Path, tree: str) -> None:
    (study_folder / "files" / "relatives.nwk").write_text(tree)
    assert {p.file for p in check_folder(study_folder)} == {"files/relatives.nwk"}


def test_tips_without_a_relative_and_relatives_without_a_tip_are_no_problem(
    study_folder: Path,
) -> None:
    (study_folder / "files" / "relatives.nwk").write_text("(Rallus_fictus:1,'Rallus_novus':1);")
    assert check_folder(study_folder) == ()


@pytest.mark.parametrize(
    ("old", "new", "row", "column"),
    [
        ('name = "test rail"', "name = test rail", 8, None),
        ('name = "test rail"', 'nam = "test rail"', 8, "animal.nam"),
        ("invented = true", 'invented = "perhaps"', 5, "study.invented"),
        ("earliest = 1600", "earliest = 1800", 17, "witness"),
        ("earliest = 1600", "earliest = nan", 18, "witness.earliest"),
        ('file = "relatives.nwk"', 'file = "relative.nwk"', None, "tree.file"),
        ('file = "relatives.nwk"', 'file = "/etc/passwd"', None, "tree.file"),
        ('species = "Rallus fictus"', 'species = "Rallus fictius"', None, "blind_proof.species"),
    ],
)
def test_a_damaged_setting_is_named_with_its_line(
    study_folder: Path, old: str, new: str, row: int | None, column: str | None
) -> None:
    change_settings(study_folder, old, new)
    assert ("study.toml", row, column) in places(check_folder(study_folder))


def test_a_choice_in_another_unit_or_out_of_bounds_is_named(study_folder: Path) -> None:
    choice = (
        '\n[choices.body_density]\nvalue = {}\nlow = {}\nhigh = {}\nunit = "{}"\nreason = "r"\n'
    )

    path = study_folder / "study.toml"
    settings = path.read_text()

    def found(*values: object) -> set[str | None]:
        path.write_text(settings + choice.format(*values))
        return {p.column for p in check_folder(study_folder)}

    assert found(0.95, 0.9, 1.0, "lb/ft3") == {"choices.body_density.unit"}
    assert found(950, 900, 1000, "kg/L") == {
        "choices.body_density.low",
        "choices.body_density.high",
    }
    assert found(950, 900, 1000, "kg/m3") == set()
    assert found(0.95, 1.0, 0.9, "kg/L") == {"choices.body_density"}


def test_a_folder_without_settings_is_told_so(tmp_path: Path) -> None:
    assert places(check_folder(tmp_path)) == {("study.toml", None, None)}


def test_tables_with_unsaved_edits_are_checked_as_they_stand(study_folder: Path) -> None:
    raw = read_tables(study_folder)
    settings, _ = read_settings(study_folder)
    bodies = raw["bodies"]
    edited = bodies.with_rows((*bodies.rows, ("v-4", "maquette", "mean", "4", "x", "mL", "")))
    problems = check_tables(raw.with_table(edited), settings, study_folder)
    assert places(problems) == {("tables/bodies.csv", 5, "measurementValue")}
