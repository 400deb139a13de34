"""What goes on while the page is open: a stream of states, and stopping the computing.

The stream is of server-sent events, one state a message: the newest only, so that a slow
reader falls behind by nothing. It looks at the study folder now and then, so that a table
saved by a spreadsheet beside the page is followed without anybody asking.
"""

import asyncio
import threading
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import StreamingResponse

from bonewright.study.recent import Recent
from bonewright.web.failures import NoStudyOpen, Refusal
from bonewright.web.messages import ErrandMessage, ProgressMessage, StateMessage, WorkRequest
from bonewright.web.reception import Reception
from bonewright.web.sheets import version_of
from bonewright.web.showing import headline
from bonewright.web.views import VIEW_BY_KEY, VIEWS
from bonewright.web.workroom import Standing, Workroom

__all__ = ["face_of", "router", "workroom_of"]

router = APIRouter(prefix="/api")

STUDY_HEADER = "x-bonewright-study"
_LOOK_EVERY_S = 2.0
_SIGN_OF_LIFE_S = 14.0
_AT_MOST_EVERY_S = 0.04
_RECENT: Recent[str] = Recent(kept=1)
_FOR_ALL_WATCHERS = threading.Lock()


def workroom_of(request: Request) -> Workroom:
    """Return the workroom of the study that is open.

    Raises
    ------
    NoStudyOpen
        If none was chosen yet.
    Refusal
        If the page that asks shows another study.
    """
    reception: Reception = request.app.state.reception
    room = reception.room
    if room is None:
        raise NoStudyOpen(
            409, "No study is open yet.", remedy="Choose one on the start page, /start."
        )
    asking = request.headers.get(STUDY_HEADER)
    if asking is not None and asking != room.mark:
        raise Refusal(
            409,
            "Another study was opened meanwhile.",
            remedy="Nothing was changed. Reload this page, or go back to the start page.",
        )
    return room


Room = Annotated[Workroom, Depends(workroom_of)]


@router.get("/state")
def read_state(room: Room) -> StateMessage:
    """Say where the results stand."""
    return _state(room)


@router.get("/events")
async def follow(room: Room) -> StreamingResponse:
    """Send the state now and whenever it changes, until the browser leaves."""
    return StreamingResponse(_states(room), media_type="text/event-stream")


@router.post("/work")
def work(request: WorkRequest, room: Room) -> StateMessage:
    """Stop the computing, or take it up again."""
    if request.wanted == "stop":
        room.stop()
    else:
        room.resume()
    return _state(room)


async def _states(room: Workroom) -> AsyncIterator[str]:
    loop = asyncio.get_running_loop()
    changed = asyncio.Event()

    def wake() -> None:
        if not loop.is_closed():
            loop.call_soon_threadsafe(changed.set)

    leave = room.listen(wake)
    sent, silent_s = "", 0.0
    try:
        while not room.closed:
            changed.clear()
            state = await run_in_threadpool(lambda: _state_text(room))
            if state != sent:
                yield f"data: {state}\n\n"
                sent, silent_s = state, 0.0
            elif silent_s >= _SIGN_OF_LIFE_S:
                yield ": still here\n\n"
                silent_s = 0.0
            await asyncio.sleep(_AT_MOST_EVERY_S)
            try:
                await asyncio.wait_for(changed.wait(), _LOOK_EVERY_S)
            except TimeoutError:
                silent_s += _LOOK_EVERY_S
    finally:
        leave()


def _state_text(room: Workroom) -> str:
    """Return the state as JSON, worked out once for all who watch."""
    with _FOR_ALL_WATCHERS:
        told = room.told  # before looking: what is told meanwhile is not in the answer
        standing = room.look(within_s=_LOOK_EVERY_S / 4)
        return _RECENT.recall(room.mark, told, lambda: _state_of(room, standing).model_dump_json())


def _state(room: Workroom) -> StateMessage:
    return _state_of(room, room.look())


def _state_of(room: Workroom, standing: Standing) -> StateMessage:
    run, _ = standing.run_for("mass")
    whole = standing.run
    titles = {view.key: view.title for view in VIEWS}
    progress = standing.progress
    return StateMessage(
        study=room.mark,
        number=standing.number,
        computing=standing.computing,
        stale=standing.stale,
        stopped=standing.stopped,
        cannot_save=room.cannot_save,
        headline=headline(run),
        problems=len(standing.problems),
        doubts=0 if whole is None else sum(doubt.decided is None for doubt in whole.doubts),
        versions={name: version_of(table) for name, table in standing.raw.items()},
        progress=ProgressMessage(
            title=titles.get(progress.step, ""), done=progress.done, of=progress.of
        ),
        arrived=sorted(standing.arrived),
        views={key: face_of(room, standing, key) for key in VIEW_BY_KEY},
        errands=[
            ErrandMessage(
                number=errand.number,
                state=errand.state,
                doing=errand.doing,
                done=errand.done,
                of=errand.of,
            )
            for errand in room.errands.all()
        ],
    )


def face_of(room: Workroom, standing: Standing, view: str) -> str:
    """Name what a view shows: it changes when the view does."""
    if view == "takeaway":
        return f"{standing.number}-{room.errands.edition}"
    if not standing.computing:
        return str(standing.number)
    return f"{standing.reading}-{int(view in standing.arrived)}-{int('mass' in standing.arrived)}"
