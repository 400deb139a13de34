"""Read tables from workbooks (xlsx, ods): one sheet a table, cells as text.

A number arrives with a decimal point and no more digits than it needs (12.0 as 12), a
date as year-month-day, whatever the sheet shows. A formula that failed or holds no value
arrives as its error or as itself, so that it can be told of.
"""

import datetime
from collections.abc import Mapping, Sequence
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.raw import RawTable, content_hash, title_above, whole_file
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.spelling import nearest, shown
from bonewright.study.workbook_formulas import formulas_without_value
from bonewright.study.workbook_size import too_large_unpacked

__all__ = ["read_workbook"]

_NOTES = ("notes", "guide", "read me", "readme")
_LARGEST_WHOLE = 2.0**53


def read_workbook(path: Path, file: str) -> tuple[list[RawTable], list[Problem]]:
    """Read every sheet that is named as a table.

    Parameters
    ----------
    path : Path
        The workbook.
    file : str
        Where it stands in the study, for problems.

    Returns
    -------
    tables : list of RawTable
    problems : list of Problem
        A workbook that cannot be opened, and sheets with content but no table's name;
        a sheet whose name begins with 'notes' or 'guide' is left alone.
    """
    from python_calamine import CalamineError, CalamineWorkbook

    if found := too_large_unpacked(path):
        problem = whole_file(
            file,
            found=found,
            expected="sheets no larger than their tables",
            mend="Copy the rows that count into a new workbook.",
        )
        return [], [problem]
    digest = content_hash(path.read_bytes())
    tables: list[RawTable] = []
    problems: list[Problem] = []
    try:
        workbook = CalamineWorkbook.from_path(str(path))
        sheets = [
            (name, workbook.get_sheet_by_name(name).to_python(skip_empty_area=False))
            for name in workbook.sheet_names
        ]
    except (CalamineError, OSError, ValueError):
        problem = whole_file(
            file,
            found="a workbook that cannot be opened",
            expected="a workbook in xlsx or ods",
            mend="Open it in the spreadsheet and save it again, without a password.",
        )
        return [], [problem]
    valueless = formulas_without_value(path)
    for sheet, cells in sheets:
        name = sheet.strip().casefold()
        texts = _with_formulas([_texts(row) for row in cells], valueless.get(sheet, {}))
        rows = list(enumerate(texts, start=1))
        filled = [(number, row) for number, row in rows if any(cell.strip() for cell in row)]
        if name in TABLE_BY_NAME:
            tables.append(_table(name, f"{file}, sheet {sheet}", filled, digest))
        elif filled and not name.startswith(_NOTES):
            problems.append(_stray_sheet(file, sheet))
    return tables, problems


def _table(
    name: str, file: str, filled: list[tuple[int, tuple[str, ...]]], digest: str
) -> RawTable:
    columns = tuple(column.name for column in TABLE_BY_NAME[name].columns)
    problem = title_above(filled, columns, file)
    if problem or not filled:
        problems = () if problem is None else (problem,)
        return RawTable(
            name=name, file=file, header=columns, content_hash=digest, problems=problems
        )
    header = tuple(cell.strip() for cell in filled[0][1])
    while header and not header[-1] and not any(row[len(header) - 1].strip() for _, row in filled):
        header = header[:-1]
    width = len(header)
    return RawTable(
        name=name,
        file=file,
        header=header,
        rows=tuple(row[:width] for _, row in filled[1:]),
        row_numbers=tuple(number for number, _ in filled[1:]),
        content_hash=digest,
    )


def _with_formulas(
    rows: list[tuple[str, ...]], valueless: Mapping[tuple[int, int], str]
) -> list[tuple[str, ...]]:
    """Show formulas without a value in the cells that read as empty."""
    filled = [list(row) for row in rows]
    for (row, column), text in valueless.items():
        if row < len(filled) and column < len(filled[row]) and not filled[row][column].strip():
            filled[row][column] = text
    return [tuple(row) for row in filled]


def _texts(row: Sequence[object]) -> tuple[str, ...]:
    return tuple(_text(cell) for cell in row)


def _text(cell: object) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < _LARGEST_WHOLE else repr(cell)
    if isinstance(cell, datetime.datetime):
        midnight = cell.time() == datetime.time()
        return cell.date().isoformat() if midnight else cell.isoformat(sep=" ")
    return str(cell)


def _stray_sheet(file: str, sheet: str) -> Problem:
    guess = nearest(sheet, TABLE_BY_NAME)
    mend = f"Did you mean {guess}? " if guess else ""
    return whole_file(
        file,
        found=f"a sheet named {shown(sheet)}",
        expected=f"sheets named as tables: {', '.join(TABLE_BY_NAME)}",
        mend=mend + "Rename the sheet; begin its name with 'notes' if it is no table.",
    )
