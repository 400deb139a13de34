"""The data package, judged by the frictionless library."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import frictionless
import pytest

from bonewright.study.blank import new_study
from bonewright.study.package import data_package, write_data_package
from bonewright.study.read import read_tables
from bonewright.study.save import save_table

DEMO = Path(__file__).parents[2] / "demo"
Writer = Callable[..., Path]


def judge(folder: Path) -> list[str]:
    report = frictionless.validate(str(write_data_package(folder)))
    errors = [*report.errors, *(error for task in report.tasks for error in task.errors)]
    return [error.message for error in errors]


def test_frictionless_finds_a_sound_study_sound(study_folder: Path) -> None:
    assert judge(study_folder) == []


def test_frictionless_finds_a_blank_study_sound(tmp_path: Path) -> None:
    new_study(tmp_path / "study")
    assert judge(tmp_path / "study") == []


def test_frictionless_finds_the_demo_study_sound(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    assert judge(folder) == []
    assert len(data_package(folder)["resources"]) == len(list((folder / "tables").iterdir()))


def test_frictionless_reads_semicolons_and_decimal_commas_by_the_description(
    study_folder: Path, write_table: Writer
) -> None:
    rows = [["measurementID", "materialEntityID", "measurementType", "measurementValue"]]
    rows[0].append("measurementUnit")
    rows.append(["m-3", "bone-1", "GL", "170,5", "mm"])
    write_table(study_folder, "measurements", rows, delimiter=";", encoding="utf-8-sig")
    assert judge(study_folder) == []
    package = frictionless.Package(str(study_folder / "datapackage.json"))
    (row,) = package.get_resource("measurements").read_rows()
    assert float(row["measurementValue"]) == 170.5


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        ("measurements", "170.5", "x"),
        ("measurements", "170.5", "-1"),
        ("measurements", "bone-1", "bone-9"),
        ("measurements", "m-2", "m-1"),
        ("specimens", "sternum", "breastbone"),
        ("pictures", "1660-03", "March 1660"),
        ("sources", "own measuring", ""),
    ],
)
def test_frictionless_finds_what_is_wrong_by_the_description_alone(
    study_folder: Path, table: str, old: str, new: str
) -> None:
    path = study_folder / "tables" / f"{table}.csv"
    path.write_text(path.read_text().replace(old, new))
    assert judge(study_folder)


def test_saving_a_table_brings_the_description_up_to_date(study_folder: Path) -> None:
    table = read_tables(study_folder)["sources"]
    save_table(study_folder, table)
    descriptor = json.loads((study_folder / "datapackage.json").read_text(encoding="utf-8"))
    assert descriptor == data_package(study_folder)
    assert descriptor["description"].startswith("Invented")
