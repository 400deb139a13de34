"""Each segment of the standing body by itself: its mass, centre of mass and inertia."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.fat_states import fat_of, with_fat
from bonewright.body.layers import Fatness, LeanBody
from bonewright.body.plan import BodyPlan
from bonewright.body.posture import Stance
from bonewright.quantity import Draws

__all__ = ["SegmentBalance", "balance_of_segments", "whole_of_segments"]

_MM_PER_M = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SegmentBalance:
    """One segment as it stands, draw by draw; both sides of a pair together.

    ``centre_m`` (n, 3): centre of mass ahead of the middle of the feet, to the left of the
    midline, and above the ground. ``inertia_kg_m2`` (n, 3, 3) about it; x forward, y to the
    left, z up.
    """

    mass_draws_kg: Draws
    centre_m: Draws
    inertia_kg_m2: Draws


def balance_of_segments(
    fatness: Fatness,
    plan: BodyPlan,
    lean: LeanBody,
    *,
    skin_m2: Mapping[str, Draws],
    standing: Mapping[str, tuple[Draws, Draws]],
    belly_mm: Draws,
    stance: Stance,
) -> dict[str, SegmentBalance]:
    """Return mass, centre and inertia of each segment in one state of fatness.

    Parameters
    ----------
    standing : mapping from segment to centre (n, 3) mm and spread (n, 3, 3) mm2
        As :func:`bonewright.body.fat_states.standing_segments` returns them.
    belly_mm : (n, 3) float
        Where the fat of the belly lies, in the axes of the whole body; it is the root's.
    """
    masses = with_fat(plan, lean, skin_m2, fatness)
    root = next(iter(plan.segments))
    belly_kg = fat_of(lean, fatness) * fatness.in_belly
    feet = np.stack(
        (stance.foot_mm.mean(axis=1), np.zeros(len(belly_mm)), stance.ground_mm), axis=1
    )
    found = {}
    for name, (at, spread) in standing.items():
        mass, centre, second = masses[name], at, masses[name][:, None, None] * spread
        if name == root:
            # The belly's fat is a point within the root; the rest keeps its own centre.
            rest = mass - belly_kg
            centre = (rest[:, None] * at + belly_kg[:, None] * belly_mm) / mass[:, None]
            second = rest[:, None, None] * spread
            for part, place in ((rest, at), (belly_kg, belly_mm)):
                arm = place - centre
                second = second + part[:, None, None] * arm[:, :, None] * arm[:, None, :]
        trace = np.trace(second, axis1=1, axis2=2)
        found[name] = SegmentBalance(
            mass_draws_kg=mass,
            centre_m=(centre - feet) / _MM_PER_M,
            inertia_kg_m2=(trace[:, None, None] * np.eye(3) - second) / _MM_PER_M**2,
        )
    return found


def whole_of_segments(segments: Mapping[str, SegmentBalance]) -> SegmentBalance:
    """Put segments together: the mass, centre and inertia of them all, by parallel axes."""
    parts = list(segments.values())
    total = np.sum([part.mass_draws_kg for part in parts], axis=0)
    centre = np.sum([p.mass_draws_kg[:, None] * p.centre_m for p in parts], axis=0)
    centre = centre / total[:, None]
    inertia = np.zeros((len(total), 3, 3))
    for part in parts:
        arm = part.centre_m - centre
        square = np.einsum("ni,ni->n", arm, arm)[:, None, None] * np.eye(3)
        inertia += part.inertia_kg_m2 + part.mass_draws_kg[:, None, None] * (
            square - arm[:, :, None] * arm[:, None, :]
        )
    return SegmentBalance(mass_draws_kg=total, centre_m=centre, inertia_kg_m2=inertia)
