"""Points on the standing body, named or pointed at, and how far apart they are, world by world.

A point hangs on a segment: so far along its axis, so far above and beside it. In another
imagined world the segment has another length and other hoops, and the point goes with them,
so that a distance taken on one picture of the body comes with what the bones leave open.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment
from bonewright.body.measures import joint_name, side_label
from bonewright.body.overlap import typical_lofts
from bonewright.body.places import Place, place_segments, point_on, to_world
from bonewright.body.silhouettes import standing_datum
from bonewright.quantity import Draws

__all__ = ["BodyPoint", "bone_between", "distance_draws_mm", "named_points", "point_at"]

_ALONG_AXIS = 101
_MIRROR = np.array([1.0, -1.0, 1.0])
# A joint sits at the end of a bone if the plan attaches it there (a share of the length).
_AT_THE_END = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BodyPoint:
    """A point of the body.

    ``at_mm`` (3,) is where it stands on the middle body: x forward from amid the feet, y to
    the left, z up. ``along`` is its place on the segment's axis, 0 to 1; ``off_mm`` (3,) how
    far it lies from there along, above and beside the axis on the middle body. ``name`` is
    empty for a point that was pointed at.
    """

    name: str
    segment: str
    side: str
    along: float
    off_mm: Draws
    at_mm: Draws


def named_points(body: GrownBody) -> tuple[BodyPoint, ...]:
    """Return the joints of the body and the tips of what nothing hangs on, by name."""
    lofts, places = _middle(body)
    parents = {part.segment.parent for part in body.plan.segments.values()}
    points = []
    for name, part in body.plan.segments.items():
        sides = ("left", "right") if part.copies == 2 else ("middle",)
        for side in sides:
            if part.segment.parent is not None:
                points.append(_named(body, lofts, places, name, side, along=0.0))
            if name not in parents:
                points.append(_named(body, lofts, places, name, side, along=1.0))
    return tuple(points)


def _middle(body: GrownBody) -> tuple[dict[str, LoftedSegment], dict[str, Place]]:
    lofts = typical_lofts(body.lofts)
    swing = body.stance.middle_swing_rad
    return lofts, place_segments(body.plan, lofts, swing)


def _named(
    body: GrownBody,
    lofts: Mapping[str, LoftedSegment],
    places: Mapping[str, Place],
    segment: str,
    side: str,
    *,
    along: float,
) -> BodyPoint:
    world = to_world(places[segment], point_on(lofts[segment], along))[0]
    at_mm = _sided(world, side) - standing_datum(body)
    tip = f"tip of the {side_label(segment, side)}"
    return BodyPoint(
        name=tip if along else joint_name(segment, side),
        segment=segment,
        side=side,
        along=along,
        off_mm=np.zeros(3),
        at_mm=at_mm,
    )


def _sided(points: Draws, side: str) -> Draws:
    return points * _MIRROR if side == "right" else points


def point_at(body: GrownBody, at_mm: Draws) -> BodyPoint:
    """Hang a point of space (3,), mm in the axes of the standing body, on the nearest segment.

    Nearest is the segment whose surface is, taking it for round.
    """
    lofts, places = _middle(body)
    best: tuple[float, BodyPoint] | None = None
    for name, loft in lofts.items():
        sides = ("left", "right") if body.plan.segments[name].copies == 2 else ("middle",)
        for side in sides:
            place = places[name]
            world = _sided(at_mm + standing_datum(body), side)
            own = place.turn[0].T @ (world - place.origin_mm[0])
            along = np.linspace(0, 1, _ALONG_AXIS)
            axis = np.stack([point_on(loft, float(station))[0] for station in along])
            distance = np.linalg.norm(own - axis, axis=1)
            nearest = int(np.argmin(distance))
            radius = np.mean([sizes[0] for sizes in _sizes(loft, float(along[nearest]))])
            found = BodyPoint(
                name="",
                segment=name,
                side=side,
                along=float(along[nearest]),
                off_mm=_frame(loft, float(along[nearest])) @ (own - axis[nearest]),
                at_mm=np.asarray(at_mm, dtype=np.float64),
            )
            gap = float(distance[nearest] - radius)
            if best is None or gap < best[0]:
                best = (gap, found)
    if best is None:
        raise ValueError("a body has segments")
    return best[1]


def _frame(loft: LoftedSegment, along: float) -> Draws:
    """Return the directions along, above and beside the axis at a place, as rows."""
    angle = loft.bend_rad * along
    return np.array(
        [
            [np.cos(angle), 0.0, np.sin(angle)],
            [-np.sin(angle), 0.0, np.cos(angle)],
            [0.0, 1.0, 0.0],
        ]
    )


def _sizes(loft: LoftedSegment, along: float) -> tuple[Draws, Draws, Draws]:
    """Return half-width, height above and height below the axis at a place, each (n,) mm."""
    after = int(np.clip(np.searchsorted(loft.station, along), 1, len(loft.station) - 1))
    start, end = loft.station[after - 1], loft.station[after]
    weight = float(np.clip((along - start) / (end - start), 0, 1))
    widths, above, below = (
        (1 - weight) * size[:, after - 1] + weight * size[:, after]
        for size in (loft.half_width_mm, loft.dorsal_mm, loft.ventral_mm)
    )
    return widths, above, below


def _world_draws(body: GrownBody, point: BodyPoint) -> Draws:
    """Return where a point is in every world, (n, 3) mm in the axes of the places."""
    loft = body.lofts[point.segment]
    length = loft.length_mm / np.mean(loft.length_mm)
    width, above, below = (
        sizes / np.mean(sizes) if np.mean(sizes) > 0 else length
        for sizes in _sizes(loft, point.along)
    )
    along, up, out = point.off_mm
    off = np.stack(
        (along * length, up * (above if up >= 0 else below), out * width),
        axis=1,
    )
    own = point_on(loft, point.along) + off @ _frame(loft, point.along)
    return _sided(to_world(body.stance.places[point.segment], own), point.side)


def distance_draws_mm(body: GrownBody, first: BodyPoint, second: BodyPoint) -> Draws:
    """Return how far two points are apart in every world, (n,) mm."""
    apart = _world_draws(body, first) - _world_draws(body, second)
    return np.asarray(np.linalg.norm(apart, axis=1))


def bone_between(body: GrownBody, first: BodyPoint, second: BodyPoint) -> tuple[str, str] | None:
    """Return the element and code of the bone that runs from one joint to the other, if one does.

    It does where both are joints of one side, the second hangs on the first's segment at its
    far end, and that segment is as long as the bone.
    """
    for near, far in ((first, second), (second, first)):
        if not (near.name and far.name) or near.along != 0 or far.along != 0:
            continue
        segment, child = (body.plan.segments[point.segment].segment for point in (near, far))
        at_end = (
            child.parent == near.segment
            and near.side == far.side
            and abs(child.attach_along - 1) <= _AT_THE_END
            and abs(child.attach_up) <= _AT_THE_END
            and abs(child.attach_out) <= _AT_THE_END
        )
        if at_end and segment.length_ratio == 1 and segment.bend_rad == 0:
            return segment.element, segment.code
    return None
