"""Which part of each segment is its own: what two segments share counts once, in every draw."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.loft_moments import Moments, loft_moments
from bonewright.body.places import place_segments, to_world
from bonewright.body.plan import BodyPlan
from bonewright.body.posture import stand
from bonewright.body.shared_space import OwnPart, own_parts
from bonewright.body.solids import Mesh
from bonewright.quantity import Draws

__all__ = [
    "OwnDraws",
    "own_centres",
    "own_draws",
    "placed_meshes",
    "typical_lofts",
    "volumes_and_skin",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnDraws:
    """The part of a segment that no earlier segment holds, draw by draw.

    ``share`` (n,) of its volume; ``area_mm2`` (n,) of its skin that lies open; ``shift`` (3,)
    of its centre, in its own axes and by its length.
    """

    share: Draws
    area_mm2: Draws
    shift: Draws

    @property
    def seen(self) -> bool:
        """Whether any of it lies outside the others in the middle world."""
        return bool(np.median(self.share) > 1e-6)


def typical_lofts(lofts: Mapping[str, LoftedSegment]) -> dict[str, LoftedSegment]:
    """Return the segments at the means of all their sizes, as one draw."""
    return {
        name: replace(
            loft,
            half_width_mm=np.mean(loft.half_width_mm, axis=0, keepdims=True),
            dorsal_mm=np.mean(loft.dorsal_mm, axis=0, keepdims=True),
            ventral_mm=np.mean(loft.ventral_mm, axis=0, keepdims=True),
            length_mm=np.mean(loft.length_mm, keepdims=True),
        )
        for name, loft in lofts.items()
    }


def placed_meshes(
    plan: BodyPlan,
    lofts: Mapping[str, LoftedSegment],
    swing_rad: Draws,
    *,
    around: int = 32,
    places: int = 3,
) -> dict[str, list[Mesh]]:
    """Mesh each segment of one draw in the axes of the whole body, both of a pair."""
    placed = place_segments(plan, lofts, swing_rad)
    meshes = {}
    for name, loft in lofts.items():
        vertices, faces = loft_mesh(loft, around=around, places=places)
        left = Mesh(
            vertices_mm=to_world(placed[name], vertices[0]),
            faces=faces,
        )
        meshes[name] = [left, left.mirrored()] if plan.segments[name].copies == 2 else [left]
    return meshes


def own_draws(
    plan: BodyPlan, typical: Mapping[str, LoftedSegment], fullness: Draws
) -> dict[str, OwnDraws]:
    """Find which part of each segment no earlier segment holds, from the typical body.

    The fuller the body, the more of a thigh lies within the trunk: the parts are found on a
    slender, a typical and a full body, and a parabola through the three gives every draw's.
    """
    low, high = np.quantile(fullness, [0.03, 0.97])
    middle = float(np.mean(fullness))
    levels = [middle] if high / low < 1.01 else [float(low), middle, float(high)]
    found = [_parts_of_one(plan, _fuller(typical, level / middle)) for level in levels]
    parts = {}
    for name in typical:
        shares = np.array([parts_of[name].share for parts_of in found])
        areas = np.array([parts_of[name].area_mm2 for parts_of in found])
        order = len(levels) - 1
        parts[name] = OwnDraws(
            share=np.clip(np.polyval(np.polyfit(levels, shares, order), fullness), 0, 1),
            area_mm2=np.maximum(np.polyval(np.polyfit(levels, areas, order), fullness), 0),
            shift=found[len(levels) // 2][name].shift,
        )
    return parts


def _fuller(lofts: Mapping[str, LoftedSegment], area: float) -> dict[str, LoftedSegment]:
    across = np.sqrt(area)
    return {
        name: replace(
            loft,
            half_width_mm=loft.half_width_mm * across,
            dorsal_mm=loft.dorsal_mm * across,
            ventral_mm=loft.ventral_mm * across,
        )
        for name, loft in lofts.items()
    }


def _parts_of_one(plan: BodyPlan, lofts: Mapping[str, LoftedSegment]) -> dict[str, OwnPart]:
    """Divide one body among its segments, standing as it would with one density everywhere."""
    moments = {name: loft_moments(loft) for name, loft in lofts.items()}
    swing = stand(
        plan,
        lofts,
        mass_kg={n: plan.segments[n].copies * m.volume_mm3 for n, m in moments.items()},
        centre_mm={name: m.centre_mm for name, m in moments.items()},
    ).swing_rad
    return own_parts(plan, lofts, swing)


def volumes_and_skin(
    plan: BodyPlan, moments: Mapping[str, Moments], own: Mapping[str, OwnDraws]
) -> tuple[dict[str, Draws], dict[str, Draws]]:
    """Return each segment's own volume (m3) and open skin (m2), both sides of a pair together."""
    volumes, skins = {}, {}
    for name, moment in moments.items():
        copies = plan.segments[name].copies
        if not own[name].seen:
            continue
        volumes[name] = copies * own[name].share * moment.volume_mm3 * 1e-9
        skins[name] = copies * own[name].area_mm2 * 1e-6
    return volumes, skins


def own_centres(
    plan: BodyPlan,
    lofts: Mapping[str, LoftedSegment],
    moments: Mapping[str, Moments],
    own: Mapping[str, OwnDraws],
) -> dict[str, Draws]:
    """Return the centre of each segment's own part, (n_draws, 3) mm, in its own axes."""
    centres = {}
    for name, moment in moments.items():
        if not own[name].seen:
            continue
        shift = own[name].shift.copy()
        if plan.segments[name].copies == 1:
            shift[1] = 0.0
        centres[name] = moment.centre_mm + lofts[name].length_mm[:, None] * shift
    return centres
