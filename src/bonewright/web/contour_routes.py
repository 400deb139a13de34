"""Contours of sections over HTTP: a picture of the study shown, its contour found, accepted."""

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.study.raw import RawTable
from bonewright.study.section_images import IMAGE_SUFFIXES, read_grey
from bonewright.study.section_rows import cell_of, sections_without_sizes
from bonewright.study.within import stands_within
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
    """The same, with the section's name, and the cells of its row if that is new."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    bone: Annotated[str, Field(max_length=200)] = ""
    species: Annotated[str, Field(max_length=200)] = ""
    element: Annotated[str, Field(max_length=40)] = ""
    position: Annotated[str, Field(max_length=20)] = ""
    bone_length_mm: Annotated[str, Field(max_length=20)] = ""


class ContourMessage(_Message):
    """The sheet that shows the contour, as an address of its own content."""

    sheet: str
    edge_doubt_mm: float


class AcceptedMessage(_Message):
    """The outline's name, and the row of the table of sections that names it."""

    file: str
    section: str
    row_is_new: bool


class PicturesMessage(_Message):
    """Pictures in the study's files that could show a section, and what they could be of.

    ``waiting`` are the sections of the table that have neither diameters nor outline.
    """

    files: list[str]
    waiting: list[str]
    bones: list[str]
    species: list[str]


class PictureRequest(_Message):
    """A picture in the study's files."""

    file: Annotated[str, Field(min_length=1, max_length=400)]


class PictureMessage(_Message):
    """A picture as an address of its own content, and its size in pixels of the file."""

    image: str
    width: int
    height: int


@router.get("/pictures")
def read_pictures(room: Room) -> PicturesMessage:
    """List the pictures in the study's files, and the rows a contour may go to."""
    files = room.folder / "files"
    found = (path for path in files.rglob("*") if path.suffix.lower() in IMAGE_SUFFIXES)
    raw = room.look().raw
    return PicturesMessage(
        files=sorted(path.relative_to(files).as_posix() for path in found),
        waiting=list(sections_without_sizes(raw["sections"])),
        bones=_names(raw["specimens"], "materialEntityID"),
        species=_names(raw["relatives"], "scientificName"),
    )


@router.post("/picture")
def show(request: PictureRequest, room: Room) -> PictureMessage:
    """Show a picture, made small enough to look at."""
    from bonewright.report.contour_sheet import picture_shown

    grey = read_grey(_picture(room, request.file), f"files/{request.file}")
    return PictureMessage(image=picture_shown(grey), width=grey.shape[1], height=grey.shape[0])


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
    """Keep the contour as an outline of the study, named in the section's row."""
    from bonewright.report.section_kept import accept_trace

    kept = accept_trace(
        room.folder,
        request.name,
        _traced(request, room).traced,
        cells={
            "materialEntityID": request.bone,
            "scientificName": request.species,
            "element": request.element,
            "position": request.position,
            "boneLength": request.bone_length_mm,
        },
        by="page",
    )
    return AcceptedMessage(file=kept.file, section=kept.section_id, row_is_new=kept.row_is_new)


def _names(table: RawTable, column: str) -> list[str]:
    return sorted({cell_of(table, row, column) for row in table.rows} - {""})


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
    files = room.folder / "files"
    path = files / name
    if "\0" in name or not stands_within(path, files) or path.suffix.lower() not in IMAGE_SUFFIXES:
        raise Refusal(
            404, "There is no such picture in the study's files.", remedy="Choose one of the list."
        )
    return path
