"""The stance: the body turned at its balancing joints until it stands over its feet."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.loft import LoftedSegment
from bonewright.body.places import (
    Place,
    along_row,
    place_segments,
    rows_of_places,
    to_world,
    unit_point,
)
from bonewright.body.plan import BodyPlan
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = ["Stance", "highest", "stand"]

_ROUNDS = 12
# How near the balance is brought, as a share of the longest segment: 0.05 mm of a shank of 25 cm.
_CLOSE = 2e-4


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

    @property
    def middle_swing_rad(self) -> Draws:
        """The swing of the middle world, (1,), by which one body stands for all."""
        return np.asarray(np.median(self.swing_rad, keepdims=True))


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
    shares = {name: mass / total for name, mass in mass_kg.items()}
    # Of the lean only what lies along x is needed.
    arms = {
        name: (share, *(share * centre_mm[name][:, i] for i in range(3)))
        for name, share in shares.items()
    }
    ends = {foot: [unit_point(lofts[foot].bend_rad, end) for end in (0.0, 1.0)] for foot in feet}

    def lean(swing: Draws) -> tuple[Draws, Draws]:
        """Return how far the centre of mass lies ahead of the feet's middle, and their ends."""
        rows = rows_of_places(plan, lofts, swing, axis=0)
        centre = np.zeros(n_draws)
        for name, (share, x, y, z) in arms.items():
            origin, row = rows[name]
            centre += share * origin + x * row[0] + y * row[1] + z * row[2]
        tips = np.stack(
            [
                rows[foot][0] + along_row(rows[foot][1], end) * lofts[foot].length_mm
                for foot, of_foot in ends.items()
                for end in of_foot
            ]
        )
        hind, fore = tips.min(axis=0), tips.max(axis=0)
        return centre - (hind + fore) / 2, np.stack((hind, fore), axis=1)

    close_mm = _CLOSE * max(float(np.mean(loft.length_mm)) for loft in lofts.values())
    before = np.zeros(n_draws)
    gap_before = lean(before)[0]
    swing = np.full(n_draws, 0.05)
    for _ in range(_ROUNDS):
        gap, foot = lean(swing)
        if np.max(np.abs(gap)) < close_mm:
            break
        slope = (gap - gap_before) / np.where(swing == before, 1.0, swing - before)
        step = np.where(np.abs(gap) < close_mm / 10, 0.0, -gap / np.where(slope, slope, 1.0))
        before, gap_before = swing, gap
        swing = swing + np.clip(step, -0.5, 0.5)
    else:
        raise OutsideRange(
            "No turn of the balancing joints brings the centre of mass over the feet.",
            remedy="Look at the joints' angles and the lengths of the legs in the body plan.",
        )
    places = place_segments(plan, lofts, swing)
    soles = np.stack([_hoop_heights(places[f], lofts[f], below=True) for f in feet])
    ground = np.broadcast_to(soles.min(axis=0), (n_draws,))
    hip = places[_hip(plan, feet[0])].origin_mm[:, 2]
    return Stance(
        places=places,
        swing_rad=swing,
        ground_mm=ground,
        centre_mm=_centre_mm(plan, places, shares, centre_mm),
        hip_height_mm=hip - ground,
        foot_mm=foot,
        beyond=_beyond(plan, swing),
    )


def _centre_mm(
    plan: BodyPlan,
    places: Mapping[str, Place],
    shares: Mapping[str, Draws],
    centre_mm: Mapping[str, Draws],
) -> Draws:
    """Return the centre of mass of the whole, (n, 3) mm; ``shares`` (n,) are of its mass."""
    centre = np.zeros((len(next(iter(shares.values()))), 3))
    for name, share in shares.items():
        part = share[:, None] * to_world(places[name], centre_mm[name])
        if plan.segments[name].copies == 2:
            part[:, 1] = 0.0
        centre += part
    return centre


def _hoop_heights(place: Place, loft: LoftedSegment, *, below: bool) -> Draws:
    """Return the height of a segment's lowest underside or highest back over its hoops, (n,)."""
    row = (place.turn[:, 2, 0], place.turn[:, 2, 1], place.turn[:, 2, 2])
    reach = -loft.ventral_mm if below else loft.dorsal_mm
    heights = [
        along_row(row, unit_point(loft.bend_rad, float(at))) * loft.length_mm
        + row[2] * reach[:, index]
        for index, at in enumerate(loft.station)
    ]
    extreme = np.min(heights, axis=0) if below else np.max(heights, axis=0)
    return np.asarray(place.origin_mm[:, 2] + extreme)


def highest(stance: Stance, lofts: Mapping[str, LoftedSegment]) -> Draws:
    """Return the height of the highest hoop of all segments, (n,) mm, in the places' axes."""
    tops = [
        np.broadcast_to(_hoop_heights(stance.places[name], loft, below=False), loft.length_mm.shape)
        for name, loft in lofts.items()
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
