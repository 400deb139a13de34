"""The command line as a person meets it: exit codes, no tracebacks, plain help."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bonewright.cli import app
from bonewright.errors import OutsideRange
from bonewright.study.blank import new_study

DEMO = Path(__file__).parents[2] / "demo"


def bonewright(*arguments: object) -> "subprocess.CompletedProcess[str]":
    start = "from bonewright.cli import main; main()"
    command = [sys.executable, "-c", start, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 (ours)
    assert "Traceback" not in done.stderr + done.stdout
    return done


@pytest.fixture
def blank(tmp_path: Path) -> Path:
    folder = tmp_path / "study"
    new_study(folder)
    return folder


@pytest.fixture(scope="module")
def bones_only(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a study of nothing but the demo's bones and their measurements."""
    folder = tmp_path_factory.mktemp("bones") / "study"
    new_study(folder)
    for name in ("sources", "specimens", "measurements"):
        shutil.copy(DEMO / "tables" / f"{name}.csv", folder / "tables")
    return folder


def test_a_blank_study_is_made_once_and_has_no_problem(tmp_path: Path) -> None:
    folder = tmp_path / "rail"
    assert bonewright("new", folder).returncode == 0
    again = bonewright("new", folder)
    assert again.returncode == 1
    assert "nothing is ever written over" in again.stderr
    checked = bonewright("check", folder)
    assert checked.returncode == 0
    assert "No problems found." in checked.stdout


@pytest.mark.parametrize("command", ["check", "report"])
def test_a_folder_that_is_not_there_is_named_as_typed(tmp_path: Path, command: str) -> None:
    done = bonewright(command, tmp_path / "NOSUCH")
    assert done.returncode == 1
    assert str(tmp_path / "NOSUCH") in done.stderr
    assert "no such folder" in done.stderr


def test_a_file_given_for_a_folder_is_told_with_its_folder(blank: Path) -> None:
    done = bonewright("check", blank / "study.toml")
    assert done.returncode == 1
    assert f"Give the folder that holds it: {blank}" in done.stderr


@pytest.mark.parametrize("command", ["check", "run"])
def test_a_study_with_problems_ends_with_1_and_names_the_place(blank: Path, command: str) -> None:
    (blank / "tables" / "measurements.csv").write_bytes(b"")
    done = bonewright(command, blank)
    assert done.returncode == 1
    assert "tables/measurements.csv" in done.stderr
    assert done.stderr.endswith("1 problem found.\n")
    assert done.stdout == ""


@pytest.mark.parametrize(
    "arguments",
    [("chek", "demo"), ("run",), ("run", "demo", "--jsn"), ("open", "demo", "--port", "x")],
)
def test_wrong_usage_ends_with_2(arguments: tuple[str, ...]) -> None:
    assert bonewright(*arguments).returncode == 2


def test_a_study_of_bones_alone_gives_lengths_and_each_missing_thing_once(
    bones_only: Path,
) -> None:
    done = bonewright("run", bones_only)
    assert done.returncode == 0
    assert "femur: about" in done.stdout
    assert "earlier steps" not in done.stdout
    beginning = done.stdout.index("Not said yet")
    missing = [
        line.strip().split(": ", 1)
        for line in done.stdout[beginning:].splitlines()[1:]
        if line.startswith("  ")
    ]
    assert len({what for what, _ in missing}) == len(missing) == 3
    for table in ("relatives.csv", "sections.csv", "pictures.csv"):
        assert done.stdout.count(table) == 1, table
    assert "cannot be said yet" not in done.stdout


def test_json_is_one_sound_document_without_nan(bones_only: Path) -> None:
    def refuse(word: str) -> None:
        raise ValueError(word)

    done = bonewright("run", bones_only, "--json")
    assert done.returncode == 0
    document = json.loads(done.stdout, parse_constant=refuse)
    assert document["findings"]
    assert {gap["step"] for gap in document["unanswered"]} >= {"relatives", "sections"}


def test_bones_without_any_measurement_are_remarked_on(bones_only: Path, tmp_path: Path) -> None:
    folder = tmp_path / "study"
    shutil.copytree(bones_only, folder)
    (folder / "tables" / "measurements.csv").unlink()
    done = bonewright("check", folder)
    assert done.returncode == 0
    assert "No bone is measured" in done.stdout


def test_help_speaks_of_folders_and_not_of_types() -> None:
    first = CliRunner().invoke(app, ["--help"])
    assert first.exit_code == 0
    for command in ("new", "check", "run", "report", "open", "trace", "cut"):
        assert f"  {command} " in first.stdout
        page = CliRunner().invoke(app, [command, "--help"])
        assert page.exit_code == 0
        assert "FOLDER" in page.stdout
        assert not any(mark in page.stdout for mark in ("<", "{"))


def test_the_commands_load_no_heavy_library_before_they_need_it() -> None:
    code = (
        "import sys, bonewright.cli;"
        "heavy = {'scipy', 'altair', 'fastapi', 'numba', 'pint', 'numpy', 'pandas', 'shapely'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True)  # noqa: S603 (ours)
    assert done.stdout.strip() == "[]"


def test_a_check_card_without_values_is_refused_in_words(blank: Path, tmp_path: Path) -> None:
    card = tmp_path / "card.csv"
    card.write_text("modelMeasure,measurementValue\nleft hip to left knee,\n", encoding="utf-8")
    done = bonewright("check-model", blank, card)
    assert done.returncode == 1
    assert "nothing was measured yet" in done.stderr
    assert "measurementValue" in done.stderr


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("--scale", "huge"),
        ("--state", "plump"),
        ("--layer", "fur"),
        ("--paper", "B5"),
        ("--bed", "220x220"),
        ("--fill", "straw"),
    ],
)
def test_a_pack_that_cannot_be_built_is_refused_with_what_to_choose(
    blank: Path, option: str, words: str
) -> None:
    done = CliRunner().invoke(app, ["pack", str(blank), option, words])
    assert isinstance(done.exception, OutsideRange)
    assert words in done.exception.message
    assert done.exception.remedy


def test_a_study_without_a_body_gets_no_pack_and_hears_why(blank: Path) -> None:
    done = bonewright("pack", blank)
    assert done.returncode == 1
    assert "no grown body" in done.stderr
    assert not list((blank / "results").glob("workshop*"))
