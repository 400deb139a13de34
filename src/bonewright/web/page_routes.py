"""The views as pages, and what they embed: figures, fonts, the report."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import FileResponse, HTMLResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined

from bonewright.report.wording import plural
from bonewright.study.bone_codes import ELEMENTS
from bonewright.study.bone_drawings import bone_drawing
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.typeface import fonts_folder
from bonewright.web.changes_shown import ChangesShown, changes_shown
from bonewright.web.failures import Refusal
from bonewright.web.figure_font import with_font
from bonewright.web.label_shown import labels_shown
from bonewright.web.live_routes import face_of, workroom_of
from bonewright.web.overview import overview_shown
from bonewright.web.results_shown import doubts_shown, figures_shown, findings_shown, tables_shown
from bonewright.web.showing import STEP_OF_TABLE, problems_shown, standing_shown
from bonewright.web.views import VIEW_BY_KEY, StepView
from bonewright.web.workroom import Standing, Workroom

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]

_TEMPLATES = Environment(
    loader=PackageLoader("bonewright.web", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_TEMPLATES.filters["counted"] = plural
_TEMPLATES.globals["bone_drawings"] = lambda: [
    {"element": element, "drawing": bone_drawing(element)} for element in ELEMENTS
]

_REPORTS = {"report.pdf": "application/pdf", "report.html": "text/html"}


@router.get("/", response_class=HTMLResponse)
def first_page(room: Room) -> str:
    """Show the study as a whole."""
    return _page(VIEW_BY_KEY["study"], room.look())


@router.get("/figure/{key}.svg")
def figure(key: str, room: Room) -> Response:
    """Draw one figure of the last run."""
    from bonewright.report.figures import FIGURES
    from bonewright.report.rendering import render_svg

    run = None
    if key in FIGURES:
        run, _ = room.look().run_for(FIGURES[key].step)
    if run is None or not FIGURES[key].present(run):
        raise Refusal(
            404,
            "There is no such figure, or its step has no answer yet.",
            remedy="See what the step says is missing.",
        )
    svg = with_font(render_svg(FIGURES[key].chart_fn(run)))
    return Response(
        svg,
        media_type="image/svg+xml",
        # A drawing is looked at, never run.
        headers={
            "content-security-policy": (
                "default-src 'none'; style-src 'unsafe-inline'; font-src data:;"
                " img-src data:; sandbox"
            )
        },
    )


@router.get("/fonts/{name}")
def font(name: str) -> FileResponse:
    """Serve a font file of the report."""
    files = {path.name: path for path in fonts_folder().glob("*.woff2")}
    if name not in files:
        raise Refusal(404, "There is no such font.", remedy="Reload the page.")
    return FileResponse(
        files[name], media_type="font/woff2", headers={"cache-control": "max-age=86400, private"}
    )


@router.get("/report/{name}")
def report(name: str, room: Room) -> FileResponse:
    """Write the report of the last run and hand it over."""
    if name not in _REPORTS:
        raise Refusal(404, "The report comes as PDF and as HTML.", remedy="Choose one of the two.")
    run = _fresh_run(room.look())
    from bonewright.report.write import write_report

    files: dict[str, Path] = {path.name: path for path in write_report(run, room.folder)}
    return FileResponse(files[name], media_type=_REPORTS[name], filename=name)


@router.get("/{key}", response_class=HTMLResponse)
def view_page(key: str, room: Room) -> str:
    """Show one step."""
    if key not in VIEW_BY_KEY:
        raise Refusal(404, "There is no such step.", remedy="Choose a step from the list.")
    moved = changes_shown(room.compared()) if key == "judgement" else None
    return _page(VIEW_BY_KEY[key], room.look(), changes=moved)


def _fresh_run(standing: Standing) -> "Run":
    if standing.run is None or standing.stale:
        raise Refusal(
            409,
            "The report waits until the results are computed from the tables as they are.",
            remedy="Mend the problems listed on the page, or wait for the computing to end.",
        )
    return standing.run


def _page(view: StepView, standing: Standing, *, changes: ChangesShown | None = None) -> str:
    run, stale = standing.run_for(view.key)
    return _TEMPLATES.get_template(view.template).render(
        view=view,
        face=face_of(standing, view.key),
        stale=stale and run is not None,
        standing=standing_shown(standing),
        problems=problems_shown(standing, view),
        doubts=doubts_shown(run, view.key),
        findings=findings_shown(run, view.key),
        figures=figures_shown(run, view.key),
        result_tables=tables_shown(run, view.key),
        unanswered="" if run is None else run.unanswered.get(view.key, ""),
        overview=overview_shown(standing) if view.key == "study" else {},
        tables=[TABLE_BY_NAME[name] for name in view.tables],
        step_of_table=STEP_OF_TABLE,
        changes=changes,
        labels=labels_shown(run) if view.key == "judgement" else (),
    )
