"""Tables and decisions over HTTP: read, check while typing, save, decide."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from bonewright.study.disk_faults import open_elsewhere
from bonewright.study.raw import RawTable
from bonewright.web.clash import Sheet
from bonewright.web.feeds import feeds_of_row
from bonewright.web.live_routes import workroom_of
from bonewright.web.messages import (
    CheckAnswer,
    CheckRequest,
    ClashMessage,
    DecisionRequest,
    Difference,
    DoubtsMessage,
    FedMessage,
    FeedsMessage,
    RowMessage,
    SavedMessage,
    SaveRequest,
    SheetEdits,
    SheetState,
)
from bonewright.web.sheets import edited, state_sent, table_of, version_of
from bonewright.web.tables_shown import columns_shown, doubts_of, placed, table_shown
from bonewright.web.workroom import Clash, Workroom

__all__ = ["clash_response", "router"]

router = APIRouter(prefix="/api")


Room = Annotated[Workroom, Depends(workroom_of)]


@router.get("/tables/{name}", response_model=None)
def read_table(name: str, room: Room) -> Response:
    """Give a table as it stands on disk (a :class:`TableMessage`)."""
    room.looked_at()
    table, _ = room.sheet(name)
    # Written here, for a table of many rows is checked and written twice otherwise.
    shown = table_shown(table, room.look(), room.folder, cannot_save=room.cannot_save)
    return Response(shown.model_dump_json(), media_type="application/json")


@router.get("/tables/{name}/doubts")
def read_doubts(name: str, room: Room) -> DoubtsMessage:
    """Give the doubtful rows of a table."""
    room.sheet(name)
    return DoubtsMessage(doubts=doubts_of(name, room.look()))


def _sheet_sent(name: str, sent: SheetEdits | SheetState, room: Workroom) -> Sheet:
    if isinstance(sent, SheetState):
        return state_sent(sent)
    return edited(room.handed_out(name, sent.version), sent)


@router.get("/tables/{name}/feeds")
def read_feeds(name: str, row_id: str, room: Room) -> FeedsMessage:
    """Say which findings of the last run a row feeds."""
    room.sheet(name)
    run = room.look().run
    if run is None:
        return FeedsMessage(direct=[], n_direct=0, reached=[], n_reached=0, steps=[])
    feeds = feeds_of_row(run, name, row_id)
    return FeedsMessage(
        direct=[FedMessage.of(fed) for fed in feeds.direct],
        n_direct=feeds.n_direct,
        reached=[FedMessage.of(fed) for fed in feeds.reached],
        n_reached=feeds.n_reached,
        steps=list(feeds.steps),
    )


@router.post("/check")
def check(request: CheckRequest, room: Room) -> CheckAnswer:
    """Check the study as it would be with the tables sent."""
    changed: dict[str, RawTable] = {}
    places: dict[str, dict[int, int]] = {}
    for name, sent in request.tables.items():
        table, _ = room.sheet(name)
        sheet = _sheet_sent(name, sent, room)
        places[name] = {number: index for index, number in enumerate(sheet.numbers)}
        changed[name] = table_of(table, sheet, saved=False)
    raw = room.look().raw
    return CheckAnswer(problems=[placed(problem, raw, places) for problem in room.check(changed)])


@router.post("/tables/{name}")
def save(name: str, request: SheetEdits | SaveRequest, room: Room) -> SavedMessage:
    """Save a table; 409 with both states joined if it was changed on disk meanwhile."""
    sheet = _sheet_sent(name, request, room)
    return _saved(room, *room.save(name, sheet, version=request.version))


def _saved(room: Workroom, table: RawTable, sheet: Sheet) -> SavedMessage:
    return SavedMessage(
        version=version_of(table), header=list(sheet.header), note=_open_note(room, table)
    )


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
    decided = room.decide(
        request.table, request.row_id, decision=request.decision, reason=request.reason
    )
    return _saved(room, *decided)


def clash_response(request: Request, exception: Exception) -> Response:
    """Answer a save that met a changed file: the one error shape, and both states joined."""
    if not isinstance(exception, Clash):
        raise exception
    room = workroom_of(request)
    joined = exception.joined
    message = ClashMessage(
        error=exception.message,
        remedy=exception.remedy,
        version=exception.version,
        header=list(joined.sheet.header),
        columns=columns_shown(exception.name, joined.sheet.header, room.look().raw),
        rows=[
            RowMessage(number=number, cells=list(row))
            for number, row in zip(joined.numbers, joined.sheet.rows, strict=True)
        ],
        standing=[
            RowMessage(number=number, cells=list(row)) for number, row in joined.standing.items()
        ],
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
    return Response(message.model_dump_json(), status_code=409, media_type="application/json")
