"""The start page: the demo in one click, a new study, or one that is there."""

from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field

from bonewright.web.failures import Refusal
from bonewright.web.pages import render
from bonewright.web.reception import Reception, folders_in, is_folder, shelf, studies_on

__all__ = ["router"]

router = APIRouter()


def _reception_of(request: Request) -> Reception:
    reception: Reception = request.app.state.reception
    return reception


Desk = Annotated[Reception, Depends(_reception_of)]
PathText = Annotated[str, Field(max_length=4000, pattern=r"^[^\x00]*$")]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class StartRequest(_Message):
    """What to open: the demo, a new study, or the study in a folder."""

    wanted: Literal["demo", "new", "open"]
    title: Annotated[str, Field(max_length=300)] = ""
    folder: PathText = ""


class StartedMessage(_Message):
    """The page to go to."""

    go_to: str


class FolderMessage(_Message):
    """A folder by its name and whole path."""

    name: str
    path: str
    is_study: bool


class FoldersMessage(_Message):
    """What stands in a folder; ``above`` is the folder that holds it, empty at the top."""

    path: str
    above: str
    folders: list[FolderMessage]


@router.get("/start", response_class=HTMLResponse)
def start_page(desk: Desk) -> str:
    """Show what can be opened."""
    return render(
        "start.html",
        open_study=None if desk.room is None else desk.room.folder,
        shelf=shelf(),
        studies=studies_on(shelf()),
        home=Path.home(),
    )


@router.post("/api/start")
def start(request: StartRequest, desk: Desk) -> StartedMessage:
    """Open a study."""
    if request.wanted == "demo":
        desk.open_demo()
    elif request.wanted == "new":
        desk.begin(request.title, request.folder)
    else:
        desk.open(Path(request.folder.strip()))
    return StartedMessage(go_to="/study")


@router.get("/api/folders")
def folders(at: PathText = "") -> FoldersMessage:
    """List the folders in a folder, to choose one by clicking."""
    try:
        place = Path(at).expanduser() if at else Path.home()
    except RuntimeError as error:  # '~somebody', who has no home here
        raise Refusal(404, f"There is no folder {at}.", remedy="Write it out in full.") from error
    if not place.is_absolute() or not is_folder(place):
        raise Refusal(404, f"There is no folder {place}.", remedy="Go up and choose another.")
    place = place.resolve()
    return FoldersMessage(
        path=str(place),
        above="" if place.parent == place else str(place.parent),
        folders=[
            FolderMessage(name=seen.folder.name, path=str(seen.folder), is_study=seen.is_study)
            for seen in folders_in(place)
        ],
    )
