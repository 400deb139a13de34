"""Tables as text: what a file holds before anything in it is believed."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from bonewright.errors import Problem
from bonewright.study.schemas import TABLE_BY_NAME

__all__ = ["Dialect", "RawTable", "RawTables", "content_hash", "empty_table", "whole_file"]


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
