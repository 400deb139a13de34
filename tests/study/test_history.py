"""The history: every step is kept, all or nothing, and any moment can be gone back to."""

import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.history import ChangedOnDisk, FileChange, History, Step, moment_of
from bonewright.study.history.row_changes import changes_of
from bonewright.study.history.versions import Versions
from bonewright.study.read import read_tables
from bonewright.study.save import save_table, save_tables

SPEC, MEAS = "tables/specimens.csv", "tables/measurements.csv"


def files_of(folder: Path) -> dict[str, bytes]:
    """Everything of the study but its history and what is derived."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and path.name != "datapackage.json"
        and "history" not in path.relative_to(folder).parts
    }


def edit(folder: Path, name: str, old: str, new: str) -> None:
    """Change a file by hand, as a spreadsheet does."""
    path = folder / "tables" / f"{name}.csv"
    path.write_text(path.read_text().replace(old, new))


def append(folder: Path, name: str, *rows: tuple[str, ...]) -> None:
    table = read_tables(folder)[name]
    width = len(table.header)
    longer = [row + ("",) * (width - len(row)) for row in rows]
    save_table(folder, table.with_rows((*table.rows, *longer)), what="Added rows", by="page")


def test_every_earlier_state_comes_back_byte_for_byte(study_folder: Path) -> None:
    history = History(study_folder)
    history.notice()
    states = {1: files_of(study_folder)}
    append(study_folder, "sources", ("src-02", "A letter"))
    states[2] = files_of(study_folder)
    edit(study_folder, "measurements", "170.5", "171.5")
    history.notice()
    states[3] = files_of(study_folder)
    (study_folder / "files" / "relatives.nwk").unlink()
    (study_folder / "tables" / "tissues.csv").unlink()
    history.notice()
    states[4] = files_of(study_folder)
    for number in (1, 3, 2, 4, 1):
        history.restore(number, by="page")
        assert files_of(study_folder) == states[number]
    # Going back is a step too: nothing of the way there is lost.
    assert [step.number for step in history.steps()] == list(range(1, 10))


def test_going_back_to_where_it_stands_is_no_step(study_folder: Path) -> None:
    history = History(study_folder)
    history.notice()
    assert history.restore(1, by="page").step is None
    assert len(history.steps()) == 1


def test_undo_and_redo_work_across_sessions(study_folder: Path) -> None:
    History(study_folder).notice()
    states = [files_of(study_folder)]
    for number in (2, 3, 4):
        append(study_folder, "sources", (f"src-{number:02d}", "A letter"))
        states.append(files_of(study_folder))
    for expected in (states[2], states[1], states[0]):
        History(study_folder).undo(by="page")
        assert files_of(study_folder) == expected
    with pytest.raises(BonewrightError):  # the study as found is the beginning
        History(study_folder).undo(by="page")
    for expected in states[1:]:
        History(study_folder).redo(by="page")
        assert files_of(study_folder) == expected
    with pytest.raises(BonewrightError):
        History(study_folder).redo(by="page")


def test_a_new_step_ends_redoing(study_folder: Path) -> None:
    history = History(study_folder)
    append(study_folder, "sources", ("src-02", "A letter"))
    history.undo(by="page")
    append(study_folder, "sources", ("src-03", "Another letter"))
    with pytest.raises(BonewrightError):
        history.redo(by="page")


def test_undo_of_another_step_than_the_person_saw_is_refused(study_folder: Path) -> None:
    history = History(study_folder)
    append(study_folder, "sources", ("src-02", "A letter"))
    seen = history.steps()[-1].number
    append(study_folder, "sources", ("src-03", "Another letter"))
    before = files_of(study_folder)
    with pytest.raises(ChangedOnDisk):
        history.undo(by="page", number=seen)
    assert files_of(study_folder) == before


def test_an_edit_by_hand_is_kept_before_a_save_comes_on_top(study_folder: Path) -> None:
    history = History(study_folder)
    history.notice()
    edit(study_folder, "specimens", "broken", "complete")
    append(study_folder, "sources", ("src-02", "A letter"))
    found, by_hand, saved = history.steps()
    assert (found.by, by_hand.by, saved.by) == ("as found", "by hand", "page")
    assert [change.path for change in by_hand.changes] == [SPEC]
    (change,) = changes_of(history, by_hand)
    assert (change.row_id, change.column) == ("bone-3", "preservation")
    assert (change.before, change.after) == ("broken", "complete")


def test_an_edit_of_the_same_size_and_time_is_noticed(study_folder: Path) -> None:
    history = History(study_folder)
    history.notice()
    path = study_folder / SPEC
    for before, after in (("BBB", "BBC"), ("BBC", "BBD"), ("BBD", "BBB")):
        stamp = path.stat()
        edit(study_folder, "specimens", before, after)
        os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        step = history.notice()
        assert step is not None
        assert step.by == "by hand"


def test_tables_saved_together_are_one_step_and_come_back_together(study_folder: Path) -> None:
    history = History(study_folder)
    history.notice()
    before = files_of(study_folder)
    tables = read_tables(study_folder)
    longer = [
        tables["specimens"].with_rows((*tables["specimens"].rows, ("bone-9",) + ("",) * 9)),
        tables["measurements"].with_rows((*tables["measurements"].rows, ("m-9",) + ("",) * 6)),
    ]
    save_tables(study_folder, longer, what="Import of a.csv", by="import")
    assert [change.path for change in history.steps()[-1].changes] == [SPEC, MEAS]
    history.undo(by="page")
    assert files_of(study_folder) == before


def test_if_one_table_was_changed_none_is_written(study_folder: Path) -> None:
    tables = read_tables(study_folder)
    edit(study_folder, "measurements", "170.5", "171.5")
    before = files_of(study_folder)
    with pytest.raises(ChangedOnDisk):
        save_tables(
            study_folder,
            [
                tables["specimens"].with_rows(tables["specimens"].rows[:1]),
                tables["measurements"].with_rows(tables["measurements"].rows[:1]),
            ],
            what="Import of a.csv",
            by="import",
        )
    assert files_of(study_folder) == before


def test_small_versions_are_plain_files_and_large_ones_are_packed(tmp_path: Path) -> None:
    versions = Versions(tmp_path / "versions")
    small, large = b"a,b\n1,2\n", b"a,b\n" + b"1,2\n" * 40_000
    marks = [versions.keep("tables/x.csv", content) for content in (small, large)]
    kept = sorted(path.name for path in (tmp_path / "versions" / "tables" / "x.csv").iterdir())
    assert kept == sorted([f"{marks[0]}.csv", f"{marks[1]}.csv.gz"])
    assert [versions.content("tables/x.csv", mark) for mark in marks] == [small, large]


@pytest.mark.parametrize("spoil", [Path.unlink, lambda path: path.write_bytes(b"other")])
def test_a_spoilt_version_is_told_and_nothing_is_written(
    study_folder: Path, spoil: Callable[[Path], object]
) -> None:
    history = History(study_folder)
    append(study_folder, "sources", ("src-02", "A letter"))
    change = history.steps()[-1].changes[0]
    place = study_folder / "history" / "versions" / "tables" / "sources.csv"
    spoil(place / f"{change.before}.csv")
    before = files_of(study_folder)
    with pytest.raises(BonewrightError):
        history.restore(1, by="page")
    assert files_of(study_folder) == before


def test_a_line_of_the_journal_cut_off_by_a_stop_is_no_step(study_folder: Path) -> None:
    append(study_folder, "sources", ("src-02", "A letter"))
    journal = study_folder / "history" / "journal.jsonl"
    whole = journal.read_bytes()
    journal.write_bytes(whole + whole.splitlines()[0][:40])
    assert len(History(study_folder).steps()) == 2
    append(study_folder, "sources", ("src-03", "A letter"))
    history = History(study_folder)
    assert [step.number for step in history.steps()] == [1, 2, 3]
    assert history.damaged_lines() == ()


def test_a_line_spoilt_by_hand_is_named_and_the_study_can_still_be_saved(
    study_folder: Path,
) -> None:
    append(study_folder, "sources", ("src-02", "A letter"))
    append(study_folder, "sources", ("src-03", "A letter"))
    journal = study_folder / "history" / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(lines[0] + b"{oops}\n" + lines[2])
    history = History(study_folder)
    assert history.damaged_lines() == (2,)
    append(study_folder, "sources", ("src-04", "A letter"))
    assert [step.number for step in history.steps()] == [1, 3, 4]


def test_a_journal_thrown_away_begins_anew(study_folder: Path) -> None:
    history = History(study_folder)
    append(study_folder, "sources", ("src-02", "A letter"))
    history.steps()
    (study_folder / "history" / "journal.jsonl").unlink()
    history.notice()
    (found,) = history.steps()
    assert found.by == "as found"


def test_pictures_are_noted_by_size_and_left_where_they_are(study_folder: Path) -> None:
    picture = study_folder / "files" / "a.png"
    picture.write_bytes(b"one")
    history = History(study_folder)
    history.notice()
    picture.write_bytes(b"three")
    edit(study_folder, "specimens", "broken", "complete")
    history.notice()
    restored = history.restore(1, by="page")
    assert restored.left == ("files/a.png",)
    assert picture.read_bytes() == b"three"
    assert "broken" in (study_folder / SPEC).read_text()


def test_what_a_stopped_program_laid_down_is_swept_and_not_read(study_folder: Path) -> None:
    left = study_folder / "tables" / ".specimens.csv.abc.part"
    left.write_bytes(b"half")
    History(study_folder).notice()
    assert not left.exists()


def at(number: int, moment: datetime) -> Step:
    change = FileChange(path=SPEC, before=None, after="x")
    return Step(number=number, when=moment, what="", by="page", changes=(change,))


NOON = datetime(2026, 5, 3, 12, 3, 20, tzinfo=UTC)
STEPS = [
    at(1, NOON - timedelta(days=2)),
    at(2, NOON),
    at(3, NOON + timedelta(seconds=50)),
    at(4, NOON + timedelta(days=1)),
]


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("3", 3),
        ("step 3", 3),
        ("before 3", 2),
        ("Before step 4", 3),
        ("2026-05-03", 3),
        ("before 2026-05-03", 1),
        ("3 May", 3),
        ("3 May 2026", 3),
        ("03.05.2026", 3),
        ("2026-05-03 12:03", 2),
        ("2026-05-03 12:03:20", 2),
        ("before 2026-05-03 12:03", 1),
        ("2026-05-03T14:03+02:00", 2),
        ("12:04", 4),
        ("31 December", 0),
    ],
)
def test_a_moment_is_named_by_step_day_or_time(words: str, number: int) -> None:
    now = NOON + timedelta(days=1, hours=1)
    if not number:
        with pytest.raises(BonewrightError):
            moment_of(words, STEPS, now=now)
    else:
        assert moment_of(words, STEPS, now=now) == number


@pytest.mark.parametrize("words", ["5", "before 1", "yesterday", "1999-01-01", "", "before"])
def test_words_that_name_no_moment_of_the_history_are_refused(words: str) -> None:
    with pytest.raises(BonewrightError):
        moment_of(words, STEPS, now=NOON)
