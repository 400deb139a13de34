"""A table between its file and the grid of the page.

The grid shows every column of the file and, after them, those the table could have but the
file lacks; columns that stay empty are left out again on saving. Cells beyond the last
header of a ragged row are shown under a nameless column, so that nothing is lost unseen.
"""

from collections.abc import Sequence
from dataclasses import replace

from bonewright.study.raw import RawTable
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.clash import Sheet
from bonewright.web.failures import Refusal
from bonewright.web.messages import RowMessage

__all__ = ["numbered", "sheet_of", "sheet_sent", "table_of", "version_of"]

_NO_FILE = "no file yet"


def version_of(table: RawTable) -> str:
    """Name exactly this state of the table's file."""
    return table.content_hash or _NO_FILE


def sheet_of(table: RawTable) -> Sheet:
    """Return header and rows as the grid shows them."""
    width = max([len(table.header), *(len(row) for row in table.rows)])
    lacking = tuple(
        column.name
        for column in TABLE_BY_NAME[table.name].columns
        if column.name not in table.header
    )
    header = table.header + ("",) * (width - len(table.header)) + lacking
    return Sheet(
        header=header,
        rows=tuple(row + ("",) * (len(header) - len(row)) for row in table.rows),
    )


def sheet_sent(header: Sequence[str], rows: Sequence[RowMessage]) -> Sheet:
    """Take in a sheet from the page.

    Raises
    ------
    Refusal
        If a row is not as long as the header.
    """
    if any(len(row.cells) != len(header) for row in rows):
        raise Refusal(
            422,
            "A row that was sent is not as long as the header.",
            remedy="Reload the page and try again.",
        )
    return Sheet(header=tuple(header), rows=tuple(tuple(row.cells) for row in rows))


def numbered(rows: Sequence[RowMessage]) -> tuple[int, ...]:
    """Give each row of a sheet being edited its number: as on disk, new ones after the last."""
    following = max([1, *(row.number for row in rows if row.number is not None)]) + 1
    numbers: list[int] = []
    for row in rows:
        if row.number is None:
            numbers.append(following)
            following += 1
        else:
            numbers.append(row.number)
    return tuple(numbers)


def table_of(table: RawTable, sheet: Sheet, *, numbers: tuple[int, ...] | None = None) -> RawTable:
    """Put a sheet's cells back into its table, without rows and columns that stayed empty.

    ``numbers`` are the rows' numbers while they are being edited; without them the rows
    are numbered as a saved file will number them.
    """
    n_own = len(table.header)
    filled = [
        place
        for place in range(n_own, len(sheet.header))
        if any(row[place].strip() for row in sheet.rows)
    ]
    lacking = [place for place in filled if sheet.header[place]]
    nameless = [place for place in filled if not sheet.header[place]]
    kept = [*range(n_own), *lacking, *nameless]
    header = tuple(sheet.header[place] for place in kept[: n_own + len(lacking)])
    places = [place for place, row in enumerate(sheet.rows) if any(cell.strip() for cell in row)]
    rows = tuple(
        _without_empty_end(tuple(sheet.rows[place][column] for column in kept), len(header))
        for place in places
    )
    made = replace(table, header=header).with_rows(rows)
    if numbers is None:
        return made
    return replace(made, row_numbers=tuple(numbers[place] for place in places))


def _without_empty_end(row: tuple[str, ...], width: int) -> tuple[str, ...]:
    end = len(row)
    while end > width and not row[end - 1].strip():
        end -= 1
    return row[:end]
