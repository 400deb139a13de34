"""Save tables so that nothing is lost: not on a crash, not by overwriting a colleague.

Tables saved together are one step of the study's history: all of them or none. If a file
on disk is no longer the one that was read, nothing is written.
"""

import contextlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.history.journal import By
from bonewright.study.history.record import ChangedOnDisk, History
from bonewright.study.package import write_data_package
from bonewright.study.raw import RawTable, content_hash
from bonewright.study.within import stands_within

__all__ = ["ChangedOnDisk", "commit_tables", "csv_bytes", "save_table", "save_tables"]


def save_table(
    folder: Path, table: RawTable, *, what: str | None = None, by: By = "library"
) -> RawTable:
    """Save a table in the study's ``tables`` folder, in its own delimiter and line endings.

    Parameters
    ----------
    folder : Path
        The study folder.
    table : RawTable
        Its ``content_hash`` is that of the version it was read from, None for a new file.
    what, by : str
        For the history: the step in one sentence, and from where it was made.

    Returns
    -------
    RawTable
        The table as saved, with its new content hash and row numbers.

    Raises
    ------
    ChangedOnDisk
        If the file on disk is not the version the table was read from.
    NotSaved
        If the disk does not take it; the file is as it was.
    BonewrightError
        If the table stands in a workbook, could not be read, or holds a formula.
    """
    (saved,) = save_tables(folder, [table], what=what or f"Saved {table.name}", by=by)
    return saved


def save_tables(
    folder: Path,
    tables: Sequence[RawTable],
    *,
    what: str,
    by: By,
    beside: Mapping[str, bytes] | None = None,
) -> tuple[RawTable, ...]:
    """Save several tables, and files beside them, as one step; see :func:`save_table`.

    Parameters
    ----------
    folder : Path
    tables : sequence of RawTable
    what, by : str
    beside : mapping, optional
        Other files of the step by their path in the study, such as outlines; they are put
        in place before the tables that name them.
    """
    saved = commit_tables(History(folder), tables, what=what, by=by, beside=beside)
    # The description is made from the tables and is made again with the next save.
    with contextlib.suppress(OSError):
        write_data_package(folder)
    return saved


def commit_tables(
    history: History,
    tables: Sequence[RawTable],
    *,
    what: str,
    by: By,
    beside: Mapping[str, bytes] | None = None,
) -> tuple[RawTable, ...]:
    """Save tables as :func:`save_tables` does, without describing the package anew."""
    contents: dict[str, bytes | None] = dict(beside or {})
    expected: dict[str, str | None] = {}
    saved = []
    for table in tables:
        _refuse_unsavable(history.folder, table)
        content = csv_bytes(table)
        contents[table.file] = content
        expected[table.file] = table.content_hash
        kept = table.with_rows(
            tuple(row for row in table.rows if any(cell.strip() for cell in row))
        )
        saved.append(replace(kept, content_hash=content_hash(content)))
    history.commit(contents, what=what, by=by, expected=expected)
    return tuple(saved)


def _refuse_unsavable(folder: Path, table: RawTable) -> None:
    if table.in_workbook:
        raise BonewrightError(
            f"The table {table.name} stands in a workbook ({table.file}).",
            remedy="Edit it in the spreadsheet, or save the sheet as"
            f" tables/{table.name}.csv and delete it from the workbook.",
        )
    if table.problems:
        raise BonewrightError(
            f"{table.file} could not be read, so it cannot be saved over.",
            remedy=table.problems[0].mend,
        )
    if not stands_within(folder / table.file, folder):
        raise BonewrightError(
            f"{table.file} is a link to a place outside the study folder.",
            remedy="Copy the file itself into the tables folder.",
        )
    for number, row in zip(table.row_numbers, table.rows, strict=True):
        for name, cell in zip(table.header, row, strict=False):
            if cell.lstrip().startswith("="):
                raise BonewrightError(
                    f"{table.file}, row {number}, column {name} holds a formula.",
                    remedy="Write its value instead, then save again.",
                )


def csv_bytes(table: RawTable) -> bytes:
    """Return a table as the bytes of its CSV file; rows without any text are left out."""
    delimiter, ending = table.dialect.delimiter, table.dialect.line_ending
    lines = [table.header, *(row for row in table.rows if any(cell.strip() for cell in row))]
    edge = re.escape(delimiter)
    # Whether any cell of a line must be quoted, for all its cells at once.
    quoted = re.compile(rf'["\n\r]|(?:^|{edge})[=+@\s]|\s(?:{edge}|$)')
    text = "".join(_line(cells, delimiter, quoted) + ending for cells in lines)
    return text.encode("utf-8-sig" if table.dialect.byte_order_mark else "utf-8")


def _line(cells: Sequence[str], delimiter: str, quoted: re.Pattern[str]) -> str:
    line = delimiter.join(cells)
    if line.count(delimiter) == len(cells) - 1 and not quoted.search(line):
        return line
    return delimiter.join(_cell(cell, delimiter) for cell in cells)


def _cell(text: str, delimiter: str) -> str:
    # A cell that begins as a formula does is quoted, so that it is text wherever quoting counts.
    risky = text.startswith(("=", "+", "@")) or text != text.strip()
    if risky or any(sign in text for sign in (delimiter, '"', "\n", "\r")):
        return '"' + text.replace('"', '""') + '"'
    return text
