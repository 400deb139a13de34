"""Tables and decisions over HTTP: read, check while typing, save, decide."""

from collections import defaultdict
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse

from bonewright.errors import Problem
from bonewright.study.columns import Column
from bonewright.study.disk_faults import open_elsewhere
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.clash import Sheet
from bonewright.web.live_routes import workroom_of
from bonewright.web.messages import (
    CheckAnswer,
    CheckRequest,
    ClashMessage,
    ColumnMessage,
    DecisionRequest,
    Difference,
    DoubtMessage,
    DoubtsMessage,
    ProblemMessage,
    RowMessage,
    SavedMessage,
    SaveRequest,
    TableMessage,
)
from bonewright.web.sheets import numbered, sheet_sent, table_of, version_of
from bonewright.web.showing import table_of_problem
from bonewright.web.workroom import Clash, Workroom

__all__ = ["clash_response", "router"]

router = APIRouter(prefix="/api")


Room = Annotated[Workroom, Depends(workroom_of)]


def _added_choices(room: Workroom, column: Column) -> tuple[str, ...]:
    """Return the words by which a table of the study adds to a column's choices."""
    if column.extended_by is None:
        return ()
    table = room.look().raw.get(column.extended_by)
    if table is None or column.name not in table.header:
        return ()
    place = table.header.index(column.name)
    words = (row[place].strip() for row in table.rows if place < len(row))
    return tuple(word for word in dict.fromkeys(words) if word and word not in column.choices)


@router.get("/tables/{name}")
def read_table(name: str, room: Room) -> TableMessage:
    """Give a table as it stands on disk."""
    table, sheet = room.sheet(name)
    schema = TABLE_BY_NAME[name]
    known = {column.name: column for column in schema.columns}
    columns = [
        ColumnMessage.of(known[column], _added_choices(room, known[column]))
        if column in known
        else ColumnMessage.unknown(column)
        for column in sheet.header
    ]
    return TableMessage(
        name=name,
        title=schema.title,
        description=schema.description,
        key=schema.key,
        version=version_of(table),
        header=list(sheet.header),
        columns=columns,
        rows=_rows(sheet, table.row_numbers),
        suggestions=_suggestions(columns, room.look().raw),
        locked=_locked(table) or room.cannot_save,
    )


def _rows(sheet: Sheet, numbers: tuple[int, ...]) -> list[RowMessage]:
    return [
        RowMessage(number=number, cells=list(row))
        for number, row in zip(numbers, sheet.rows, strict=True)
    ]


def _suggestions(columns: list[ColumnMessage], raw: RawTables) -> dict[str, list[str]]:
    names: dict[str, list[str]] = {}
    for column in columns:
        if column.refers_to is None:
            continue
        table = raw[column.refers_to]
        key = TABLE_BY_NAME[table.name].key
        place = table.header.index(key) if key in table.header else None
        names[column.name] = (
            []
            if place is None
            else sorted({row[place] for row in table.rows if len(row) > place and row[place]})
        )
    return names


def _locked(table: RawTable) -> str:
    if table.problems:
        return " ".join(problem.sentence() for problem in table.problems)
    if table.in_workbook:
        return (
            f"This table stands in the workbook {table.file}. Correct it there and save; the "
            "page follows."
        )
    return ""


@router.get("/tables/{name}/doubts")
def read_doubts(name: str, room: Room) -> DoubtsMessage:
    """Give the doubtful rows of a table."""
    room.sheet(name)
    run = room.look().run
    return DoubtsMessage(
        doubts=[
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
    )


@router.post("/check")
def check(request: CheckRequest, room: Room) -> CheckAnswer:
    """Check the study as it would be with the tables sent."""
    changed: dict[str, RawTable] = {}
    places: dict[str, dict[int, int]] = defaultdict(dict)
    for name, state in request.tables.items():
        table, _ = room.sheet(name)
        numbers = numbered(state.rows)
        places[name] = {number: index for index, number in enumerate(numbers)}
        sheet = sheet_sent(state.header, state.rows)
        changed[name] = table_of(table, sheet, numbers=numbers)
    raw = room.look().raw

    def placed(problem: Problem) -> ProblemMessage:
        name = table_of_problem(problem, raw)
        index = None if name is None or problem.row is None else places[name].get(problem.row)
        return ProblemMessage.of(problem, table=name, index=index)

    return CheckAnswer(problems=[placed(problem) for problem in room.check(changed)])


@router.post("/tables/{name}")
def save(name: str, request: SaveRequest, room: Room) -> SavedMessage:
    """Save a table; 409 with both states joined if it was changed on disk meanwhile."""
    room.save(name, sheet_sent(request.header, request.rows), version=request.version)
    table, _ = room.sheet(name)
    return SavedMessage(version=version_of(table), note=_open_note(room, table))


def _open_note(room: Workroom, table: RawTable) -> str:
    """Warn that a spreadsheet beside the page could save its older state over this one."""
    holder = open_elsewhere(room.folder / table.file)
    if not holder:
        return ""
    return (
        f"Saved. {holder} Close it there without saving, or its older state replaces this one;"
        " the history keeps both."
    )


@router.post("/decisions")
def decide(request: DecisionRequest, room: Room) -> SavedMessage:
    """Keep a doubtful row or set it aside, with the reason."""
    room.decide(request.table, request.row_id, decision=request.decision, reason=request.reason)
    return SavedMessage(version=version_of(room.sheet("decisions")[0]))


def clash_response(_: Request, exception: Exception) -> JSONResponse:
    """Answer a save that met a changed file: the one error shape, and both states joined."""
    if not isinstance(exception, Clash):
        raise exception
    joined = exception.joined
    message = ClashMessage(
        error=exception.message,
        remedy=exception.remedy,
        version=exception.version,
        header=list(joined.sheet.header),
        rows=[RowMessage(cells=list(row)) for row in joined.sheet.rows],
        differences=[
            Difference(
                row_id=found.row_id,
                index=found.index,
                column=found.column,
                before=found.before,
                yours=found.yours,
                on_disk=found.on_disk,
            )
            for found in joined.contradictions
        ],
    )
    return JSONResponse(message.model_dump(), status_code=409)
