"""What is taken away from the workroom: report, label, archive, comparisons of runs."""

import datetime
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, Depends
from fastapi.responses import FileResponse, PlainTextResponse
from pydantic import BaseModel, ConfigDict, Field

from bonewright.errors import BonewrightError
from bonewright.web.changes_shown import changes_shown
from bonewright.web.errands import Made, Outcome, Tell
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]
RunName = Annotated[str, Field(max_length=40, pattern=r"^[A-Za-z0-9-]*$")]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ErrandRequest(_Message):
    """What to make. ``earlier`` and ``later`` name kept runs; empty is the study as it stands."""

    kind: Literal["report", "archive", "compare"]
    earlier: RunName = ""
    later: RunName = ""


class BegunMessage(_Message):
    """The number of the errand that was begun."""

    number: int


class KeptMessage(_Message):
    """The name under which the run is kept."""

    run: str


@router.post("/api/errands")
def begin(request: ErrandRequest, room: Room) -> BegunMessage:
    """Begin making something; the stream of states tells how far it is."""
    if request.kind == "compare":
        title = f"Runs compared: {_run_words(request.earlier)} and {_run_words(request.later)}"
        work = partial(_compare, room.folder, request.earlier, request.later)
    else:
        run = fresh_run(room)
        made: Callable[..., Outcome] = _report if request.kind == "report" else _archive
        title = "Report" if request.kind == "report" else "Archive"
        work = partial(made, room.folder, run)
    return BegunMessage(number=room.errands.begin(request.kind, title, work))


@router.post("/api/errands/{number}/stop")
def stop(number: int, room: Room) -> BegunMessage:
    """Stop an errand."""
    room.errands.stop(number)
    return BegunMessage(number=number)


@router.post("/api/kept-runs")
def keep(room: Room) -> KeptMessage:
    """Keep the present run, to compare later ones with it."""
    from bonewright.report.kept_runs import keep_run

    name = keep_run(fresh_run(room), room.folder)
    if name is None:
        raise BonewrightError(
            "The run could not be kept.",
            remedy="See that the study's folder results can be written.",
        )
    room.kept_more()
    return KeptMessage(run=name)


@router.get("/errand/{number}/{name}")
def take_away(number: int, name: str, room: Room) -> FileResponse:
    """Hand over a file that an errand made."""
    made = room.errands.file(number, name)
    if made is None:
        raise Refusal(404, "This file is no longer here.", remedy="Have it made again.")
    return FileResponse(made.path, media_type=made.media_type, filename=made.name)


@router.get("/label.txt")
def label_text(room: Room) -> PlainTextResponse:
    """Hand over the texts for a gallery label."""
    from bonewright.report.label import label_words, labels

    lines = [line for text in labels(fresh_run(room)) for line in (*label_words(text), "")]
    return PlainTextResponse(
        "\n".join(lines), headers={"content-disposition": 'attachment; filename="label.txt"'}
    )


def fresh_run(room: Workroom) -> "Run":
    """Return the run of the study as it stands.

    Raises
    ------
    Refusal
        If the results are older than the tables.
    """
    standing = room.look()
    if standing.run is None or standing.stale:
        raise Refusal(
            409,
            "This waits until the results are computed from the tables as they are.",
            remedy="Mend the problems listed on the page, or wait for the computing to end.",
        )
    return standing.run


def _run_words(name: str) -> str:
    return f"run {name}" if name else "as it stands"


def _report(folder: Path, run: "Run", place: Path, tell: Tell) -> Outcome:
    from bonewright.report.kept_runs import keep_run
    from bonewright.report.write import write_report

    del place
    tell("writing and drawing", 0, 2)
    pdf, html = write_report(run, folder)
    tell("keeping the run", 1, 2)
    keep_run(run, folder)
    return Outcome(
        files=(
            Made(name=pdf.name, path=pdf, media_type="application/pdf"),
            Made(name=html.name, path=html, media_type="text/html"),
        )
    )


def _archive(folder: Path, run: "Run", place: Path, tell: Tell) -> Outcome:
    from bonewright.report.archive import archive_name, write_archive

    tell("gathering the study, its findings and its report", 0, 1)
    made = datetime.datetime.now(tz=datetime.UTC).date()
    target = place / archive_name(run, made)
    write_archive(run, folder, target, made=made)
    return Outcome(files=(Made(name=target.name, path=target, media_type="application/zip"),))


def _compare(folder: Path, earlier: str, later: str, place: Path, tell: Tell) -> Outcome:
    from bonewright.remembering import StepMemory
    from bonewright.report.compared import compare_inputs
    from bonewright.report.kept_runs import opened_run

    del place
    tell("opening both", 0, 2)
    memory = StepMemory(answers_a_step=16)
    memory.watcher = lambda _step, _done, _of: tell("computing both", 1, 2)
    with (
        opened_run(earlier or str(folder), folder=folder) as before,
        opened_run(later or str(folder), folder=folder) as after,
    ):
        shown = changes_shown(compare_inputs(before, after, memory=memory))
    if shown is None:
        return Outcome(lines=("Nothing differs between the two: not a row, choice or file.",))
    return Outcome(shown=shown)
