"""Tables as text: what a file holds before anything in it is believed."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from bonewright.errors import Problem
from bonewright.study.schemas import TABLE_BY_NAME

__all__ = [
    "FARTHEST_HEADER",
    "Dialect",
    "RawTable",
    "RawTables",
    "closed_to_reading",
    "content_hash",
    "empty_table",
    "title_above",
    "whole_file",
]

FARTHEST_HEADER = 10
_FEWEST_NAMES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How a file writes a table; kept so that saving changes nothing but cells."""

    delimiter: str = ","
    byte_order_mark: bool = False
    line_ending: str = "\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTable:
    """One table as text.

    ``rows`` holds the cells as written, possibly more or fewer than ``header``;
    ``row_numbers`` are theirs in the file as a spreadsheet shows them. ``content_hash`` is that of
    the file's bytes, None if there is no file yet. ``problems`` says why the file could
    not be read; it has no rows then and cannot be saved over.
    """

    name: str
    file: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()
    row_numbers: tuple[int, ...] = ()
    dialect: Dialect = Dialect()
    content_hash: str | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def in_workbook(self) -> bool:
        """Whether the table is a sheet of a workbook, which the page cannot save."""
        return not self.file.endswith(".csv")

    def with_rows(self, rows: tuple[tuple[str, ...], ...]) -> "RawTable":
        """Return the table with other rows, numbered as a saved file will number them."""
        return replace(self, rows=rows, row_numbers=tuple(range(2, len(rows) + 2)))


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTables(Mapping[str, RawTable]):
    """Every table of a study by name, with the problems of files that are no table."""

    tables: Mapping[str, RawTable]
    problems: tuple[Problem, ...] = ()

    def __getitem__(self, name: str) -> RawTable:
        return self.tables[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.tables)

    def __len__(self) -> int:
        return len(self.tables)

    def with_table(self, table: RawTable) -> "RawTables":
        """Return the tables with one of them replaced."""
        return replace(self, tables={**self.tables, table.name: table})


def content_hash(content: bytes) -> str:
    """Return the name of a file's exact content (SHA-256, hexadecimal)."""
    return hashlib.sha256(content).hexdigest()


def empty_table(name: str) -> RawTable:
    """Return a table of the study that has no file yet: its header and no rows."""
    header = tuple(column.name for column in TABLE_BY_NAME[name].columns)
    return RawTable(name=name, file=f"tables/{name}.csv", header=header)


def whole_file(file: str, *, found: str, expected: str, mend: str) -> Problem:
    """Return a problem with a whole file rather than one of its cells."""
    return Problem(file=file, row=None, column=None, found=found, expected=expected, mend=mend)


def closed_to_reading(file: str, error: OSError) -> Problem:
    """Return the problem of a file that the system does not let us read."""
    reason = (error.strerror or "no reason given").lower()
    return whole_file(
        file,
        found=f"a file that cannot be read ({reason})",
        expected="a file that this program may read",
        mend="Close it where it is open, in a spreadsheet say, or allow reading it; then try"
        " again.",
    )


def title_above(
    records: Sequence[tuple[int, tuple[str, ...]]], columns: tuple[str, ...], file: str
) -> Problem | None:
    """Tell of a title or a remark that stands above the header of a table.

    Parameters
    ----------
    records : sequence of (row number, cells)
        The rows with text, as a spreadsheet numbers them.
    columns : tuple of str
        The columns a table may have.
    file : str
        The table's file, for the problem.
    """
    known = set(columns)

    def names(cells: tuple[str, ...]) -> int:
        return len(known.intersection(cell.strip() for cell in cells))

    if not records or names(records[0][1]):
        return None
    for number, cells in records[1:FARTHEST_HEADER]:
        if names(cells) >= _FEWEST_NAMES:
            above = "row 1" if number == 2 else f"rows 1 to {number - 1}"
            return Problem(
                file=file,
                row=records[0][0],
                column=None,
                found=f"a row above the header, which is in row {number}",
                expected="the header in row 1",
                mend=f"Delete {above}.",
            )
    return None
