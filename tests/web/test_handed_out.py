"""Versions of a table that a page may still have."""

from pathlib import Path

from bonewright.study.history import History
from bonewright.study.read import read_tables
from bonewright.web.handed_out import HandedOut
from bonewright.web.sheets import version_of


def _write(folder: Path, value: str) -> None:
    path = folder / "tables" / "measurements.csv"
    head = "measurementID,materialEntityID,measurementType,measurementValue,measurementUnit\n"
    path.write_text(f"{head}m-1,bone-1,GL,{value},mm\n", encoding="utf-8")


def test_a_version_no_longer_in_memory_is_found_in_the_history(folder: Path) -> None:
    history = History(folder)
    versions = HandedOut(history, remembered=1)
    first = ""
    for value in ("171.2", "172.2", "173.2"):
        _write(folder, value)
        history.notice()
        table = read_tables(folder)["measurements"]
        versions.hand_out(table)
        first = first or version_of(table)
    now = read_tables(folder)["measurements"]
    assert version_of(now) != first
    sheet = versions.version(now, first)
    assert sheet is not None
    assert sheet.rows[0][sheet.header.index("measurementValue")] == "171.2"
    assert sheet.numbers == (2,)


def test_what_was_never_handed_out_is_no_version(folder: Path) -> None:
    history = History(folder)
    history.notice()
    versions = HandedOut(history)
    now = read_tables(folder)["measurements"]
    for version in ("0" * 64, "", "../../study", "../specimens.csv/" + "0" * 64):
        assert versions.version(now, version) is None


def test_the_version_before_there_was_a_file_is_the_empty_table(folder: Path) -> None:
    versions = HandedOut(History(folder))
    now = read_tables(folder)["relatives"]
    sheet = versions.version(now, version_of(now))
    assert sheet is not None
    assert sheet.rows == ()
