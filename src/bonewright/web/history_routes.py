"""The history over HTTP: the steps, what each changed, undo, redo and the way back."""

from datetime import datetime
from itertools import islice
from typing import Annotated

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.study.history import By, Restored, Step, moment_of
from bonewright.study.history.going_back import last_undoable, last_undone
from bonewright.study.history.row_changes import changes_of
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

__all__ = ["router"]

router = APIRouter(prefix="/api/history")

Room = Annotated[Workroom, Depends(workroom_of)]

_A_PAGE = 200
_MOST_CHANGES = 1000


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class StepMessage(_Message):
    """One step. ``when`` is in the time zone of this machine, with its offset."""

    number: int
    when: str
    what: str
    by: By
    files: list[str]

    @classmethod
    def of(cls, step: Step) -> "StepMessage":
        """Carry a step to the page."""
        return cls(
            number=step.number,
            when=step.when.astimezone().isoformat(timespec="seconds"),
            what=step.what,
            by=step.by,
            files=[change.path for change in step.changes],
        )


class HistoryMessage(_Message):
    """Steps, the latest first; ``undo`` and ``redo`` name the step each would act on."""

    steps: list[StepMessage]
    total: int
    undo: StepMessage | None
    redo: StepMessage | None


class ChangeMessage(_Message):
    """One cell or row that a step changed; ``column`` is None for a whole row or file."""

    path: str
    row_id: str
    column: str | None
    before: str
    after: str
    sentence: str


class StepChangesMessage(_Message):
    """What a step changed; ``more`` says that the list was cut."""

    step: StepMessage
    changes: list[ChangeMessage]
    more: bool


class GoRequest(_Message):
    """Undo or redo; ``number`` is the step that is meant, None for whichever is next."""

    number: Annotated[int, Field(ge=1)] | None = None


class RestoreRequest(_Message):
    """A moment to go back to: 'step 12', 'before 12', '2026-05-03', '3 May', '12:03'."""

    to: Annotated[str, Field(min_length=1, max_length=80)]


class WentMessage(_Message):
    """What was done; ``step`` is None where nothing had to change.

    ``left`` names files, pictures and scans, whose earlier content is not kept.
    """

    step: StepMessage | None
    left: list[str]


@router.get("")
def read_history(room: Room, before: int | None = None) -> HistoryMessage:
    """Give a page of the steps, the latest first, or those before a step."""
    room.look()
    steps = room.history.steps()
    undo, redo = last_undoable(steps), last_undone(steps)
    shown = [step for step in reversed(steps) if before is None or step.number < before]
    return HistoryMessage(
        steps=[StepMessage.of(step) for step in shown[:_A_PAGE]],
        total=len(steps),
        undo=None if undo is None else StepMessage.of(undo),
        redo=None if redo is None else StepMessage.of(redo),
    )


@router.get("/{number}")
def read_step(number: int, room: Room) -> StepChangesMessage:
    """Say what a step changed, cell by cell."""
    step = next((one for one in room.history.steps() if one.number == number), None)
    if step is None:
        raise Refusal(404, "There is no such step.", remedy="Reload the page.")
    changes = list(islice(changes_of(room.history, step), _MOST_CHANGES + 1))
    return StepChangesMessage(
        step=StepMessage.of(step),
        changes=[
            ChangeMessage(
                path=change.path,
                row_id=change.row_id,
                column=change.column,
                before=change.before,
                after=change.after,
                sentence=change.sentence(),
            )
            for change in changes[:_MOST_CHANGES]
        ],
        more=len(changes) > _MOST_CHANGES,
    )


@router.post("/undo")
def undo(request: GoRequest, room: Room) -> WentMessage:
    """Take back the last step."""
    return _went(room.go(lambda history: history.undo(by="page", number=request.number)))


@router.post("/redo")
def redo(request: GoRequest, room: Room) -> WentMessage:
    """Do the step again that was taken back last."""
    return _went(room.go(lambda history: history.redo(by="page", number=request.number)))


@router.post("/restore")
def restore(request: RestoreRequest, room: Room) -> WentMessage:
    """Take the study back to a moment."""
    room.look()
    number = moment_of(request.to, room.history.steps(), now=datetime.now().astimezone())
    return _went(room.go(lambda history: history.restore(number, by="page")))


def _went(restored: Restored) -> WentMessage:
    step = restored.step
    return WentMessage(
        step=None if step is None else StepMessage.of(step), left=list(restored.left)
    )
