"""Read a study's tables as text, before anything is believed.

A table stands in ``tables/NAME.csv`` (comma, semicolon or tab; UTF-8 with or without a
byte-order mark) or as a sheet of that name in a workbook in ``tables/``. A table that is
not there is empty, which is no error; one without rows gives way to another of its name.
What cannot be read at all is told as a problem of that table; what can be read is kept
exactly as written, so that saving loses nothing.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.csv_file import parse_csv
from bonewright.study.raw import (
    Dialect,
    RawTable,
    RawTables,
    closed_to_reading,
    empty_table,
    whole_file,
)
from bonewright.study.schemas import TABLE_BY_NAME, TABLES
from bonewright.study.spelling import listed, nearest, shown
from bonewright.study.within import stands_within

__all__ = ["LARGEST_FILE_BYTES", "Dialect", "RawTable", "RawTables", "read_tables", "unreadable"]

LARGEST_FILE_BYTES = 64 * 1024 * 1024
_WORKBOOKS = {".xlsx", ".ods"}
_NOT_A_TABLE = {".md", ".txt", ".html", ".pdf"}


def read_tables(folder: Path) -> RawTables:
    """Read every table of a study as text.

    Parameters
    ----------
    folder : Path
        The study folder. A missing ``tables`` folder reads as empty tables.
    """
    tables: dict[str, RawTable] = {table.name: empty_table(table.name) for table in TABLES}
    found: dict[str, list[RawTable]] = {}
    problems: list[Problem] = []
    try:
        tables_folder = folder / "tables"
        paths = sorted(tables_folder.iterdir()) if tables_folder.is_dir() else []
        problems += [_beside(path) for path in sorted(folder.glob("*.csv")) if _is_table(path)]
    except OSError as error:
        return RawTables(tables=tables, problems=(closed_to_reading("tables", error),))
    for path in paths:
        if path.name.startswith((".", "~$")) or path.suffix.lower() in _NOT_A_TABLE:
            continue
        file = f"tables/{path.name}"
        try:
            read, wrong = _read_file(folder, path, file)
        except OSError as error:
            problem = closed_to_reading(file, error)
            read, wrong = [], [problem]
            if _is_table(path):
                read, wrong = [replace(empty_table(path.stem), problems=(problem,))], []
        problems.extend(wrong)
        for table in read:
            found.setdefault(table.name, []).append(table)
    # A table without rows gives way, so that a blank study's files may stand by a workbook.
    filled = {name: [one for one in found[name] if one.rows or one.problems] for name in found}
    for name, all_of_it in found.items():
        tables[name] = (filled[name] or all_of_it)[0]
    problems += _twice([versions for versions in filled.values() if len(versions) > 1])
    return RawTables(tables=tables, problems=tuple(problems))


def _is_table(path: Path) -> bool:
    return path.suffix.lower() == ".csv" and path.stem in TABLE_BY_NAME


def _read_file(folder: Path, path: Path, file: str) -> tuple[list[RawTable], list[Problem]]:
    suffix = path.suffix.lower()
    if suffix in _WORKBOOKS:
        problem = unreadable(folder, path, file)
        if problem:
            return [], [problem]
        from bonewright.study.workbooks import read_workbook

        return read_workbook(path, file)
    if not _is_table(path):
        return [], [_stray_file(path, file)]
    problem = unreadable(folder, path, file)
    if problem:
        return [replace(empty_table(path.stem), problems=(problem,))], []
    return [parse_csv(path.stem, path.read_bytes(), file=file)], []


def unreadable(
    folder: Path, path: Path, file: str, *, largest_bytes: int = LARGEST_FILE_BYTES
) -> Problem | None:
    """Say why a file of the study must or can not be opened, if so."""
    if not stands_within(path, folder):
        return whole_file(
            file,
            found="a link to a place outside the study folder",
            expected="a file of the study",
            mend="Copy the file itself into the tables folder.",
        )
    if not path.is_file():
        return whole_file(
            file,
            found="something that is no file",
            expected="a table",
            mend="Move it out of the tables folder.",
        )
    size = path.stat().st_size
    if size > largest_bytes:
        small = largest_bytes == LARGEST_FILE_BYTES
        return whole_file(
            file,
            found=f"{size / 2**20:.0f} MB",
            expected=f"at most {largest_bytes / 2**20:.0f} MB",
            mend="A table of a study is small: see whether this is the right file."
            if small
            else "Thin the scan in the scanning program; half a million triangles lose nothing"
            " here.",
        )
    try:
        with path.open("rb"):
            return None
    except OSError as error:
        return closed_to_reading(file, error)


def _stray_file(path: Path, file: str) -> Problem:
    guess = nearest(path.stem, TABLE_BY_NAME)
    if path.suffix.lower() != ".csv":
        mend = "Save it from the spreadsheet as CSV UTF-8, xlsx or ods, or move it elsewhere."
    elif guess:
        mend = f"Did you mean {guess}.csv?"
    else:
        mend = "Rename it, or move it out of the tables folder."
    return whole_file(
        file,
        found=f"a file named {shown(path.name)}",
        expected=f"a table: {', '.join(f'{name}.csv' for name in TABLE_BY_NAME)}",
        mend=mend,
    )


def _beside(path: Path) -> Problem:
    return whole_file(
        path.name,
        found="a table beside the folder tables",
        expected=f"it in tables/{path.name}",
        mend="Move it into the folder tables: here it is not read.",
    )


def _twice(tables: list[list[RawTable]]) -> Iterator[Problem]:
    """Tell the tables that two files hold: one problem a pair of files, not one a table."""
    by_files: dict[tuple[str, str], list[str]] = {}
    for first, *others in tables:
        for other in others:
            pair = (_file_of(first), _file_of(other))
            if first.in_workbook != other.in_workbook:
                pair = ("", _file_of(first if first.in_workbook else other))
            by_files.setdefault(pair, []).append(first.name)
    for (first_file, other_file), names in by_files.items():
        several = len(names) > 1
        where = first_file or ("CSV files" if several else f"tables/{names[0]}.csv")
        yield whole_file(
            other_file,
            found=f"the table{'s' if several else ''} {listed(names, last='and')} a second time",
            expected=f"each table once ({'they are' if several else 'it is'} in {where} already)",
            mend="Keep what is right and move the other out of the folder tables, or delete the"
            " sheet.",
        )


def _file_of(table: RawTable) -> str:
    return table.file.split(", sheet ")[0]
