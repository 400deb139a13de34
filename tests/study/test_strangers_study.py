"""A study folder made by a stranger makes the program read and write nothing elsewhere."""

import gzip
import json
import os
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError, Problem
from bonewright.report.kept_runs import kept_runs
from bonewright.study.file_intake import place_file
from bonewright.study.history import History
from bonewright.study.history.versions import Versions
from bonewright.study.import_memory import remembered
from bonewright.study.load import check_folder
from bonewright.study.raw import content_hash
from bonewright.study.read import read_tables
from bonewright.study.save import save_table
from bonewright.study.within import results_place

HARM = b"export PATH=/harm\n"


@pytest.fixture
def outside(study_folder: Path) -> Path:
    """Something of the person's own, beside the study, that is to stay as it is."""
    place = study_folder.parent / "of the person"
    place.mkdir()
    (place / "notes.csv").write_text("mine", encoding="utf-8")
    return place


def untouched(outside: Path) -> bool:
    files = [path for path in outside.rglob("*") if path.is_file()]
    return files == [outside / "notes.csv"] and files[0].read_text(encoding="utf-8") == "mine"


def decided(folder: Path, *files: tuple[str, bytes | None]) -> None:
    """Leave a step in the study that seems to have been decided and not finished."""
    changes = []
    for path, content in files:
        mark = None
        if content is not None:
            mark = content_hash(content)
            kept = folder / "history" / "versions" / path / f"{mark}{Path(path).suffix}"
            kept.resolve().parent.mkdir(parents=True, exist_ok=True)
            kept.write_bytes(content)
        changes.append({"path": path, "before": None, "after": mark})
    step = {"step": 1, "when": "2026-05-01T10:00:00+00:00", "by": "page", "what": "x"}
    (folder / "history").mkdir(exist_ok=True)
    (folder / "history" / "pending.json").write_text(
        json.dumps({**step, "files": changes}) + "\n", encoding="utf-8"
    )


@pytest.mark.parametrize(
    "name",
    [
        "../of the person/notes.csv",
        "tables/../../of the person/notes.csv",
        "files/x/../../../of the person/notes.csv",
        "{outside}/notes.csv",
        "history/journal.jsonl",
        "results/report.html",
        "tables",
        "files/",
    ],
)
@pytest.mark.parametrize("content", [HARM, None])
def test_a_step_left_unfinished_writes_and_removes_nothing_but_files_of_the_study(
    study_folder: Path, outside: Path, name: str, content: bytes | None
) -> None:
    name = name.format(outside=outside)
    if content is None:
        decided(study_folder, (name, None))
    else:
        decided(study_folder, ("tables/notes.csv", content))
        pending = study_folder / "history" / "pending.json"
        text = pending.read_text(encoding="utf-8")
        pending.write_text(text.replace("tables/notes.csv", name), encoding="utf-8")
    check_folder(study_folder)
    History(study_folder).settle()
    assert untouched(outside)
    assert not (study_folder / "results").exists()
    assert (study_folder / "history" / "unreadable-pending.json").is_file()


@pytest.mark.parametrize("folder", ["tables", "files"])
def test_a_step_left_unfinished_goes_through_no_link(
    study_folder: Path, outside: Path, folder: str
) -> None:
    decided(study_folder, (f"{folder}/deep/notes.csv", HARM))
    (study_folder / folder / "deep").symlink_to(outside, target_is_directory=True)
    with pytest.raises(BonewrightError) as refused:
        History(study_folder).settle()
    assert "link" in refused.value.message
    assert untouched(outside)


def test_a_journal_that_names_other_places_is_told_of_and_not_followed(
    study_folder: Path, outside: Path
) -> None:
    History(study_folder).notice()
    journal = study_folder / "history" / "journal.jsonl"
    mark = content_hash(HARM)
    bad = [
        ("../of the person/notes.csv", mark),
        ("tables/specimens.csv", "../../../of the person/notes"),
        ("tables/specimens.csv", "size:x"),
    ]
    with journal.open("a", encoding="utf-8") as file:
        for number, (path, after) in enumerate(bad, start=2):
            changes = [{"path": path, "before": None, "after": after}]
            step = {"step": number, "when": "2026-05-01T10:00:00+00:00", "by": "page", "what": "x"}
            file.write(json.dumps({**step, "files": changes}) + "\n")
        file.write("[" * 100_000 + "\n")
    history = History(study_folder)
    assert len(history.steps()) == 1
    assert history.damaged_lines() == (2, 3, 4, 5)
    with pytest.raises(BonewrightError):
        history.restore(2, by="page")
    assert untouched(outside)


@pytest.mark.parametrize("link", ["history", "history/lock", "results", "results/runs"])
def test_links_in_place_of_the_programs_own_folders_are_not_written_through(
    study_folder: Path, outside: Path, link: str
) -> None:
    place = study_folder / link
    place.parent.mkdir(exist_ok=True)
    place.symlink_to(outside / "notes.csv" if link == "history/lock" else outside)
    table = read_tables(study_folder)["sources"]
    if link.startswith("history"):
        with pytest.raises(BonewrightError):
            save_table(study_folder, table.with_rows(table.rows[:1]), what="x", by="page")
    else:
        with pytest.raises(BonewrightError):
            results_place(study_folder, "runs", "store")
    assert kept_runs(study_folder) == ()
    assert untouched(outside)


def test_a_file_that_comes_in_goes_through_no_link(study_folder: Path, outside: Path) -> None:
    (study_folder / "files" / "pictures").symlink_to(outside, target_is_directory=True)
    arrived = study_folder / "plate.png"
    arrived.write_bytes(b"a picture")
    with pytest.raises(BonewrightError):
        place_file(arrived, study_folder, place="pictures", name="plate.png", checksum="0" * 64)
    assert untouched(outside)


def test_a_version_that_unpacks_without_end_is_told_of(tmp_path: Path) -> None:
    mark = "0" * 64
    place = tmp_path / "tables" / "specimens.csv"
    place.mkdir(parents=True)
    (place / f"{mark}.csv.gz").write_bytes(gzip.compress(bytes(300 << 20), compresslevel=9))
    with pytest.raises(BonewrightError) as told:
        Versions(tmp_path).content("tables/specimens.csv", mark)
    assert "gone or was changed" in told.value.message


@pytest.mark.parametrize(
    "kept", ["[]", '"x"', "null", "[" * 100_000, '{"run": "a", "inputs": {"../../x": "m"}}', "{}"]
)
def test_a_kept_run_that_is_none_is_not_listed(study_folder: Path, kept: str) -> None:
    runs = study_folder / "results" / "runs"
    runs.mkdir(parents=True)
    (runs / "a.json").write_text(kept, encoding="utf-8")
    assert kept_runs(study_folder) == ()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are of Unix")
@pytest.mark.parametrize("name", ["study.toml", "tables/sources.csv", "files/relatives.nwk"])
def test_a_pipe_in_place_of_a_file_is_named_and_not_waited_for(
    study_folder: Path, name: str
) -> None:
    (study_folder / name).unlink()
    os.mkfifo(study_folder / name)
    said = [problem.sentence() for problem in check_folder(study_folder)]
    assert any(name.removeprefix("files/") in sentence for sentence in said)


@pytest.mark.parametrize(
    "line",
    [
        "deep = " + "[" * 50_000 + "]" * 50_000,
        "a" + ".a" * 20_000 + " = 1",
        "[draws]\ncount = 999999999999999999999\nseed = 1",
        "[draws]\ncount = 1e400\nseed = 1",
        "[draws]\ncount = 5000\nseed = " + "9" * 5000,
        '[tree]\nfile = "../of the person/notes.csv"',
        '[tree]\nfile = "/etc/passwd"',
        '[tree]\nfile = "\\u0000"',
        "x = 1\n" * 3,
    ],
)
def test_settings_that_are_deep_huge_or_point_elsewhere_are_named(
    study_folder: Path, outside: Path, line: str
) -> None:
    settings = study_folder / "study.toml"
    old = settings.read_text(encoding="utf-8")
    kept = [
        part
        for part in ("[" + text for text in old.split("\n["))
        if not part.lstrip("[").startswith(("draws]", "tree]"))
    ]
    text = "\n".join(kept).removeprefix("[")
    new = f"{text}\n{line}\n" if line.startswith("[") else f"{line}\n{text}"
    settings.write_text(new, encoding="utf-8")
    problems = check_folder(study_folder)
    assert problems
    assert all(len(problem.sentence()) < 2000 for problem in problems)
    assert untouched(outside)


@pytest.mark.parametrize("text", ["x = " + "9" * 5000, "x = " + "[" * 50_000, "headers = 1"])
def test_a_memory_of_imports_that_is_none_is_named(study_folder: Path, text: str) -> None:
    (study_folder / "imports.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BonewrightError):
        remembered(study_folder)


def test_a_header_of_a_hundred_thousand_columns_is_one_problem(study_folder: Path) -> None:
    table = study_folder / "tables" / "sources.csv"
    header, rest = table.read_text(encoding="utf-8").split("\n", 1)
    table.write_text(header + ",a" * 100_000 + "\n" + rest, encoding="utf-8")
    told = [p for p in check_folder(study_folder) if p.row == 1 and p.file == "tables/sources.csv"]
    assert len(told) == 1
    assert "columns" in told[0].found


def test_a_whole_file_pasted_into_one_cell_is_not_read_out() -> None:
    long = "(" * 1_000_000
    problem = Problem(file="a", row=1, column=long, found=long, expected=long, mend=long)
    assert len(problem.sentence()) < 3000
