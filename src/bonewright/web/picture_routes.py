"""Pictures over HTTP: shown upright as PNG, marked, scored."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from bonewright.study.faults import Fault
from bonewright.study.pictures import shown_picture
from bonewright.web import picture_desk
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.messages import SavedMessage
from bonewright.web.picture_messages import (
    DeskMessage,
    MarksMessage,
    MarksRequest,
    ScoresRequest,
)
from bonewright.web.sheets import version_of
from bonewright.web.workroom import Workroom

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]

_LONGEST_PX = 1800


@router.get("/api/pictures")
def read_pictures(room: Room) -> DeskMessage:
    """Say which pictures there are, and what can be marked and scored."""
    return picture_desk.desk(room)


@router.get("/picture/{picture}.png")
def show_picture(picture: str, room: Room) -> Response:
    """Show a picture upright, as a PNG made here: the file itself is never handed out."""
    header, rows = (sheet := room.sheet("pictures")[1]).header, sheet.rows
    for cells in rows:
        row = {c: cell.strip() for c, cell in zip(header, cells, strict=True)}
        path = picture_desk.picture_path(room, row) if row.get("pictureID") == picture else None
        if path is None:
            continue
        shown = shown_picture(path, longest_px=_LONGEST_PX)
        if isinstance(shown, Fault):
            raise Refusal(422, f"Expected {shown.expected}.", remedy=shown.mend)
        return Response(shown, media_type="image/png")
    raise Refusal(404, "There is no such picture.", remedy="Reload the page.")


@router.get("/api/marks/{picture}")
def read_marks(
    picture: str,
    room: Room,
    observer: Annotated[str, Query(max_length=200)],
    marking_round: Annotated[int, Query(alias="round", ge=1, le=20)],
) -> MarksMessage:
    """Give one observer's marks of one picture in one round, and the observer's scores."""
    return picture_desk.marks_of(
        room, picture, observer=observer.strip(), marking_round=marking_round
    )


@router.post("/api/marks/{picture}")
def save_marks(picture: str, request: MarksRequest, room: Room) -> SavedMessage:
    """Keep one observer's marks of one picture in one round."""
    picture_desk.keep_marks(room, picture, request)
    kept = picture_desk.marks_of(
        room, picture, observer=request.observer, marking_round=request.round
    )
    return SavedMessage(version=kept.version)


@router.post("/api/scores/{picture}")
def save_scores(picture: str, request: ScoresRequest, room: Room) -> SavedMessage:
    """Keep one scorer's scores of one picture."""
    picture_desk.keep_scores(room, picture, request)
    return SavedMessage(version=version_of(room.sheet("picture_marks")[0]))
