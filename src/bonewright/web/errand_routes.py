"""What is taken away: report, label, archive, workshop pack, comparisons of runs."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, Depends
from fastapi.responses import FileResponse, PlainTextResponse
from pydantic import BaseModel, ConfigDict, Field

from bonewright.errors import BonewrightError
from bonewright.web.errand_work import compare_runs, make_archive, make_pack, make_report
from bonewright.web.errands import Outcome, Tell
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.workshop.pack_choices import PackChoices

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]
Word = Annotated[str, Field(max_length=40)]
RunName = Annotated[str, Field(max_length=40, pattern=r"^[A-Za-z0-9-]*$")]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ErrandRequest(_Message):
    """What to make.

    ``earlier`` and ``later`` name kept runs to compare; empty is the study as it stands.
    ``scale`` (n of 1:n), ``state``, ``layer``, ``fill``, ``paper`` and the printer's ``bed``
    are those of a workshop pack.
    """

    kind: Literal["report", "archive", "pack", "compare"]
    earlier: RunName = ""
    later: RunName = ""
    scale: Word = "4"
    state: Word = "mean"
    layer: Word = "feathered"
    fill: Word = ""
    paper: Word = "A4"
    bed: Word = "220x220x250"


class BegunMessage(_Message):
    """The number of the errand that was begun."""

    number: int


class KeptMessage(_Message):
    """The name under which the run is kept."""

    run: str


@router.post("/api/errands")
def begin(request: ErrandRequest, room: Room) -> BegunMessage:
    """Begin making something; the stream of states tells how far it is."""
    work: Callable[[Path, Tell], Outcome]
    if request.kind == "compare":
        title = f"Runs compared: {_run_words(request.earlier)} and {_run_words(request.later)}"
        work = partial(compare_runs, room.folder, request.earlier, request.later)
    elif request.kind == "pack":
        choices = _pack_choices(request)
        title = f"Workshop pack, 1:{choices.scale_denominator:g}, {choices.layer}"
        work = partial(make_pack, choices, room.folder, fresh_run(room))
    elif request.kind == "archive":
        title, work = "Archive", partial(make_archive, room.folder, fresh_run(room))
    else:
        title, work = "Report", partial(make_report, room.folder, fresh_run(room))
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


def _pack_choices(request: ErrandRequest) -> "PackChoices":
    from bonewright.workshop.pack_choices import PackChoices, bed_from, paper_from, scale_from

    return PackChoices(
        scale_denominator=scale_from(request.scale),
        state=request.state,
        layer=request.layer,
        fill=request.fill or None,
        paper=paper_from(request.paper),
        bed=bed_from(request.bed),
    )


def _run_words(name: str) -> str:
    return f"run {name}" if name else "as it stands"
