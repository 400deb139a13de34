"""Rows that name other rows: whether the row named exists, and which was probably meant."""

from collections.abc import Iterator, Mapping

from bonewright.errors import Problem
from bonewright.study.spelling import equally_near
from bonewright.study.table_cells import TableCells

__all__ = ["reference_problems", "row_names"]

_MOST_SUGGESTIONS = 40


def row_names(cells: TableCells) -> dict[str, int]:
    """Map the name of each row to its index; of two rows alike the first."""
    names: dict[str, int] = {}
    for index in range(len(cells)):
        if key := cells.key(index):
            names.setdefault(key, index)
    return names


def reference_problems(tables: Mapping[str, TableCells]) -> Iterator[Problem]:
    """Check that every row named in another row exists, unless its table is unreadable."""
    referring = [
        (cells, column.name, column.refers_to)
        for cells in tables.values()
        for column in cells.table.columns
        if column.refers_to is not None
    ]
    used: dict[str, set[str]] = {}
    for cells, column, target in referring:
        values = (value for value in cells.columns[column] if isinstance(value, str))
        used.setdefault(target, set()).update(values)
    names = {target: row_names(tables[target]) for target in used}
    for cells, column, target in referring:
        if not tables[target].raw.problems:
            yield from _column_problems(
                cells, column, tables[target], names=names[target], used=used[target]
            )


def _column_problems(
    cells: TableCells, column: str, target: TableCells, *, names: dict[str, int], used: set[str]
) -> Iterator[Problem]:
    meant: dict[str, str | None] = {}
    for index, name in enumerate(cells.columns[column]):
        if not isinstance(name, str) or name in names:
            continue
        if name not in meant:
            few = len(meant) < _MOST_SUGGESTIONS
            meant[name] = _meant_name(name, names, used) if few else None
        guess = meant[name]
        mend = f"Add the row to {target.raw.file}, or mend the name."
        if guess:
            mend = (
                f"Did you mean '{guess}' ({target.place(names[guess])})? One of the two is"
                " misspelled."
            )
        yield cells.problem(
            index,
            column,
            expected=f"the name of a row of {target.table.name}",
            mend=mend,
            instead=(guess,) if guess else (),
        )


def _meant_name(name: str, names: Mapping[str, int], used: set[str]) -> str | None:
    """Guess the row meant: the likest name, and of several the one that no row refers to."""
    near = equally_near(name, names)
    unused = [candidate for candidate in near if candidate not in used]
    for candidates in (unused, near):
        if len(candidates) == 1:
            return candidates[0]
    return None
