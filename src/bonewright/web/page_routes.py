"""The views as pages, and what they embed: fonts, trade terms, what the last edit moved."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import FileResponse, HTMLResponse

from bonewright.study.demo import is_copy_of_demo
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.typeface import fonts_folder
from bonewright.web.changes_shown import changes_shown
from bonewright.web.failures import Refusal
from bonewright.web.first_steps import first_steps
from bonewright.web.glossary import glossary
from bonewright.web.job import job_shown
from bonewright.web.label_shown import labels_shown
from bonewright.web.live_routes import face_of, workroom_of
from bonewright.web.messages import GlossaryMessage, TermMessage
from bonewright.web.overview import overview_shown
from bonewright.web.pages import render
from bonewright.web.results_shown import doubts_shown, figures_shown, findings_shown, tables_shown
from bonewright.web.showing import STEP_OF_TABLE, problems_shown, standing_shown
from bonewright.web.takeaway_shown import kept_shown, no_body_words
from bonewright.web.views import VIEW_BY_KEY, StepView
from bonewright.web.workroom import Workroom

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]


@router.get("/", response_class=HTMLResponse)
def first_page(request: Request, room: Room) -> str:
    """Show the study as a whole."""
    return _page(VIEW_BY_KEY["study"], room, shared=request.app.state.shared)


@router.get("/api/glossary")
def read_glossary() -> GlossaryMessage:
    """Give the trade terms with what they mean."""
    return GlossaryMessage(
        terms=[TermMessage(words=list(term.words), meaning=term.meaning) for term in glossary()]
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


@router.get("/part/changes", response_class=HTMLResponse)
def changes(room: Room) -> str:
    """Show what the last edit moved: a part of the judgement's page, which takes a while."""
    return render("changes.html", changes=changes_shown(room.compared()))


@router.get("/{key}", response_class=HTMLResponse)
def view_page(key: str, request: Request, room: Room) -> str:
    """Show one step."""
    if key not in VIEW_BY_KEY:
        raise Refusal(404, "There is no such step.", remedy="Choose a step from the list.")
    return _page(VIEW_BY_KEY[key], room, shared=request.app.state.shared)


def _page(view: StepView, room: Workroom, *, shared: bool) -> str:
    standing = room.look()
    run, stale = standing.run_for(view.key)
    shown: dict[str, object] = {
        "view": view,
        "study_mark": room.mark,
        "shared": shared,
        "face": face_of(room, standing, view.key),
        "stale": stale and run is not None,
        "standing": standing_shown(standing),
        "problems": problems_shown(standing, view),
        "doubts": doubts_shown(run, view.key),
        "findings": findings_shown(run, view.key),
        "figures": figures_shown(run, view.key),
        "result_tables": tables_shown(run, view.key),
        "unanswered": "" if run is None else run.unanswered.get(view.key, ""),
        "tables": [TABLE_BY_NAME[name] for name in view.tables],
        "step_of_table": STEP_OF_TABLE,
        "labels": labels_shown(run) if view.key == "takeaway" else (),
    }
    if view.key == "study":
        shown |= {
            "overview": overview_shown(standing),
            "job": job_shown(standing),
            "first": first_steps(standing),
            "demo_copy": is_copy_of_demo(room.folder),
            "folder": room.folder,
        }
    if view.key == "takeaway":
        shown |= {
            "errands": room.errands.all(),
            "kept_runs": kept_shown(room.folder),
            "no_body": no_body_words(run),
        }
    return render(view.template, **shown)
