"""The pose: a chain of joints, and the stance in which the body stands over its feet.

The ground lies flat, x points forward, y to the left, z up. A joint turns its segment in
the plane of its parent, dorsally where positive, and then splays it outwards about its own
dorsal direction. Of paired segments the left one is placed; the right one is its mirror.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.loft import LoftedSegment
from bonewright.body.plan import BodyPlan
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = ["Place", "Stance", "highest", "place_segments", "point_on", "stand", "to_world"]

_ROUNDS = 12
_CLOSE_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Where a segment is: ``origin_mm`` (n, 3) of its axis, ``turn`` (n, 3, 3) or (1, 3, 3)."""

    origin_mm: Draws
    turn: Draws


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stance:
    """A standing pose, draw by draw.

    ``swing_rad`` (n,) is how far the balancing joints were turned from the plan;
    ``ground_mm`` the height of the ground in the axes of the places; ``centre_mm`` (n, 3)
    the centre of mass; ``hip_height_mm`` (n,) the height of the joint by which the legs hang
    on the root. ``foot_mm`` (n, 2) are the ends of the feet, hindmost and foremost.
    ``beyond`` names the joints turned beyond their range, with the share of draws.
    """

    places: Mapping[str, Place]
    swing_rad: Draws
    ground_mm: Draws
    centre_mm: Draws
    hip_height_mm: Draws
    foot_mm: Draws
    beyond: Mapping[str, float]


def _pitch(angle: Draws) -> Draws:
    cosine, sine = np.cos(angle), np.sin(angle)
    turn = np.zeros((len(angle), 3, 3))
    turn[:, 0, 0], turn[:, 0, 2] = cosine, -sine
    turn[:, 2, 0], turn[:, 2, 2] = sine, cosine
    turn[:, 1, 1] = 1
    return turn


def _splay(angle: float) -> Draws:
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]]])


def point_on(loft: LoftedSegment, along: float, up: float = 0.0, out: float = 0.0) -> Draws:
    """Return a point of a segment in its own axes, (n, 3) mm.

    ``along`` is a fraction of the axis; ``up`` and ``out`` are fractions of the segment's
    length, towards its dorsal side there and to the left.
    """
    angle = loft.bend_rad * along
    if abs(loft.bend_rad) < 1e-9:
        axis_x, axis_z = along, 0.0
    else:
        axis_x = float(np.sin(angle)) / loft.bend_rad
        axis_z = float(1 - np.cos(angle)) / loft.bend_rad
    unit = np.array([axis_x - up * np.sin(angle), out, axis_z + up * np.cos(angle)])
    return np.asarray(loft.length_mm[:, None] * unit)


def place_segments(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], swing_rad: Draws
) -> dict[str, Place]:
    """Place every segment, the root's axis beginning at the origin.

    ``swing_rad`` (n,) turns each joint by as much as its segment's ``balance`` says.
    """
    places: dict[str, Place] = {}
    for name, part in plan.segments.items():
        segment = part.segment
        angle = np.array([segment.angle_rad])
        if segment.balance:
            angle = angle + segment.balance * swing_rad
        own = _pitch(angle) @ _splay(segment.splay_rad)[0]
        if segment.parent is None:
            places[name] = Place(origin_mm=np.zeros((1, 3)), turn=own)
            continue
        parent, loft = places[segment.parent], lofts[segment.parent]
        spot = point_on(loft, segment.attach_along, segment.attach_up, segment.attach_out)
        bent = _pitch(np.array([loft.bend_rad * segment.attach_along]))
        places[name] = Place(
            origin_mm=parent.origin_mm + _turned(parent.turn, spot),
            turn=np.einsum("nij,njk->nik", parent.turn @ bent[0], own)
            if len(own) > 1
            else parent.turn @ (bent[0] @ own[0]),
        )
    return places


def to_world(place: Place, points_mm: Draws) -> Draws:
    """Bring points (n, 3) of a segment into the axes of the whole body."""
    return np.asarray(place.origin_mm + _turned(place.turn, points_mm))


def _turned(turn: Draws, points: Draws) -> Draws:
    if len(turn) == 1:
        return np.asarray(points @ turn[0].T)
    return np.asarray(np.einsum("nij,nj->ni", turn, points))


def stand(
    plan: BodyPlan,
    lofts: Mapping[str, LoftedSegment],
    *,
    mass_kg: Mapping[str, Draws],
    centre_mm: Mapping[str, Draws],
) -> Stance:
    """Turn the balancing joints until the centre of mass stands over the middle of the feet.

    Parameters
    ----------
    mass_kg : mapping from segment to (n,) float
        Mass of each segment, of both sides where it is paired.
    centre_mm : mapping from segment to (n, 3) float
        Centre of mass of each segment in its own axes.

    Raises
    ------
    OutsideRange
        If the plan has no feet or no balancing joint, or no turn makes the body stand.
    """
    feet = [name for name, part in plan.segments.items() if part.segment.on_ground]
    if not feet or not any(part.segment.balance for part in plan.segments.values()):
        raise OutsideRange(
            "The body plan cannot stand: it has no feet on the ground or no joint that balances.",
            remedy="Mark feet and balancing joints in tables/body_segments.csv.",
        )
    n_draws = len(next(iter(mass_kg.values())))
    total = np.sum(list(mass_kg.values()), axis=0)

    def lean(swing: Draws) -> tuple[Draws, dict[str, Place], Draws, Draws]:
        places = place_segments(plan, lofts, swing)
        centre = np.zeros((n_draws, 3))
        for name, mass in mass_kg.items():
            world = to_world(places[name], centre_mm[name])
            if plan.segments[name].copies == 2:
                world = world * [1, 0, 1]
            centre += (mass / total)[:, None] * world
        ends = np.stack(
            [to_world(places[f], point_on(lofts[f], end))[:, 0] for f in feet for end in (0.0, 1.0)]
        )
        foot = np.stack((ends.min(axis=0), ends.max(axis=0)), axis=1)
        return centre[:, 0] - foot.mean(axis=1), places, centre, foot

    before = np.zeros(n_draws)
    gap_before = lean(before)[0]
    swing = np.full(n_draws, 0.05)
    for _ in range(_ROUNDS):
        gap, places, centre, foot = lean(swing)
        if np.max(np.abs(gap)) < _CLOSE_MM:
            break
        slope = (gap - gap_before) / np.where(swing == before, 1.0, swing - before)
        step = np.where(np.abs(gap) < _CLOSE_MM / 10, 0.0, -gap / np.where(slope, slope, 1.0))
        before, gap_before = swing, gap
        swing = swing + np.clip(step, -0.5, 0.5)
    else:
        raise OutsideRange(
            "No turn of the balancing joints brings the centre of mass over the feet.",
            remedy="Look at the joints' angles and the lengths of the legs in the body plan.",
        )
    soles = np.stack([_lowest(places[f], lofts[f]) for f in feet])
    ground = np.broadcast_to(soles.min(axis=0), (n_draws,))
    hip = places[_hip(plan, feet[0])].origin_mm[:, 2]
    return Stance(
        places=places,
        swing_rad=swing,
        ground_mm=ground,
        centre_mm=centre,
        hip_height_mm=hip - ground,
        foot_mm=foot,
        beyond=_beyond(plan, swing),
    )


def _lowest(place: Place, loft: LoftedSegment) -> Draws:
    """Return the lowest height of a segment's underside over its hoops, (n,) mm."""
    heights = [
        to_world(place, point_on(loft, float(at)) - [0, 0, 1] * loft.ventral_mm[:, [index]])[:, 2]
        for index, at in enumerate(loft.station)
    ]
    return np.asarray(np.min(heights, axis=0))


def highest(stance: Stance, lofts: Mapping[str, LoftedSegment]) -> Draws:
    """Return the height of the highest hoop of all segments, (n,) mm, in the places' axes."""
    tops = [
        to_world(
            stance.places[name],
            point_on(loft, float(at)) + [0.0, 0.0, 1.0] * loft.dorsal_mm[:, [index]],
        )[:, 2]
        for name, loft in lofts.items()
        for index, at in enumerate(loft.station)
    ]
    return np.asarray(np.max(tops, axis=0))


def _hip(plan: BodyPlan, foot: str) -> str:
    name = foot
    while True:
        parent = plan.segments[name].segment.parent
        if parent is None or plan.segments[parent].segment.sides == "midline":
            return name
        name = parent


def _beyond(plan: BodyPlan, swing: Draws) -> dict[str, float]:
    shares = {}
    for name, part in plan.segments.items():
        segment = part.segment
        angle = segment.angle_rad + segment.balance * swing
        share = float(np.mean((angle < segment.angle_low_rad) | (angle > segment.angle_high_rad)))
        if share > 0:
            shares[name] = share
    return shares
