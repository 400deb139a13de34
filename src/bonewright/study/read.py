"""Read a study's tables as text, before anything is believed.

A table stands in ``tables/NAME.csv`` (comma, semicolon or tab; UTF-8 with or without a
byte-order mark) or as a sheet of that name in a workbook in ``tables/``. A table that is
not there is empty, which is no error. What cannot be read at all is told as a problem of
that table; what can be read is kept exactly as written, so that saving loses nothing.
"""

from dataclasses import replace
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.csv_file import parse_csv
from bonewright.study.raw import Dialect, RawTable, RawTables, empty_table, whole_file
from bonewright.study.schemas import TABLE_BY_NAME, TABLES
from bonewright.study.spelling import nearest, shown

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
    seen: dict[str, str] = {}
    problems: list[Problem] = []
    tables_folder = folder / "tables"
    paths = sorted(tables_folder.iterdir()) if tables_folder.is_dir() else []
    for path in paths:
        if path.name.startswith((".", "~$")) or path.suffix.lower() in _NOT_A_TABLE:
            continue
        found, wrong = _read_file(folder, path)
        problems.extend(wrong)
        for table in found:
            if table.name in seen:
                problems.append(_twice(table, seen[table.name]))
                continue
            seen[table.name] = table.file
            tables[table.name] = table
    return RawTables(tables=tables, problems=tuple(problems))


def _read_file(folder: Path, path: Path) -> tuple[list[RawTable], list[Problem]]:
    file = f"tables/{path.name}"
    suffix = path.suffix.lower()
    if suffix in _WORKBOOKS:
        problem = unreadable(folder, path, file)
        if problem:
            return [], [problem]
        from bonewright.study.workbooks import read_workbook

        return read_workbook(path, file)
    if suffix != ".csv" or path.stem not in TABLE_BY_NAME:
        return [], [_stray_file(path, file)]
    problem = unreadable(folder, path, file)
    if problem:
        return [replace(empty_table(path.stem), problems=(problem,))], []
    return [parse_csv(path.stem, path.read_bytes(), file=file)], []


def unreadable(
    folder: Path, path: Path, file: str, *, largest_bytes: int = LARGEST_FILE_BYTES
) -> Problem | None:
    """Say why a file of the study must not be opened, if it must not."""
    if not path.resolve().is_relative_to(folder.resolve()):
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
    return None


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


def _twice(table: RawTable, first: str) -> Problem:
    return whole_file(
        table.file,
        found=f"the table '{table.name}' a second time",
        expected=f"each table once (it is in {first} already)",
        mend="Keep the one that is right and move the other out of the tables folder.",
    )
