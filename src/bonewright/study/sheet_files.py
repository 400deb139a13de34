"""Open a museum's spreadsheet, whatever it was saved as: CSV in any common form, xlsx, ods."""

import csv
import io
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.wide_sheet import WideSheet
from bonewright.study.workbook_size import MOST_CELLS, too_large_unpacked

__all__ = ["read_sheets"]

LARGEST_BYTES = 64 * 1024 * 1024
MOST_COLUMNS = 16_384
"""As many as spreadsheets have."""
_WORKBOOKS = {".xlsx", ".xlsm", ".xls", ".ods"}


def read_sheets(path: Path) -> tuple[WideSheet, ...]:
    """Read every sheet that holds a header and at least one row.

    A CSV file may be in UTF-8 or the old Western encoding, with comma, semicolon or tab. The
    name of a CSV file's sheet is that of the file.

    Raises
    ------
    BonewrightError
        If the file cannot be read as a sheet, or holds none.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise BonewrightError(
                f"{path.name} is {size / 2**20:.0f} MB: too large for a sheet of bones.",
                remedy="Save the one sheet alone as CSV.",
            )
        tables = _workbook(path) if path.suffix.casefold() in _WORKBOOKS else _csv(path)
    except OSError as error:
        raise BonewrightError(
            f"{path} cannot be read: {error.strerror or error}.",
            remedy="Look at the name of the file, and whether you may read it.",
        ) from error
    sheets = tuple(sheet for name, rows in tables if (sheet := _sheet(name, rows)) is not None)
    if not sheets:
        raise BonewrightError(
            f"{path.name} holds no sheet with a header and rows.",
            remedy="The first filled row must hold the names of the columns.",
        )
    return sheets


def _sheet(name: str, rows: list[list[str]]) -> WideSheet | None:
    filled = [
        (number, [cell.strip() for cell in row])
        for number, row in enumerate(rows, start=1)
        if any(cell.strip() for cell in row)
    ]
    # A title above the header fills fewer cells than the header does.
    widest = max((sum(map(bool, row)) for _, row in filled), default=0)
    while filled and sum(map(bool, filled[0][1])) < min(widest, 2):
        filled = filled[1:]
    if len(filled) < 2:
        return None
    header = filled[0][1]
    width = max(len(row) for _, row in filled)
    header += [""] * (width - len(header))
    return WideSheet(
        name=name,
        header=tuple(_distinct(header)),
        rows=tuple(tuple(row + [""] * (width - len(row))) for _, row in filled[1:]),
        row_numbers=tuple(number for number, _ in filled[1:]),
    )


def _distinct(header: list[str]) -> list[str]:
    """Give columns without a name, or with another's, a name of their own."""
    names: dict[str, None] = {}  # a set that keeps its order
    for place, name in enumerate(header, start=1):
        wanted = name or f"column {place}"
        names[wanted if wanted not in names else f"{wanted} ({place})"] = None
    return list(names)


def _csv(path: Path) -> list[tuple[str, list[list[str]]]]:
    content = path.read_bytes()
    if b"\0" in content[:4096]:
        raise BonewrightError(
            f"{path.name} is no text file.", remedy="Save the sheet as CSV UTF-8, xlsx or ods."
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max((",", ";", "\t"), key=first.count)
    try:
        rows, widest = [], 0
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter):
            rows.append(row)
            widest = max(widest, len(row))
            # A sheet is as wide as its widest row, so one mangled row makes a grid of all.
            if widest > MOST_COLUMNS or widest * len(rows) > MOST_CELLS:
                raise BonewrightError(
                    f"{path.name} has a row of {widest:,} cells: too wide for a sheet.",
                    remedy=f"Look in a text editor at row {len(rows)} and above; a row has at most"
                    f" {MOST_COLUMNS:,} cells.",
                )
    except csv.Error as error:
        raise BonewrightError(
            f"{path.name} cannot be read as rows of cells ({error}).",
            remedy="See in a text editor whether it is a table; save it anew as CSV UTF-8.",
        ) from error
    return [(path.stem, rows)]


def _workbook(path: Path) -> list[tuple[str, list[list[str]]]]:
    from python_calamine import CalamineError, CalamineWorkbook

    if found := too_large_unpacked(path):
        raise BonewrightError(
            f"{path.name} is {found}.",
            remedy="Copy the rows that count into a new workbook.",
        )
    try:
        book = CalamineWorkbook.from_path(str(path))
        return [
            (
                name,
                [
                    [_text(cell) for cell in row]
                    for row in book.get_sheet_by_name(name).to_python(skip_empty_area=False)
                ],
            )
            for name in book.sheet_names
        ]
    except (CalamineError, ValueError) as error:
        raise BonewrightError(
            f"{path.name} cannot be opened as a workbook.",
            remedy="Open it in the spreadsheet and save it again, without a password.",
        ) from error


def _text(cell: object) -> str:
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 2.0**53 else repr(cell)
    return str(cell)
