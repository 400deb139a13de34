"""One row of checked cells, as the builders of the study's rows read it.

The cells have passed the check, so what a schema requires is there; a row that still
lacks it is a fault of the program, and :class:`TableRow` says so.
"""

from collections.abc import Iterator

from bonewright.findings import RowRef
from bonewright.study.model import DateSpan
from bonewright.study.table_cells import TableCells

__all__ = ["TableRow", "rows_of"]


class TableRow:
    """One row of checked cells."""

    def __init__(self, cells: TableCells, index: int) -> None:
        self._cells = cells
        self.index = index
        self.ref = RowRef(
            table=cells.table.name, row=cells.raw.row_numbers[index], row_id=cells.key(index)
        )

    def _missing(self, column: str) -> ValueError:
        return ValueError(f"{self.ref.words()} passed the check without {column}")

    def text(self, column: str) -> str:
        """Return a required cell as text."""
        value = self._cells.text(column, self.index)
        if value is None:
            raise self._missing(column)
        return value

    def optional_text(self, column: str) -> str | None:
        """Return a cell as text, None where empty."""
        return self._cells.text(column, self.index)

    def number(self, column: str) -> float:
        """Return a required number, in the unit used inside."""
        value = self._cells.number(column, self.index)
        if value is None:
            raise self._missing(column)
        return value

    def optional_number(self, column: str) -> float | None:
        """Return a number, None where empty."""
        return self._cells.number(column, self.index)

    def count(self, column: str) -> int | None:
        """Return a whole number, None where empty."""
        value = self._cells.columns[column][self.index]
        return value if isinstance(value, int) else None

    def yes(self, column: str) -> bool:
        """Return whether a yes-no cell says yes; an empty cell says no."""
        return self._cells.columns[column][self.index] is True

    def date(self, column: str) -> DateSpan:
        """Return a required date."""
        value = self._cells.columns[column][self.index]
        if not isinstance(value, DateSpan):
            raise self._missing(column)
        return value

    def factor(self, unit_column: str) -> float:
        """Return what the row's numbers in this unit were multiplied by."""
        value = self._cells.factors[unit_column][self.index]
        if value is None:
            raise self._missing(unit_column)
        return value


def rows_of(cells: TableCells) -> Iterator[TableRow]:
    """Return the rows of a table, in order."""
    return (TableRow(cells, index) for index in range(len(cells)))
