"""The workshop's tables are checked, replace the program's rows, and say what is wrong."""

import csv
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.study.check_cards import take_check_card
from bonewright.study.load import load_study
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.workshop_defaults import BUILD_LIMITS, FEATHER_TRACTS, STOCK
from bonewright.workshop.build_rules import build_rules
from bonewright.workshop.check_card import _COLUMNS

BAR = {
    "stockID": "my bar",
    "stockForm": "bar",
    "stockMaterial": "brass",
    "diameter": "4",
    "stockLength": "1000",
    "density": "8.5",
    "elasticModulus": "100",
    "yieldStrength": "150",
}
LIMIT = {"limit": "tilt (degrees)", "limitValue": "15", "reason": "the gallery's rule"}
CLAY = {
    "buildMaterial": "our clay",
    "buildUse": "clay",
    "density": "1.6",
    "densityLow": "1.5",
    "densityHigh": "1.7",
    "wastePercent": "3",
    "packAmount": "10",
}
TRACT = {
    "segmentID": "trunk",
    "tract": "body",
    "feathersPerArea": "3",
    "feathersLow": "2",
    "feathersHigh": "4",
    "lengthOverDepth": "2",
}
MODEL = {
    "measurementID": "mm-01",
    "modelID": "model-1",
    "modelMeasure": "left hip to left knee",
    "bodyState": "mean",
    "modelLayer": "naked",
    "scaleDenominator": "4",
    "measurementValue": "4.1",
    "measurementUnit": "cm",
}


def write(folder: Path, table: str, *rows: dict[str, str]) -> None:
    header = [column.name for column in TABLE_BY_NAME[table].columns]
    with (folder / "tables" / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, header)
        writer.writeheader()
        writer.writerows(rows)


def test_without_rows_the_programs_own_are_used(study_folder: Path) -> None:
    rules = build_rules(load_study(study_folder))
    assert rules.stock == STOCK
    assert rules.limit("tilt (degrees)") == 10.0
    assert set(rules.tracts) == {tract.segment for tract in FEATHER_TRACTS}


def test_own_rows_stand_in_for_the_programs(study_folder: Path) -> None:
    write(study_folder, "stock", BAR)
    write(study_folder, "build_limits", LIMIT)
    write(study_folder, "build_materials", CLAY)
    write(study_folder, "feather_tracts", TRACT)
    rules = build_rules(load_study(study_folder))
    assert [item.stock_id for item in rules.stock] == ["my bar"]
    assert rules.stock[0].elastic_modulus_mpa == 100_000.0
    assert rules.limit("tilt (degrees)") == 15.0
    assert len(rules.limits) == len(BUILD_LIMITS)
    assert rules.material("clay").density_kg_m3 == pytest.approx(1600.0)
    assert rules.material("resin").material == "casting resin, unfilled"
    assert rules.tracts["trunk"].per_cm2 == 3.0
    assert "build_limits.csv" in rules.limits["tilt (degrees)"].ref.words()


def test_a_model_measured_in_cm_is_read_in_mm(study_folder: Path) -> None:
    write(study_folder, "model_measurements", MODEL)
    (row,) = load_study(study_folder).model_measurements
    assert row.value_mm == pytest.approx(41.0)


def test_the_check_card_has_the_columns_of_the_table_it_is_entered_in() -> None:
    names = [column.name for column in TABLE_BY_NAME["model_measurements"].columns]
    assert list(_COLUMNS) == names


@pytest.mark.parametrize(
    ("table", "row", "column", "found"),
    [
        ("stock", BAR | {"stockForm": "tube"}, "wallThickness", ""),
        ("stock", BAR | {"wallThickness": "1"}, "wallThickness", "1"),
        ("stock", BAR | {"stockForm": "tube", "wallThickness": "2"}, "wallThickness", "2"),
        ("stock", BAR | {"diameter": "-4"}, "diameter", "-4"),
        ("build_limits", LIMIT | {"limit": "tilt"}, "limit", "tilt"),
        ("build_limits", LIMIT | {"reason": ""}, "reason", ""),
        ("build_materials", CLAY | {"density": "1.8"}, "density", "1.8"),
        ("build_materials", CLAY | {"buildUse": "mud"}, "buildUse", "mud"),
        ("feather_tracts", TRACT | {"segmentID": "trunc"}, "segmentID", "trunc"),
        ("feather_tracts", TRACT | {"feathersPerArea": "5"}, "feathersPerArea", "5"),
        ("model_measurements", MODEL | {"measurementUnit": "kg"}, "measurementUnit", "kg"),
        ("model_measurements", MODEL | {"scaleDenominator": "0"}, "scaleDenominator", "0"),
    ],
)
def test_a_wrong_cell_is_named_with_its_mending(
    study_folder: Path, table: str, row: dict[str, str], column: str, found: str
) -> None:
    write(study_folder, table, row)
    with pytest.raises(StudyProblems) as raised:
        load_study(study_folder)
    (problem,) = raised.value.problems
    assert (problem.file, problem.column) == (f"tables/{table}.csv", column)
    assert found in problem.found
    assert problem.mend


def card(path: Path, *values: str, comma: bool = False) -> Path:
    rows = [
        MODEL | {"measurementID": f"m-{n:02d}", "measurementValue": value}
        for n, value in enumerate(values, start=1)
    ]
    with path.open("w", newline="", encoding="utf-8-sig") as file:
        writer = csv.DictWriter(file, list(MODEL), delimiter=";" if comma else ",")
        writer.writeheader()
        writer.writerows(rows)
    return path


def test_a_filled_in_card_brings_its_measured_rows_and_no_others(
    study_folder: Path, tmp_path: Path
) -> None:
    file = card(tmp_path / "card.csv", "4.1", "", "4.2")
    assert take_check_card(study_folder, file).added == {"model_measurements": 2}
    assert [row.value_mm for row in load_study(study_folder).model_measurements] == [41.0, 42.0]
    again = take_check_card(study_folder, file)
    assert (again.added, again.known) == ({"model_measurements": 0}, {"model_measurements": 2})


def test_a_card_with_decimal_commas_is_read(study_folder: Path, tmp_path: Path) -> None:
    take_check_card(study_folder, card(tmp_path / "card.csv", "4,15", comma=True))
    (row,) = load_study(study_folder).model_measurements
    assert row.value_mm == pytest.approx(41.5)


def test_a_card_with_a_wrong_value_changes_nothing(study_folder: Path, tmp_path: Path) -> None:
    with pytest.raises(StudyProblems):
        take_check_card(study_folder, card(tmp_path / "card.csv", "4.1", "long"))
    assert load_study(study_folder).model_measurements == ()


@pytest.mark.parametrize("text", ["a,b\n1,2\n", "modelMeasure,measurementValue\nhip,\n"])
def test_what_is_no_filled_in_card_is_refused(
    study_folder: Path, tmp_path: Path, text: str
) -> None:
    file = tmp_path / "other.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BonewrightError):
        take_check_card(study_folder, file)
