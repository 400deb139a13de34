"""A table as the page's grid needs it: columns, rows, names to offer, problems and doubts."""

from collections.abc import Mapping
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.cells import DecimalMark, decimal_mark
from bonewright.study.columns import Column
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.clash import Sheet
from bonewright.web.messages import (
    ColumnMessage,
    DoubtMessage,
    ProblemMessage,
    RowMessage,
    TableMessage,
)
from bonewright.web.sheets import sheet_of, version_of
from bonewright.web.showing import table_of_problem
from bonewright.web.workroom import Standing

__all__ = ["columns_shown", "decimal_mark_of", "doubts_of", "placed", "rows_shown", "table_shown"]

_MOST_FILES = 2000


def table_shown(
    table: RawTable, standing: Standing, folder: Path, *, cannot_save: str
) -> TableMessage:
    """Describe a table as it stands on disk; ``cannot_save`` says why nothing can be saved."""
    schema = TABLE_BY_NAME[table.name]
    sheet = sheet_of(table)
    columns = columns_shown(table.name, sheet.header, standing.raw)
    places = {table.name: {number: place for place, number in enumerate(sheet.numbers)}}
    return TableMessage(
        name=table.name,
        title=schema.title,
        description=schema.description,
        key=schema.key,
        version=version_of(table),
        header=list(sheet.header),
        columns=columns,
        rows=rows_shown(sheet),
        suggestions=_suggestions(columns, standing.raw, folder),
        locked=_locked(table) or cannot_save,
        decimal_mark=decimal_mark_of(table),
        problems=[placed(problem, standing.raw, places) for problem in standing.problems],
        doubts=doubts_of(table.name, standing),
    )


def columns_shown(name: str, header: tuple[str, ...], raw: RawTables) -> list[ColumnMessage]:
    """Describe the columns of a table, those that the schema does not know included."""
    known = {column.name: column for column in TABLE_BY_NAME[name].columns}
    return [
        ColumnMessage.of(known[column], _added_choices(raw, known[column]))
        if column in known
        else ColumnMessage.unknown(column)
        for column in header
    ]


def rows_shown(sheet: Sheet) -> list[RowMessage]:
    """Return the rows of a sheet that stands on disk, with their numbers there."""
    return [
        RowMessage(number=number, cells=list(row))
        for number, row in zip(sheet.numbers, sheet.rows, strict=True)
    ]


def placed(
    problem: Problem, raw: RawTables, places: Mapping[str, Mapping[int, int]]
) -> ProblemMessage:
    """Carry a problem to the page; ``places`` maps a table's row numbers to its lines."""
    name = table_of_problem(problem, raw)
    index = None if name is None or problem.row is None else places.get(name, {}).get(problem.row)
    return ProblemMessage.of(problem, table=name, index=index)


def doubts_of(name: str, standing: Standing) -> list[DoubtMessage]:
    """Return the doubtful rows of a table, as the last run saw them."""
    run = standing.run
    return [
        DoubtMessage(
            row=doubt.ref.row,
            row_id=doubt.ref.row_id,
            column=doubt.column,
            kind=doubt.kind,
            found=doubt.found,
            expected=doubt.expected,
            mend=doubt.mend,
            held_out=doubt.held_out,
            decided=doubt.decided,
        )
        for doubt in (() if run is None else run.doubts)
        if doubt.ref.table == name
    ]


def _added_choices(raw: RawTables, column: Column) -> tuple[str, ...]:
    """Return the words by which a table of the study adds to a column's choices."""
    table = raw.get(column.extended_by or "")
    if table is None or column.name not in table.header:
        return ()
    place = table.header.index(column.name)
    words = (row[place].strip() for row in table.rows if place < len(row))
    return tuple(word for word in dict.fromkeys(words) if word and word not in column.choices)


def _suggestions(
    columns: list[ColumnMessage], raw: RawTables, folder: Path
) -> dict[str, list[str]]:
    """Return what to offer while typing: names of the rows referred to, and files at hand."""
    names: dict[str, list[str]] = {}
    for column in columns:
        if column.kind == "file":
            names[column.name] = _files(folder / "files")
        elif column.refers_to is not None:
            names[column.name] = _row_names(raw[column.refers_to])
    return names


def _row_names(table: RawTable) -> list[str]:
    key = TABLE_BY_NAME[table.name].key
    if key not in table.header:
        return []
    place = table.header.index(key)
    return sorted({row[place] for row in table.rows if len(row) > place and row[place]})


def _files(files: Path) -> list[str]:
    found = (path for path in files.rglob("*") if path.is_file() and path.name[:1] != ".")
    return sorted(path.relative_to(files).as_posix() for path in found)[:_MOST_FILES]


def decimal_mark_of(table: RawTable) -> DecimalMark | None:
    """Return how a table's file writes decimals; None where it leaves it open."""
    numbers = {
        column.name
        for column in TABLE_BY_NAME[table.name].columns
        if column.kind in ("number", "integer")
    }
    places = [place for place, name in enumerate(table.header) if name in numbers]
    cells = (row[place] for row in table.rows for place in places if place < len(row))
    return decimal_mark(cells, table.dialect.delimiter)


def _locked(table: RawTable) -> str:
    if table.problems:
        return " ".join(problem.sentence() for problem in table.problems)
    if table.in_workbook:
        return (
            f"This table stands in the workbook {table.file}. Correct it there and save; the "
            "page follows."
        )
    return ""
