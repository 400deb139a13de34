"""Check one table by itself: header, shape of rows, every cell, units, limits, unique keys.

The values read on the way are kept (:class:`TableCells`), so that loading a study does not
read its cells a second time.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from bonewright.errors import Problem
from bonewright.study.cells import CellValue, bare, cell_reader, decimal_mark
from bonewright.study.columns import Column, Table
from bonewright.study.faults import Fault
from bonewright.study.headers import header_places, shape_problems
from bonewright.study.raw import RawTable
from bonewright.study.recent import Recent
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.spelling import shown
from bonewright.study.units import INSIDE_UNIT, Measures, factor_to_inside

__all__ = ["TableCells", "read_cells"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableCells:
    """A table's cells as values.

    ``columns`` maps a column's name to its values, one a row, None where the cell is
    empty or faulty; numbers with a unit are in mm, kg or m3. ``written`` holds the bare
    text. ``factors`` maps a unit column to the factor that brought each row there.
    ``misshapen`` holds the indices of rows with too few or too many cells.
    """

    table: Table
    raw: RawTable
    columns: dict[str, list[CellValue | None]]
    written: dict[str, list[str]]
    factors: dict[str, list[float | None]]
    misshapen: frozenset[int]
    problems: list[Problem] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.raw.rows)

    def sound_rows(self) -> Iterator[int]:
        """Yield the indices of rows that have as many cells as the header."""
        return (index for index in range(len(self)) if index not in self.misshapen)

    def text(self, column: str, index: int) -> str | None:
        """Return a value of a text, choice, unit or file column."""
        value = self.columns[column][index]
        return value if isinstance(value, str) else None

    def number(self, column: str, index: int) -> float | None:
        """Return a value of a number column, in its inside unit if it has one."""
        value = self.columns[column][index]
        return value if isinstance(value, float) else None

    def filled(self, column: str, index: int) -> bool:
        """Tell whether anything is written in a cell, right or wrong."""
        return self.written[column][index] != ""

    def key(self, index: int) -> str:
        """Return the name of a row."""
        return self.written[self.table.key][index]

    def place(self, index: int) -> str:
        """Say where a row stands, for another row's problem."""
        return f"{self.raw.file}, row {self.raw.row_numbers[index]}"

    def problem(
        self,
        index: int,
        column: str,
        *,
        expected: str,
        mend: str,
        instead: tuple[str, ...] = (),
        keepable: bool = False,
        found: str | None = None,
    ) -> Problem:
        """Return a problem with one cell.

        ``instead`` are texts that would put it right; a ``keepable`` row may stay as it is if
        a decision says why. What was ``found`` is the cell's text if not said otherwise.
        """
        if keepable:
            mend = (
                f"{mend}; if it is right, keep it with a reason: a row in decisions.csv with"
                f" tableName {self.table.name}, rowID {self.key(index)}, decision keep."
            )
        return Problem(
            file=self.raw.file,
            row=self.raw.row_numbers[index],
            column=column,
            found=shown(self.written[column][index]) if found is None else found,
            expected=expected,
            mend=mend,
            instead=instead,
            keep=self.key(index) if keepable else "",
        )


_RECENT: Recent[TableCells] = Recent()


def read_cells(
    raw: RawTable,
    overruled: frozenset[str],
    added_choices: Mapping[str, tuple[str, ...]] | None = None,
) -> TableCells:
    """Read and check one table.

    Parameters
    ----------
    raw : RawTable
        The table as text.
    overruled : frozenset of str
        Names of the rows for which the person overruled the plausible range.
    added_choices : mapping
        By table: words of this study that add to the choices of columns extended by it.

    Notes
    -----
    What is returned is shared with whoever asks the same again: it is to be read only.
    """
    added = tuple(sorted((added_choices or {}).items()))
    return _RECENT.recall(
        raw.name, (raw, overruled, added), lambda: _read_cells(raw, overruled, dict(added))
    )


def _read_cells(
    raw: RawTable, overruled: frozenset[str], added: Mapping[str, tuple[str, ...]]
) -> TableCells:
    table = TABLE_BY_NAME[raw.name]
    places, problems = header_places(raw, table)
    width = len(raw.header)
    misshapen = frozenset(i for i, row in enumerate(raw.rows) if len(row) != width)
    written = {
        column.name: _column_text(raw, places.get(column.name), misshapen, column.name == table.key)
        for column in table.columns
    }
    cells = TableCells(
        table=table,
        raw=raw,
        columns={},
        written=written,
        factors={},
        misshapen=misshapen,
        problems=[*raw.problems, *problems],
    )
    cells.problems.extend(shape_problems(raw, misshapen))
    _read_columns(cells, places, added)
    _convert_units(cells)
    _check_limits(cells, overruled)
    _check_keys(cells)
    return cells


def _column_text(
    raw: RawTable, place: int | None, misshapen: frozenset[int], is_key: bool
) -> list[str]:
    if place is None:
        return [""] * len(raw.rows)
    # Of a row with too few or too many cells only its name is believed, so that the rows
    # that refer to it are not called wrong as well.
    return [
        bare(row[place]) if place < len(row) and (is_key or index not in misshapen) else ""
        for index, row in enumerate(raw.rows)
    ]


def _read_columns(
    cells: TableCells, places: dict[str, int], added: Mapping[str, tuple[str, ...]]
) -> None:
    numbers = [c for c in cells.table.columns if c.kind in ("number", "integer")]
    mark = decimal_mark(
        (text for column in numbers for text in cells.written[column.name] if text),
        cells.raw.dialect.delimiter,
    )
    for column in cells.table.columns:
        more = added.get(column.extended_by or "", ())
        read = cell_reader(replace(column, choices=(*column.choices, *more)), mark)
        required = column.required and column.name in places
        values: list[CellValue | None] = []
        for index, text in enumerate(cells.written[column.name]):
            value = read(text) if text else None
            if isinstance(value, Fault):
                cells.problems.append(_faulty(cells, index, column.name, value))
                value = None
            elif value is None and required and index not in cells.misshapen:
                cells.problems.append(_missing(cells, index, column))
            values.append(value)
        cells.columns[column.name] = values


def _faulty(cells: TableCells, index: int, column: str, fault: Fault) -> Problem:
    return cells.problem(
        index, column, expected=fault.expected, mend=fault.mend, instead=fault.instead
    )


def _missing(cells: TableCells, index: int, column: Column) -> Problem:
    example = f", such as {column.example}" if column.example else ""
    return cells.problem(
        index,
        column.name,
        expected=f"a filled cell: {column.title.lower()}{example}",
        mend=f"Fill in the cell, or delete the row. {column.description}",
    )


def _convert_units(cells: TableCells) -> None:
    for unit_column, columns in _columns_by_unit(cells.table).items():
        measures = _measures(columns[0])
        factors: list[float | None] = []
        for index, unit in enumerate(cells.columns[unit_column]):
            factor = factor_to_inside(unit, measures) if isinstance(unit, str) else None
            if isinstance(factor, Fault):
                cells.problems.append(_faulty(cells, index, unit_column, factor))
                factor = None
            factors.append(factor)
        cells.factors[unit_column] = factors
        for column in columns:
            cells.columns[column.name] = [
                value * factor if isinstance(value, float) and factor is not None else None
                for value, factor in zip(cells.columns[column.name], factors, strict=True)
            ]


def _columns_by_unit(table: Table) -> dict[str, list[Column]]:
    by_unit: dict[str, list[Column]] = {}
    for column in table.columns:
        if column.unit_column is not None:
            by_unit.setdefault(column.unit_column, []).append(column)
    return by_unit


def _measures(column: Column) -> Measures:
    if column.dimension in ("length", "mass", "volume"):
        return column.dimension
    raise ValueError(f"the schema gives column {column.name} a unit but no convertible dimension")


def _check_limits(cells: TableCells, overruled: frozenset[str]) -> None:
    for column in cells.table.columns:
        limit = column.limit
        if limit is None:
            continue
        factor = factor_to_inside(limit.unit, _measures(column))
        if isinstance(factor, Fault):
            raise ValueError(f"the schema's limit of {column.name} has no sound unit")
        low, high = limit.low * factor, limit.high * factor
        for index, value in enumerate(cells.columns[column.name]):
            if not isinstance(value, float) or low <= value <= high:
                continue
            if cells.key(index) not in overruled:
                cells.problems.append(_implausible(cells, index, column, value))


def _implausible(cells: TableCells, index: int, column: Column, value: float) -> Problem:
    limit = column.limit
    unit = cells.written[column.unit_column][index] if column.unit_column else ""
    expected = f"{limit.low:g} to {limit.high:g} {limit.unit}" if limit else ""
    read_as = f"{value:.6g} {INSIDE_UNIT[_measures(column)]}"
    return cells.problem(
        index,
        column.name,
        found=f"'{cells.written[column.name][index]}' {unit} ({read_as})",
        expected=f"a plausible value, {expected}",
        mend="Mend the value or its unit",
        keepable=True,
    )


def _check_keys(cells: TableCells) -> None:
    first: dict[str, int] = {}
    for index in range(len(cells)):
        key = cells.key(index)
        if key and first.setdefault(key, index) != index:
            cells.problems.append(
                cells.problem(
                    index,
                    cells.table.key,
                    expected="a name that no other row of the table has",
                    mend=f"Row {cells.raw.row_numbers[first[key]]} has it already: change one of"
                    " the two, or delete the row if it was entered twice.",
                )
            )
