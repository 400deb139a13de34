"""Contours of sections over HTTP: found in a picture of the study, shown, accepted."""

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.study.section_images import IMAGE_SUFFIXES
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.report.section_desk import PictureToTrace

__all__ = ["router"]

router = APIRouter(prefix="/api/contour")

Room = Annotated[Workroom, Depends(workroom_of)]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ContourRequest(_Message):
    """A picture in the study's files, its scale bar, and what counts as bone."""

    file: Annotated[str, Field(min_length=1, max_length=400)]
    bar_mm: Annotated[float, Field(gt=0, le=1000)]
    bar_pixels: Annotated[float, Field(gt=0, le=100_000)]
    rule: Literal["half-maximum", "otsu", "fixed"] = "half-maximum"
    level: float | None = None
    dark_bone: bool = False
    anterior_deg: Annotated[float, Field(ge=-360, le=360)] = 90.0


class AcceptRequest(ContourRequest):
    """The same, with the name under which the contour is kept."""

    name: Annotated[str, Field(min_length=1, max_length=80)]


class ContourMessage(_Message):
    """The sheet that shows the contour, as an address of its own content."""

    sheet: str
    edge_doubt_mm: float


class AcceptedMessage(_Message):
    """The outline's name, for the column outlineFile, and its accuracy in mm."""

    file: str
    accuracy_mm: float


class PicturesMessage(_Message):
    """Pictures in the study's files that could show a section."""

    files: list[str]


@router.get("/pictures")
def read_pictures(room: Room) -> PicturesMessage:
    """List the pictures in the study's files."""
    files = room.folder / "files"
    found = (path for path in files.rglob("*") if path.suffix.lower() in IMAGE_SUFFIXES)
    return PicturesMessage(files=sorted(path.relative_to(files).as_posix() for path in found))


@router.post("/look")
def look(request: ContourRequest, room: Room) -> ContourMessage:
    """Find the contour and show it over its picture."""
    found = _traced(request, room)
    sheet = base64.b64encode(found.sheet_svg.encode("utf-8")).decode("ascii")
    return ContourMessage(
        sheet=f"data:image/svg+xml;base64,{sheet}", edge_doubt_mm=found.traced.edge_doubt_mm
    )


@router.post("/accept")
def accept(request: AcceptRequest, room: Room) -> AcceptedMessage:
    """Keep the contour as an outline of the study."""
    from bonewright.report.section_desk import accept_trace

    found = _traced(request, room).traced
    file = accept_trace(room.folder, request.name, found, by="page")
    return AcceptedMessage(file=file, accuracy_mm=round(found.edge_doubt_mm, 4))


def _traced(request: ContourRequest, room: Workroom) -> "PictureToTrace":
    from bonewright.report.section_desk import TraceChoices, traced

    return traced(
        _picture(room, request.file),
        f"files/{request.file}",
        pixel_mm=request.bar_mm / request.bar_pixels,
        choices=TraceChoices(
            rule=request.rule,
            level=request.level,
            dark_bone=request.dark_bone,
            anterior_deg=request.anterior_deg,
        ),
    )


def _picture(room: Workroom, name: str) -> Path:
    files = (room.folder / "files").resolve()
    path = (files / name).resolve()
    if not path.is_relative_to(files) or path.suffix.lower() not in IMAGE_SUFFIXES:
        raise Refusal(
            404, "There is no such picture in the study's files.", remedy="Choose one of the list."
        )
    return path
