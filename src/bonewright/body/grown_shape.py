"""The shape of the grown body: its segments as solids in every draw, and what they share."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from bonewright.body.loft import LoftedSegment
from bonewright.body.loft_moments import Moments, loft_moments
from bonewright.body.overlap import (
    OwnDraws,
    own_centres,
    own_draws,
    typical_lofts,
    volumes_and_skin,
)
from bonewright.body.plan import BodyPlan, lofted_segments
from bonewright.body.ranges import draws_of_range
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.study.settings import RangeChoice

__all__ = ["GrownShape", "grow_shape"]

# How far one segment alone may be off in volume, beyond what all share (common practice).
_SEGMENT_SPREAD_LN = 0.08


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrownShape:
    """The body's segments without fat, in their own axes.

    ``lofts`` in every draw and their ``moments``, ``typical`` at the means of all sizes;
    ``own`` says which part of each is no other's. ``volume_m3`` and ``skin_m2`` (n_draws,) are
    what of each counts, both sides of a pair together, ``centres_mm`` (n_draws, 3) where its
    own part's centre lies.
    """

    lofts: Mapping[str, LoftedSegment]
    typical: Mapping[str, LoftedSegment]
    moments: Mapping[str, Moments]
    own: Mapping[str, OwnDraws]
    volume_m3: Mapping[str, Draws]
    skin_m2: Mapping[str, Draws]
    centres_mm: Mapping[str, Draws]


def grow_shape(
    plan: BodyPlan,
    *,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    off_percent: RangeChoice,
    rng: np.random.Generator,
    n_draws: int,
) -> GrownShape:
    """Grow the segments' solids over the bones.

    Parameters
    ----------
    plan : BodyPlan
    bone_draws_mm : mapping from (element, code) to (n_draws,) float
        The average skeleton, mm.
    off_percent : RangeChoice
        By how much all hoops together may be off, in % of their area.

    Raises
    ------
    NotEnoughEvidence
        If the skeleton lacks a measurement the plan refers to.
    OutsideRange
        If the plan makes no solid.
    """
    lofts, fullness = _shaped(
        lofted_segments(plan, bone_draws_mm), off_percent, rng=rng, n_draws=n_draws
    )
    moments = {name: loft_moments(loft) for name, loft in lofts.items()}
    typical = typical_lofts(lofts)
    own = own_draws(plan, typical, fullness)
    volume_m3, skin_m2 = volumes_and_skin(plan, moments, own)
    return GrownShape(
        lofts=lofts,
        typical=typical,
        moments=moments,
        own=own,
        volume_m3=volume_m3,
        skin_m2=skin_m2,
        centres_mm=own_centres(plan, lofts, moments, own),
    )


def _shaped(
    lofts: Mapping[str, LoftedSegment],
    off_percent: RangeChoice,
    *,
    rng: np.random.Generator,
    n_draws: int,
) -> tuple[dict[str, LoftedSegment], Draws]:
    """Let the hoops be off: all of them together, and each segment by itself.

    Returns the segments, and by what the area of all hoops together is off, (n_draws,).
    """
    common = 1 + draws_of_range(off_percent, rng=rng, n_draws=n_draws) / 100
    if common.min() <= 0:
        raise OutsideRange(
            "The range of grown_shape_percent in study.toml holds bodies of no volume.",
            remedy="Narrow it.",
        )
    shaped = {}
    for name, loft in lofts.items():
        alone = np.exp(_SEGMENT_SPREAD_LN * rng.standard_normal(n_draws))
        across = np.sqrt(common * alone)[:, None]
        shaped[name] = replace(
            loft,
            half_width_mm=loft.half_width_mm * across,
            dorsal_mm=loft.dorsal_mm * across,
            ventral_mm=loft.ventral_mm * across,
        )
    return shaped, common
