"""A filled-in check card taken into the study: its measured rows, and no others."""

import re
from pathlib import Path
from typing import Final

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.study.check import check_tables
from bonewright.study.merging import Merged, merge_rows, planned_merge
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.sheet_files import read_sheets
from bonewright.study.snapshot import read_snapshot

__all__ = ["take_check_card"]

_TABLE: Final = "model_measurements"
# A decimal comma; three digits after it could be thousands, and stay for the check to refuse.
_COMMA: Final = re.compile(r"-?[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})")


def take_check_card(folder: Path, file: Path) -> Merged:
    """Add the rows of a check card that were measured to ``model_measurements``.

    Rows whose value is empty are passed over; a row that stands in the study already is
    neither doubled nor changed.

    Parameters
    ----------
    file : Path
        The card as CSV or workbook, its columns as they were written.

    Raises
    ------
    BonewrightError
        If the file is no check card, or nothing was filled in.
    StudyProblems
        If a row is wrong; nothing is saved then.
    """
    rows = [
        dict(zip(sheet.header, _read(row), strict=True))
        for sheet in read_sheets(file)
        if {"modelMeasure", "measurementValue"} <= set(sheet.header)
        for row in sheet.rows
    ]
    if not rows:
        raise BonewrightError(
            f"{file.name} is no check card.",
            remedy="Take the check-card file of a workshop pack, and leave its first row as it is.",
        )
    known = {column.name for column in TABLE_BY_NAME[_TABLE].columns}
    measured = [
        {column: cell for column, cell in row.items() if column in known}
        for row in rows
        if row["measurementValue"].strip()
    ]
    if not measured:
        raise BonewrightError(
            f"{file.name} holds no value: nothing was measured yet.",
            remedy="Fill in the column measurementValue.",
        )
    snapshot = read_snapshot(folder)
    planned, _ = planned_merge(snapshot.raw, {_TABLE: measured})
    raw = snapshot.raw
    for table in planned:
        raw = raw.with_table(table)
    wrong = tuple(
        problem
        for problem in check_tables(raw, snapshot.settings, folder)
        if problem.file == raw[_TABLE].file
    )
    if wrong:
        raise StudyProblems(wrong)
    return merge_rows(folder, {_TABLE: measured}, what=f"Check card {file.name}")


def _read(row: tuple[str, ...]) -> list[str]:
    return [cell.replace(",", ".") if _COMMA.fullmatch(cell.strip()) else cell for cell in row]
