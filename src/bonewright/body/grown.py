"""The body grown from the average skeleton: shape, mass, balance, in every imagined world."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bonewright.body.fat_states import (
    GrownState,
    about_the_origin,
    belly_point,
    fat_of,
    standing_segments,
    state_of,
    with_belly,
    with_fat,
)
from bonewright.body.grown_shape import grow_shape
from bonewright.body.layers import (
    Fatness,
    LeanBody,
    fat_shares,
    lean_body,
    tissue_densities,
)
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.overlap import OwnDraws
from bonewright.body.places import to_world
from bonewright.body.plan import BodyPlan
from bonewright.body.posture import Stance, highest, stand
from bonewright.body.ranges import draws_of_range
from bonewright.body.segment_balance import SegmentBalance, balance_of_segments
from bonewright.quantity import Draws
from bonewright.remembering import recalled
from bonewright.study.model import Tissue
from bonewright.study.settings import Choices

__all__ = ["GrownBody", "body_draws_meshed", "grow_body"]

_MM_PER_M = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrownBody:
    """The body without fat, its stance, and its three states.

    ``lofts`` are the fat-free segments, ``typical`` those at the means of all their sizes;
    ``own`` says which part of each is no other's.
    ``segment_kg`` is the mean state's mass by segment, both sides of a pair together;
    ``skin_m2`` the skin's area by segment, ``feathered_volume_m3`` that of the mean body in
    its plumage, ``plumage_depth_mm`` the depth by feathered segment. ``standing`` holds each
    segment's centre and spread as it stands, ``belly_mm`` where the belly's fat lies.
    """

    plan: BodyPlan
    lofts: Mapping[str, LoftedSegment]
    typical: Mapping[str, LoftedSegment]
    own: Mapping[str, OwnDraws]
    lean: LeanBody
    stance: Stance
    states: Mapping[str, GrownState]
    segment_kg: Mapping[str, Draws]
    skin_m2: Mapping[str, Draws]
    plumage_depth_mm: Mapping[str, Draws]
    feathered_volume_m3: Draws
    height_m: Draws
    bone_mm: Mapping[tuple[str, str], float]
    standing: Mapping[str, tuple[Draws, Draws]]
    belly_mm: Draws

    def segments(self, state: str = "mean") -> dict[str, SegmentBalance]:
        """Return each segment's mass, centre of mass and inertia in a state, draw by draw."""
        return balance_of_segments(
            self.states[state].fatness,
            self.plan,
            self.lean,
            skin_m2=self.skin_m2,
            standing=self.standing,
            belly_mm=self.belly_mm,
            stance=self.stance,
        )


def grow_body(
    plan: BodyPlan,
    *,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    tissues: Sequence[Tissue],
    choices: Choices,
    density_draws_kg_m3: Draws,
    rng: np.random.Generator,
) -> GrownBody:
    """Grow the body: hoops to solids, solids to layers, layers to mass and balance.

    Parameters
    ----------
    plan : BodyPlan
    bone_draws_mm : mapping from (element, code) to (n_draws,) float
        The average skeleton, mm. What it shares with other lines of evidence stays shared.
    tissues : sequence of Tissue
        A study's densities; those of the program stand in for the rest.
    density_draws_kg_m3 : (n_draws,) float
        Density of a whole body as the maquette takes it.

    Raises
    ------
    NotEnoughEvidence
        If the skeleton lacks a measurement the plan refers to.
    OutsideRange
        If the plan makes no solid, or no body that stands.
    """
    n_draws = len(density_draws_kg_m3)
    of_shape, rng = rng.spawn(2)
    # What stands in the bones and the plan alone is kept while tissues and fat are tried.
    shape = recalled(
        grow_shape,
        plan,
        bone_draws_mm=bone_draws_mm,
        off_percent=choices.grown_shape_percent,
        rng=of_shape,
        n_draws=n_draws,
    )
    lofts, skin_m2, centres = shape.lofts, shape.skin_m2, shape.centres_mm
    lean = lean_body(
        plan,
        volume_m3=shape.volume_m3,
        skin_area_m2=skin_m2,
        skin_thickness_m=np.maximum(
            draws_of_range(choices.skin_thickness, rng=rng, n_draws=n_draws)
            / {"mm": _MM_PER_M, "cm": 100.0}[choices.skin_thickness.unit],
            1e-4,
        ),
        densities=tissue_densities(tissues, rng=rng, n_draws=n_draws),
        whole_density_pattern=density_draws_kg_m3,
        rng=rng,
    )
    fatness = fat_shares(choices, rng=rng, n_draws=n_draws)
    mean_kg = with_fat(plan, lean, skin_m2, fatness["mean"])
    root = next(iter(plan.segments))
    stance = stand(
        plan,
        lofts,
        mass_kg=mean_kg,
        centre_mm={**centres, root: with_belly(lofts[root], centres[root], lean, fatness, mean_kg)},
    )
    standing = standing_segments(plan, shape.moments, centres, stance)
    about_origin = about_the_origin(standing)
    belly_mm = to_world(stance.places[root], belly_point(lofts[root]))
    depth_factor = (
        np.maximum(draws_of_range(choices.plumage_depth_percent, rng=rng, n_draws=n_draws), 0) / 100
    )
    return GrownBody(
        plan=plan,
        lofts=lofts,
        typical=shape.typical,
        own=shape.own,
        lean=lean,
        stance=stance,
        states={
            state: state_of(
                fat,
                plan,
                lean,
                skin_m2=skin_m2,
                about_origin=about_origin,
                belly_mm=belly_mm,
                stance=stance,
            )
            for state, fat in fatness.items()
        },
        segment_kg=mean_kg,
        skin_m2=skin_m2,
        plumage_depth_mm=_plumage_depth(plan, lofts, depth_factor),
        feathered_volume_m3=_feathered(plan, lean, fatness["mean"], depth_factor),
        height_m=(highest(stance, lofts) - stance.ground_mm) / _MM_PER_M,
        bone_mm={key: float(np.median(draws)) for key, draws in bone_draws_mm.items()},
        standing=standing,
        belly_mm=belly_mm,
    )


def body_draws_meshed(body: GrownBody, draws: slice) -> dict[str, Draws]:
    """Mesh every segment of several draws at once, (n, n_vertices, 3) mm each, as they stand.

    The left one of a pair; the faces are those of :func:`~bonewright.body.loft.loft_mesh`.
    """
    meshed = {}
    for name, loft in body.lofts.items():
        some = replace(
            loft,
            half_width_mm=loft.half_width_mm[draws],
            dorsal_mm=loft.dorsal_mm[draws],
            ventral_mm=loft.ventral_mm[draws],
            length_mm=loft.length_mm[draws],
        )
        place = body.stance.places[name]
        turn = place.turn[draws] if len(place.turn) > 1 else place.turn
        origin = place.origin_mm[draws] if len(place.origin_mm) > 1 else place.origin_mm
        vertices, _ = loft_mesh(some, places=3)
        meshed[name] = vertices @ np.swapaxes(turn, 1, 2) + origin[:, None, :]
    return meshed


def _plumage_depth(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], factor: Draws
) -> dict[str, Draws]:
    return {
        name: lofts[name].half_width_mm.max(axis=1) * part.segment.plumage_percent / 100 * factor
        for name, part in plan.segments.items()
        if part.segment.plumage_percent > 0
    }


def _feathered(plan: BodyPlan, lean: LeanBody, fatness: Fatness, factor: Draws) -> Draws:
    """Return the volume of the body in its plumage: hoops widened by the depth of feathers."""
    fat_m3 = fat_of(lean, fatness) / lean.fat_density_kg_m3
    total = np.sum(list(lean.volume_m3.values()), axis=0)
    swollen = 1 + fat_m3 / total
    grown = [
        volume * swollen * (1 + plan.segments[name].segment.plumage_percent / 100 * factor) ** 2
        for name, volume in lean.volume_m3.items()
    ]
    return np.asarray(np.sum(grown, axis=0))
