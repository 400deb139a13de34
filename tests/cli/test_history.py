"""The history at the command line: listed, opened step by step, gone back to."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from bonewright.cli import app
from bonewright.errors import BonewrightError
from bonewright.study.blank import new_study
from bonewright.study.history import History


def said(*words: object, code: int = 0) -> str:
    done = CliRunner().invoke(app, [str(word) for word in words])
    assert done.exit_code == code, done.output
    return done.output


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "study"
    new_study(folder)
    History(folder).notice()
    sheet = tmp_path / "femora.csv"
    sheet.write_text("Museum,Number,Femur GL\nHARB,1,162.5\nHARB,2,160.1\n")
    said("import", folder, sheet, "--element", "femur")
    return folder


def test_an_import_is_listed_as_one_step_and_opened_row_by_row(folder: Path) -> None:
    listed = said("history", folder)
    assert "Import of femora.csv (import)" in listed
    opened = said("history", folder, "--step", 2)
    assert "tables/specimens.csv" in opened
    assert "added" in opened


def test_the_study_goes_back_to_before_an_import_and_forth_again(folder: Path) -> None:
    rows = (folder / "tables" / "measurements.csv").read_text()
    assert "162.5" in rows
    said("restore", folder, "--to", "before 2")
    assert "162.5" not in (folder / "tables" / "measurements.csv").read_text()
    assert not (folder / "imports.toml").exists()
    said("restore", folder, "--to", "2")
    assert (folder / "tables" / "measurements.csv").read_text() == rows
    assert "nothing was changed" in said("restore", folder, "--to", "2")


def test_an_edit_by_hand_since_is_kept_before_going_back(folder: Path) -> None:
    path = folder / "tables" / "measurements.csv"
    path.write_text(path.read_text().replace("162.5", "163.5"))
    edited = path.read_text()
    said("restore", folder, "--to", "1")
    said("restore", folder, "--to", "3")
    assert path.read_text() == edited


@pytest.mark.parametrize("words", ["99", "yesterday", "before 1"])
def test_no_moment_is_refused_in_words(folder: Path, words: str) -> None:
    done = CliRunner().invoke(app, ["restore", str(folder), "--to", words])
    assert isinstance(done.exception, BonewrightError)
    assert done.exception.remedy


def test_a_folder_that_is_no_study_is_left_alone(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["history", str(tmp_path)])
    assert isinstance(done.exception, BonewrightError)
    assert not list(tmp_path.iterdir())
