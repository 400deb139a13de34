"""Measures that can be taken on a standing figure: between joints, heights, girths.

The same names serve the check card of a figure that is to be built and the measures that
come back from it. What the bones allow is drawn for each, world by world.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.places import place_segments, point_on, to_world
from bonewright.body.plan import BodyPlan
from bonewright.body.superellipse import half_outline
from bonewright.quantity import Draws

__all__ = ["JOINT_NAMES", "FigureMeasure", "figure_measures", "joint_name", "side_label"]

JOINT_NAMES: Final = {
    "thigh": "hip",
    "shank": "knee",
    "foot": "ankle",
    "middle toe": "middle toe joint",
    "inner toe": "inner toe joint",
    "outer toe": "outer toe joint",
    "hind toe": "hind toe joint",
    "upper wing": "shoulder",
    "forearm": "elbow",
    "hand": "wrist",
    "neck base": "root of the neck",
    "neck middle": "lower bend of the neck",
    "neck top": "upper bend of the neck",
    "head": "head joint",
    "beak": "root of the beak",
    "tail": "root of the tail",
}
_AROUND: Final = 128
# A tape goes around a segment that stands out of the others by so much of its volume, and
# has so much of all skin (common practice).
_STANDS_OUT: Final = 0.4
_LEAST_SKIN: Final = 0.02
# Nearer its ends a segment is sunk in its neighbours.
_AMID: Final = (0.25, 0.9)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FigureMeasure:
    """One measure at life size: what the figure is built to, and what the bones allow.

    ``figure_mm`` is the median figure's; ``draws_mm`` (n,) are those of the animal, brought
    to the figure's middle. ``kind`` is between joints, joint height, height or girth.
    """

    name: str
    kind: str
    figure_mm: float
    draws_mm: Draws


def side_label(segment: str, side: str) -> str:
    """Name a segment with its side: left thigh, trunk."""
    return segment if side == "middle" else f"{side} {segment}"


def joint_name(segment: str, side: str) -> str:
    """Name the joint at the near end of a segment: left hip."""
    return side_label(JOINT_NAMES.get(segment, f"joint of the {segment}"), side)


def figure_measures(
    grown: GrownBody, lofts: Mapping[str, LoftedSegment], *, surface: bool = True
) -> tuple[FigureMeasure, ...]:
    """Return the measures of a figure at life size, in the order of the body plan.

    Parameters
    ----------
    lofts : mapping from segment to LoftedSegment
        The figure's segments in its state and layer, one draw.
    surface : bool
        Whether the figure has a surface of flesh or feathers, on which heights above the
        ground and girths can be taken.
    """
    found = [*_across_root(grown, lofts)]
    for name, side in _sides(grown.plan):
        found += _of_segment(grown, lofts, name, side)
    if surface:
        taped = _taped(grown)
        found += _heights(grown, lofts)
        found += [_girth(grown, name, lofts[name]) for name in lofts if name in taped]
    return tuple(found)


def _taped(grown: GrownBody) -> set[str]:
    """Return the segments that a tape goes around: those that stand out, toes apart."""
    skin = {name: float(np.median(area)) for name, area in grown.skin_m2.items()}
    least = _LEAST_SKIN * sum(skin.values())
    return {
        name
        for name, area in skin.items()
        if area > least and float(np.median(grown.own[name].share)) > _STANDS_OUT
    }


def _sides(plan: BodyPlan) -> list[tuple[str, str]]:
    return [
        (name, side)
        for name, part in plan.segments.items()
        for side in (("left", "right") if part.copies == 2 else ("middle",))
    ]


def _across_root(grown: GrownBody, lofts: Mapping[str, LoftedSegment]) -> list[FigureMeasure]:
    """Return distances over the root: between both of a pair, and along the back."""
    root = next(iter(grown.plan.segments))
    length = np.asarray(grown.lofts[root].length_mm)
    found, midline = [], []
    for name, part in grown.plan.segments.items():
        segment = part.segment
        if segment.parent != root:
            continue
        spot = point_on(lofts[root], segment.attach_along, segment.attach_up, segment.attach_out)[0]
        if part.copies == 2:
            title = f"{joint_name(name, 'left')} to {joint_name(name, 'right')}"
            found.append(_measure(title, "between joints", 2 * abs(float(spot[1])), length))
        else:
            midline.append((name, spot))
    for (name, spot), (other, place) in pairwise(midline):
        title = f"{joint_name(name, 'middle')} to {joint_name(other, 'middle')}"
        gap = float(np.linalg.norm(place - spot))
        found.append(_measure(title, "between joints", gap, length))
    return found


def _heights(grown: GrownBody, lofts: Mapping[str, LoftedSegment]) -> list[FigureMeasure]:
    """Return heights above the ground: of the legs' joints, the highest joint, and over all."""
    plan = grown.plan
    places = place_segments(plan, lofts, grown.stance.middle_swing_rad)
    surfaces = {
        name: to_world(places[name], loft_mesh(loft, places=3)[0][0])[:, 2]
        for name, loft in lofts.items()
    }
    ground = min(
        float(heights.min())
        for name, heights in surfaces.items()
        if plan.segments[name].segment.on_ground
    )
    joints = [key for key in _sides(plan) if plan.segments[key[0]].segment.parent is not None]
    highest = max(joints, key=lambda key: float(places[key[0]].origin_mm[0, 2]))
    found = []
    for name, side in joints:
        if (name, side) != highest and (_beside_ground(plan, name) or not _stands(plan, name)):
            continue
        above = grown.stance.places[name].origin_mm[:, 2] - grown.stance.ground_mm
        at = float(places[name].origin_mm[0, 2]) - ground
        title = f"height of the {joint_name(name, side)}"
        found.append(_measure(title, "joint height", at, above))
    top = max(float(heights.max()) for heights in surfaces.values())
    found.append(_measure("height over all", "height", top - ground, np.asarray(grown.height_m)))
    return found


def _beside_ground(plan: BodyPlan, name: str) -> bool:
    """Tell whether a segment lies on the ground or hangs beside one that does."""
    parent = plan.segments[name].segment.parent
    return any(
        part.segment.on_ground for part in plan.segments.values() if part.segment.parent == parent
    )


def _stands(plan: BodyPlan, name: str) -> bool:
    """Tell whether a segment or what hangs on it stands on the ground."""
    children = [child for child, part in plan.segments.items() if part.segment.parent == name]
    return plan.segments[name].segment.on_ground or any(_stands(plan, child) for child in children)


def _measure(name: str, kind: str, figure_mm: float, draws: Draws) -> FigureMeasure:
    return FigureMeasure(
        name=name,
        kind=kind,
        figure_mm=figure_mm,
        draws_mm=figure_mm * draws / float(np.median(draws)),
    )


def _of_segment(
    grown: GrownBody, lofts: Mapping[str, LoftedSegment], name: str, side: str
) -> list[FigureMeasure]:
    """Return distances from a segment's near joint to those of what it carries, or to its tip."""
    plan = grown.plan
    if plan.segments[name].segment.parent is None:
        return []
    length = np.asarray(grown.lofts[name].length_mm)
    children = [part.segment for part in plan.segments.values() if part.segment.parent == name]
    near = joint_name(name, side)
    if not children:
        tip = float(np.linalg.norm(point_on(lofts[name], 1.0)[0]))
        title = f"{near} to tip of the {side_label(name, side)}"
        return [_measure(title, "between joints", tip, length)]
    # Of several joints at the far end, as of toes, the one of the longest is measured to.
    child = max(children, key=lambda one: float(lofts[one.segment].length_mm[0]))
    spot = point_on(lofts[name], child.attach_along, child.attach_up, child.attach_out)
    title = f"{near} to {joint_name(child.segment, side)}"
    return [_measure(title, "between joints", float(np.linalg.norm(spot[0])), length)]


def _girth(grown: GrownBody, name: str, loft: LoftedSegment) -> FigureMeasure:
    """Return the girth at the thickest hoop amid a segment, of the left one of a pair."""
    side = "left" if grown.plan.segments[name].copies == 2 else "middle"
    across = loft.half_width_mm[0] * (loft.dorsal_mm + loft.ventral_mm)[0]
    sized = [i for i, at in enumerate(loft.station) if 0 <= at <= 1 and loft.half_width_mm[0, i]]
    amid = [i for i in sized if _AMID[0] <= loft.station[i] <= _AMID[1]] or sized
    thickest = max(amid, key=lambda i: float(across[i]))
    own = grown.lofts[name]
    height = own.dorsal_mm[:, thickest] + own.ventral_mm[:, thickest]
    title = f"girth of the {side_label(name, side)} at hoop {sized.index(thickest) + 1}"
    return _measure(
        title,
        "girth",
        _girth_mm(loft, thickest),
        np.sqrt(own.half_width_mm[:, thickest] * height),
    )


def _girth_mm(loft: LoftedSegment, hoop: int) -> float:
    """Return the way around a hoop, as a tape laid on it."""
    angle = 2 * np.pi * np.arange(_AROUND) / _AROUND
    upper = angle < np.pi
    y_up, z_up = half_outline(loft.dorsal_exponent[[hoop]], angle[upper])
    y_down, z_down = half_outline(loft.ventral_exponent[[hoop]], angle[~upper])
    y = loft.half_width_mm[0, hoop] * np.concatenate((y_up[0], y_down[0]))
    z = np.concatenate((loft.dorsal_mm[0, hoop] * z_up[0], -loft.ventral_mm[0, hoop] * z_down[0]))
    around = np.stack((y, z), axis=1)
    return float(np.linalg.norm(np.roll(around, -1, axis=0) - around, axis=1).sum())
