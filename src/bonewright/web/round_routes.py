"""The animal in the round over HTTP: what can be shown, its solids, distances, outlines."""

from typing import TYPE_CHECKING, Annotated, Literal

import numpy as np
from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from bonewright.quantity import Quantity
from bonewright.report.wording import interval_words
from bonewright.web.body_routes import run_with_body
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.body.grown import GrownBody
    from bonewright.body.points_on_body import BodyPoint
    from bonewright.pipeline import Run

__all__ = ["router"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]
Triple = tuple[float, float, float]

_FARTHEST_MM = 100_000.0


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class PointMessage(_Message):
    """A named point of the body; ``at_mm`` forward, to the left, up."""

    name: str
    at_mm: Triple


class ScanMessage(_Message):
    """A scan of the study that can be laid over the body."""

    name: str
    title: str


class RoundMessage(_Message):
    """What can be shown in the round; ``mount_mm`` is the earlier mount's outline, side on."""

    number: int
    points: tuple[PointMessage, ...]
    scans: tuple[ScanMessage, ...]
    mount_mm: tuple[tuple[float, float], ...]


class EndMessage(_Message):
    """One end of a distance: a named point, or a place in mm."""

    name: str = ""
    at_mm: Annotated[Triple | None, Field(description="forward, left, up")] = None


class DistanceAsked(_Message):
    """Two ends of a distance."""

    first: EndMessage
    second: EndMessage


class DistanceMessage(_Message):
    """How far two points are apart: the middle of the draws, in words, and what it is worth."""

    middle_mm: float
    words: str
    worth: str
    href: str = ""
    finding: str = ""


@router.get("/api/round")
def shown_in_the_round(room: Room) -> RoundMessage:
    """Say what there is to be shown."""
    from bonewright.body.points_on_body import named_points

    run, grown = run_with_body(room)
    return RoundMessage(
        number=room.look().number,
        points=tuple(
            PointMessage(name=point.name, at_mm=_rounded(point.at_mm))
            for point in named_points(grown)
        ),
        scans=tuple(
            ScanMessage(name=scan.scan_id, title=f"{scan.scan_id}: {scan.kind} of {scan.body_id}")
            for scan in run.study.body_scans
        ),
        mount_mm=_mount_outline(run, grown),
    )


def _rounded(place: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> Triple:
    x, y, z = (round(float(value), 2) for value in place)
    return x, y, z


def _mount_outline(run: "Run", grown: "GrownBody") -> tuple[tuple[float, float], ...]:
    """Return the outline of the earlier mount in its photograph, mm, its toes at the body's."""
    from bonewright.body.points_on_body import named_points
    from bonewright.report.figures.mount_drawing import mount_outline_mm

    outline = None if run.testimony is None else mount_outline_mm(run.testimony)
    toes = [point.at_mm for point in named_points(grown) if "middle toe joint" in point.name]
    if outline is None or not toes:
        return ()
    placed = outline + toes[0][[0, 2]]
    return tuple((round(float(x), 1), round(float(z), 1)) for x, z in placed)


@router.post("/api/round/distance")
def distance(asked: DistanceAsked, room: Room) -> DistanceMessage:
    """Measure between two points of the body, in every imagined world."""
    from bonewright.body.points_on_body import bone_between, distance_draws_mm

    run, grown = run_with_body(room)
    first, second = (_point(grown, end) for end in (asked.first, asked.second))
    summary = Quantity(draws=distance_draws_mm(grown, first, second), unit="mm").summary()
    bone = bone_between(grown, first, second)
    key = "" if bone is None else f"skeleton.mean.{bone[0]}.{bone[1]}"
    finding = next((found for found in run.findings if found.key == key), None)
    return DistanceMessage(
        middle_mm=summary.median,
        words=interval_words(summary, "mm"),
        worth=(
            "The interval holds 19 in 20 of the bodies that the bones allow, each standing in its"
            " own balance; how thick fat and feathers lie at a point is not in it."
        ),
        href="" if finding is None else f"/skeleton#{finding.key}",
        finding="" if finding is None else finding.title,
    )


def _point(grown: "GrownBody", end: EndMessage) -> "BodyPoint":
    from bonewright.body.points_on_body import named_points, point_at

    if end.at_mm is not None:
        if max(abs(value) for value in end.at_mm) > _FARTHEST_MM:
            raise Refusal(
                422, "That place is far outside the body.", remedy="Point at the body itself."
            )
        return point_at(grown, np.array(end.at_mm))
    for point in named_points(grown):
        if point.name == end.name:
            return point
    raise Refusal(
        404,
        f"The body has no point named '{end.name}'.",
        remedy="Choose one from the list, or point at the body.",
    )


@router.get("/solid/bones.glb")
def bones(room: Room) -> Response:
    """Hand over the bones as they stand in the body, measured ones apart from stand-ins."""
    from bonewright.report.body_desk import bones_glb

    return _glb(bones_glb(run_with_body(room)[1]), "bones")


@router.get("/solid/scan-{name}.glb")
def scan(name: str, room: Room) -> Response:
    """Hand over a scan of the study at life size, standing on the ground amid the feet."""
    from bonewright.report.body_desk import scan_glb

    run, _ = run_with_body(room)
    for known in run.study.body_scans:
        if known.scan_id == name:
            return _glb(scan_glb(known), f"scan-{len(name)}")
    raise Refusal(404, "There is no such scan.", remedy="See the table of scans.")


def _glb(content: bytes, name: str) -> Response:
    return Response(
        content,
        media_type="model/gltf-binary",
        headers={"content-disposition": f'attachment; filename="{name}.glb"'},
    )


@router.get("/round/outline.svg")
def outline(
    room: Room,
    state: Literal["lean", "mean", "fat"] = "mean",
    plumage: bool = False,
    azimuth: Annotated[float, Query(ge=-360, le=360)] = 0,
    elevation: Annotated[float, Query(ge=-90, le=90)] = 0,
    scale: Annotated[float, Query(ge=0.1, le=1000)] = 1,
) -> Response:
    """Draw the outline of the body from one side, true to scale in mm."""
    from bonewright.web.round_outline import outline_svg

    run, grown = run_with_body(room)
    svg = outline_svg(
        grown,
        title=run.study.settings.study.title,
        invented=run.study.settings.study.invented,
        state=state,
        plumage=plumage,
        azimuth_deg=azimuth,
        elevation_deg=elevation,
        scale_denominator=scale,
    )
    return Response(
        svg,
        media_type="image/svg+xml",
        headers={
            "content-disposition": f'attachment; filename="outline-1-{scale:g}.svg"',
            "content-security-policy": "default-src 'none'; sandbox",
        },
    )
