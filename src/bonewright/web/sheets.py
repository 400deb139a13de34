"""A table between its file and the grid of the page.

The grid shows every column of the file and, after them, those the table could have but the
file lacks; columns that stay empty are left out again on saving. Cells beyond the last
header of a ragged row are shown under a nameless column, so that nothing is lost unseen.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from bonewright.study.raw import RawTable
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.clash import Sheet
from bonewright.web.failures import Refusal
from bonewright.web.messages import SheetEdits, SheetState

__all__ = ["edited", "sheet_of", "state_sent", "table_of", "version_of"]

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
        numbers=table.row_numbers,
    )


def state_sent(sent: SheetState) -> Sheet:
    """Take in a whole sheet from the page; new rows are numbered after the last.

    Raises
    ------
    Refusal
        If a row is not as long as the header.
    """
    _refuse_ragged(sent.header, [row.cells for row in sent.rows])
    following = max([1, *(row.number for row in sent.rows if row.number is not None)]) + 1
    numbers: list[int] = []
    for row in sent.rows:
        if row.number is None:
            numbers.append(following)
            following += 1
        else:
            numbers.append(row.number)
    return Sheet(
        header=tuple(sent.header),
        rows=tuple(tuple(row.cells) for row in sent.rows),
        numbers=tuple(numbers),
    )


def edited(base: Sheet, edits: SheetEdits) -> Sheet:
    """Return a sheet as the page has it: the version it read, with what it changed since.

    Raises
    ------
    Refusal
        If the changes do not fit the version.
    """
    changed = {row.number: tuple(row.cells) for row in edits.changed}
    added: dict[int, list[tuple[str, ...]]] = defaultdict(list)
    for new_row in edits.added:
        added[new_row.after].append(tuple(new_row.cells))
    _refuse_ragged(
        edits.header, [*changed.values(), *(row for rows in added.values() for row in rows)]
    )
    removed = set(edits.removed)
    standing = set(base.numbers)
    if tuple(edits.header) != base.header or not {*changed, *removed, *added} <= {1, *standing}:
        raise Refusal(
            422,
            "The changes that were sent do not fit the table they were made in.",
            remedy="Reload the page and try again.",
        )
    rows: list[tuple[str, ...]] = []
    numbers: list[int] = []
    following = max([1, *base.numbers]) + 1
    for number, row in zip((1, *base.numbers), ((), *base.rows), strict=True):
        if number != 1 and number not in removed:
            rows.append(changed.get(number, row))
            numbers.append(number)
        for new in added.get(number, ()):
            rows.append(new)
            numbers.append(following)
            following += 1
    return Sheet(header=base.header, rows=tuple(rows), numbers=tuple(numbers))


def _refuse_ragged(header: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    if any(len(row) != len(header) for row in rows):
        raise Refusal(
            422,
            "A row that was sent is not as long as the header.",
            remedy="Reload the page and try again.",
        )


def table_of(table: RawTable, sheet: Sheet, *, saved: bool) -> RawTable:
    """Put a sheet's cells back into its table, without rows and columns that stayed empty.

    The rows are numbered as a ``saved`` file will number them, or else as they are while
    they are being edited.
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
    if saved:
        return made
    return replace(made, row_numbers=tuple(sheet.numbers[place] for place in places))


def _without_empty_end(row: tuple[str, ...], width: int) -> tuple[str, ...]:
    end = len(row)
    while end > width and not row[end - 1].strip():
        end -= 1
    return row[:end]
