"""Save one table so that nothing is lost: not on a crash, not by overwriting a colleague.

The new version is written beside the old one, flushed to the disk and put in its place in
one step. The old version goes to ``history/`` first. If the file on disk is no longer the
one that was read, nothing is written.
"""

import contextlib
import datetime
from dataclasses import replace
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.atomic import write_atomically
from bonewright.study.package import write_data_package
from bonewright.study.raw import RawTable, content_hash

__all__ = ["ChangedOnDisk", "csv_bytes", "save_table"]


class ChangedOnDisk(BonewrightError):
    """The file was changed by someone else since it was read; nothing was written."""


def save_table(folder: Path, table: RawTable) -> RawTable:
    """Save a table in the study's ``tables`` folder, in its own delimiter and line endings.

    Parameters
    ----------
    folder : Path
        The study folder.
    table : RawTable
        Its ``content_hash`` is that of the version it was read from, None for a new file.

    Returns
    -------
    RawTable
        The table as saved, with its new content hash and row numbers.

    Raises
    ------
    ChangedOnDisk
        If the file on disk is not the version the table was read from.
    BonewrightError
        If the table stands in a workbook, could not be read, holds a formula or cannot
        be written.
    """
    _refuse_unsavable(table)
    path = folder / "tables" / f"{table.name}.csv"
    if not path.resolve().is_relative_to(folder.resolve()):
        raise BonewrightError(
            f"{table.file} is a link to a place outside the study folder.",
            remedy="Copy the file itself into the tables folder.",
        )
    content = csv_bytes(table)
    try:
        path.parent.mkdir(exist_ok=True)
        previous = path.read_bytes() if path.exists() else None
        _refuse_changed(table, previous)
        if previous is not None and previous != content:
            _keep_previous(folder, table.name, previous)
        write_atomically(path, content)
    except OSError as error:
        raise BonewrightError(
            f"{table.file} could not be saved: {error.strerror or error}.",
            remedy="The file is as it was. Make room or allow writing, then save again.",
        ) from error
    # The description is made from the tables and is made again with the next save.
    with contextlib.suppress(OSError):
        write_data_package(folder)
    saved = table.with_rows(tuple(row for row in table.rows if any(cell.strip() for cell in row)))
    return replace(saved, content_hash=content_hash(content))


def _refuse_unsavable(table: RawTable) -> None:
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
    for number, row in zip(table.row_numbers, table.rows, strict=True):
        for name, cell in zip(table.header, row, strict=False):
            if cell.lstrip().startswith("="):
                raise BonewrightError(
                    f"{table.file}, row {number}, column {name} holds a formula.",
                    remedy="Write its value instead, then save again.",
                )


def _refuse_changed(table: RawTable, previous: bytes | None) -> None:
    on_disk = None if previous is None else content_hash(previous)
    if on_disk != table.content_hash:
        raise ChangedOnDisk(
            f"{table.file} was changed on disk since it was read here.",
            remedy="Nothing was written. Read it again, compare, and make your changes once more.",
        )


def csv_bytes(table: RawTable) -> bytes:
    """Return a table as the bytes of its CSV file; rows without any text are left out."""
    delimiter, ending = table.dialect.delimiter, table.dialect.line_ending
    lines = [table.header, *(row for row in table.rows if any(cell.strip() for cell in row))]
    text = "".join(
        delimiter.join(_cell(cell, delimiter) for cell in cells) + ending for cells in lines
    )
    return text.encode("utf-8-sig" if table.dialect.byte_order_mark else "utf-8")


def _cell(text: str, delimiter: str) -> str:
    # A cell that begins as a formula does is quoted, so that it is text wherever quoting counts.
    risky = text.startswith(("=", "+", "@")) or text != text.strip()
    if risky or any(sign in text for sign in (delimiter, '"', "\n", "\r")):
        return '"' + text.replace('"', '""') + '"'
    return text


def _keep_previous(folder: Path, name: str, content: bytes) -> None:
    kept = folder / "history" / name
    kept.mkdir(parents=True, exist_ok=True)
    now = datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H-%M-%S.%fZ")
    write_atomically(kept / f"{now}.csv", content)
