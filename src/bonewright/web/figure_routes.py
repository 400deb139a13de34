"""Figures over HTTP: as the page shows them, to be asked for their values, and for print."""

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict

from bonewright.study.read import read_tables
from bonewright.study.recent import Recent
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.failures import Refusal
from bonewright.web.figure_font import with_font
from bonewright.web.live_routes import workroom_of
from bonewright.web.showing import STEP_OF_TABLE
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.report.figures.figure import Chart

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]

# A drawing is looked at, never run.
_DRAWING_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:; sandbox"
)
_MOST_ROWS = 12

_DRAWN: "Recent[tuple[Run, str]]" = Recent(kept=1)


class RowNamedMessage(BaseModel):
    """A row that names what a point of a figure shows."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    words: str
    href: str


class RowsNamedMessage(BaseModel):
    """The rows that name it, and how many more there are."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    rows: tuple[RowNamedMessage, ...]
    more: int


def _run_of(key: str, room: Workroom) -> "Run":
    """Return the newest run that has what a figure draws."""
    from bonewright.report.figures import FIGURES

    run = None
    if key in FIGURES:
        run, _ = room.look().run_for(FIGURES[key].step)
    if run is None or not FIGURES[key].present(run):
        raise Refusal(
            404,
            "There is no such figure, or its step has no answer yet.",
            remedy="See what the step says is missing.",
        )
    return run


def _chart(key: str, room: Workroom) -> "Chart":
    from bonewright.report.figures import FIGURES

    run = _run_of(key, room)
    return FIGURES[key].chart_fn(run)


def _drawn(key: str, room: Workroom) -> str:
    """Draw a figure, or give what was drawn for this very run: drawing takes a while."""
    from bonewright.report.figures import FIGURES
    from bonewright.report.rendering import render_svg

    run = _run_of(key, room)

    def draw() -> "tuple[Run, str]":
        # The run is kept with its drawing, so that no other can take its place in memory.
        return run, with_font(render_svg(FIGURES[key].chart_fn(run)))

    return _DRAWN.recall(key, id(run), draw)[1]


@router.get("/figure/{key}.svg")
def svg(key: str, room: Room, keep: bool = False) -> Response:
    """Draw one figure of the last run; ``keep`` hands it over as a file."""
    headers = {"content-security-policy": _DRAWING_POLICY}
    if keep:
        headers |= _as_file(f"{key}.svg")
    return Response(_drawn(key, room), media_type="image/svg+xml", headers=headers)


@router.get("/figure/{key}.pdf")
def pdf(key: str, room: Room) -> Response:
    """Hand over one figure for print, its lines and words as such."""
    from bonewright.report.rendering import render_pdf

    content = render_pdf(_chart(key, room))
    return Response(content, media_type="application/pdf", headers=_as_file(f"{key}.pdf"))


@router.get("/figure/{key}.png")
def png(key: str, room: Room) -> Response:
    """Hand over one figure as a picture, four points of it to one of the screen."""
    from bonewright.report.rendering import render_png

    content = render_png(_chart(key, room), scale=4.0)
    return Response(content, media_type="image/png", headers=_as_file(f"{key}.png"))


def _as_file(name: str) -> dict[str, str]:
    return {"content-disposition": f'attachment; filename="{name}"'}


@router.get("/api/figure/{key}")
def specification(key: str, room: Room) -> dict[str, Any]:
    """Give the same figure as a Vega-Lite specification, for the page to draw by itself."""
    from bonewright.report.rendering import live_spec

    return live_spec(_chart(key, room))


@router.get("/api/rows")
def rows_named(
    name: Annotated[str, Query(min_length=1, max_length=300)], room: Room
) -> RowsNamedMessage:
    """Find the rows of the study's tables in which a cell is exactly this name."""
    found = []
    for table, content in read_tables(room.folder).items():
        if table not in STEP_OF_TABLE:
            continue
        for number, row in zip(content.row_numbers, content.rows, strict=True):
            if name in row:
                title = TABLE_BY_NAME[table].title
                found.append(
                    RowNamedMessage(
                        words=f"{title}, row {number} ({row[0]})",
                        href=f"/{STEP_OF_TABLE[table]}#{table}:{number}",
                    )
                )
    return RowsNamedMessage(rows=tuple(found[:_MOST_ROWS]), more=max(0, len(found) - _MOST_ROWS))
