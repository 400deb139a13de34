"""The body grown from the average skeleton: shape, mass, balance, in every imagined world."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bonewright.body.layers import (
    Fatness,
    LeanBody,
    fat_shares,
    lean_body,
    tissue_densities,
)
from bonewright.body.loft import LoftedSegment, Moments, loft_mesh, loft_moments
from bonewright.body.plan import BodyPlan, lofted_segments
from bonewright.body.posture import Stance, highest, place_segments, point_on, stand, to_world
from bonewright.body.ranges import draws_of_range
from bonewright.body.solids import Mesh, OwnPart, own_parts
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.study.model import Tissue
from bonewright.study.settings import Choices

__all__ = [
    "GrownBody",
    "GrownState",
    "OwnDraws",
    "body_draws_meshed",
    "grow_body",
    "placed_meshes",
    "typical_lofts",
]

# How far one segment alone may be off in volume, beyond what all share (common practice).
_SEGMENT_SPREAD_LN = 0.08
# Where along the root the fat of the belly lies, and how far below its axis, of the height
# of its underside there.
_BELLY_ALONG, _BELLY_BELOW = 0.35, 0.6
_MM_PER_M = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrownState:
    """The whole body in one state of fatness, draw by draw.

    ``centre_m`` (n, 2): centre of mass ahead of the middle of the feet, and above the ground.
    ``inertia_kg_m2`` (n, 3, 3) about it; x forward, y to the left, z up.
    """

    state: str
    fatness: Fatness
    mass_draws_kg: Draws
    volume_draws_m3: Draws
    fat_draws_kg: Draws
    centre_m: Draws
    inertia_kg_m2: Draws


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrownBody:
    """The body without fat, its stance, and its three states.

    ``lofts`` are the fat-free segments; ``own`` says which part of each is no other's.
    ``segment_kg`` is the mean state's mass by segment, both sides of a pair together;
    ``skin_m2`` the skin's area by segment, ``feathered_volume_m3`` that of the mean body in
    its plumage, ``plumage_depth_mm`` the depth by feathered segment.
    """

    plan: BodyPlan
    lofts: Mapping[str, LoftedSegment]
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
    lofts, fullness = _shaped(
        lofted_segments(plan, bone_draws_mm), choices, rng=rng, n_draws=n_draws
    )
    moments = {name: loft_moments(loft) for name, loft in lofts.items()}
    own = _own_parts(plan, lofts, fullness)
    volume_m3, skin_m2 = _volumes_and_skin(plan, moments, own)
    lean = lean_body(
        plan,
        volume_m3=volume_m3,
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
    centres = _own_centres(plan, lofts, moments, own)
    mean_kg = _with_fat(plan, lean, skin_m2, fatness["mean"])
    root = next(iter(plan.segments))
    stance = stand(
        plan,
        lofts,
        mass_kg=mean_kg,
        centre_mm=centres | {root: _with_belly(lofts[root], centres[root], lean, fatness, mean_kg)},
    )
    standing = _standing(plan, moments, centres, stance)
    belly_mm = to_world(stance.places[root], _belly(lofts[root]))
    depth_factor = (
        np.maximum(draws_of_range(choices.plumage_depth_percent, rng=rng, n_draws=n_draws), 0) / 100
    )
    return GrownBody(
        plan=plan,
        lofts=lofts,
        own=own,
        lean=lean,
        stance=stance,
        states={
            state: _state(
                fat,
                plan,
                lean,
                skin_m2=skin_m2,
                standing=standing,
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
    )


def _shaped(
    lofts: Mapping[str, LoftedSegment],
    choices: Choices,
    *,
    rng: np.random.Generator,
    n_draws: int,
) -> tuple[dict[str, LoftedSegment], Draws]:
    """Let the hoops be off: all of them together, and each segment by itself.

    Returns the segments, and by what the area of all hoops together is off, (n_draws,).
    """
    common = 1 + draws_of_range(choices.grown_shape_percent, rng=rng, n_draws=n_draws) / 100
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
            vertices_mm=vertices[0] @ placed[name].turn[0].T + placed[name].origin_mm[0],
            faces=faces,
        )
        meshes[name] = [left, left.mirrored()] if plan.segments[name].copies == 2 else [left]
    return meshes


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


def _own_parts(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], fullness: Draws
) -> dict[str, OwnDraws]:
    """Find which part of each segment no earlier segment holds.

    The fuller the body, the more of a thigh lies within the trunk: the parts are found on a
    slender, a typical and a full body, and a parabola through the three gives every draw's.
    """
    typical = typical_lofts(lofts)
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
            shift=found[len(levels) // 2][name].shift_mm,
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
    """Divide one body among its segments; shifts in each one's axes and by its length."""
    moments = {name: loft_moments(loft) for name, loft in lofts.items()}
    swing = stand(
        plan,
        lofts,
        mass_kg={n: plan.segments[n].copies * m.volume_mm3 for n, m in moments.items()},
        centre_mm={name: m.centre_mm for name, m in moments.items()},
    ).swing_rad
    parts, _ = own_parts(placed_meshes(plan, lofts, swing, around=24, places=3))
    places = place_segments(plan, lofts, swing)
    return {
        name: replace(
            part,
            shift_mm=places[name].turn[0].T @ part.shift_mm / float(lofts[name].length_mm[0]),
        )
        for name, part in parts.items()
    }


def _volumes_and_skin(
    plan: BodyPlan, moments: Mapping[str, Moments], own: Mapping[str, OwnDraws]
) -> tuple[dict[str, Draws], dict[str, Draws]]:
    volumes, skins = {}, {}
    for name, moment in moments.items():
        copies = plan.segments[name].copies
        if not own[name].seen:
            continue
        volumes[name] = copies * own[name].share * moment.volume_mm3 * 1e-9
        skins[name] = copies * own[name].area_mm2 * 1e-6
    return volumes, skins


def _own_centres(
    plan: BodyPlan,
    lofts: Mapping[str, LoftedSegment],
    moments: Mapping[str, Moments],
    own: Mapping[str, OwnDraws],
) -> dict[str, Draws]:
    centres = {}
    for name, moment in moments.items():
        if not own[name].seen:
            continue
        shift = own[name].shift.copy()
        if plan.segments[name].copies == 1:
            shift[1] = 0.0
        centres[name] = moment.centre_mm + lofts[name].length_mm[:, None] * shift
    return centres


def _fat_of(lean: LeanBody, fatness: Fatness) -> Draws:
    lean_kg = np.sum(list(lean.mass_kg.values()), axis=0)
    return np.asarray(lean_kg * fatness.share / (1 - fatness.share))


def _with_fat(
    plan: BodyPlan, lean: LeanBody, skin_m2: Mapping[str, Draws], fatness: Fatness
) -> dict[str, Draws]:
    """Add the fat: under the skin by its area and the plan's shares, and in the root's belly."""
    fat = _fat_of(lean, fatness)
    weights = {n: plan.segments[n].segment.fat_share * area for n, area in skin_m2.items()}
    total = np.maximum(np.sum(list(weights.values()), axis=0), 1e-12)
    masses = {
        name: mass + fat * (1 - fatness.in_belly) * weights[name] / total
        for name, mass in lean.mass_kg.items()
    }
    root = next(iter(plan.segments))
    masses[root] = masses[root] + fat * fatness.in_belly
    return masses


def _standing(
    plan: BodyPlan,
    moments: Mapping[str, Moments],
    centres: Mapping[str, Draws],
    stance: Stance,
) -> dict[str, tuple[Draws, Draws]]:
    """Return each segment's centre (n, 3) mm and spread about it (n, 3, 3) mm2, as it stands.

    The spread is the second moment over the volume; of a pair, of both sides together.
    """
    standing = {}
    for name, centre in centres.items():
        place = stance.places[name]
        inside = moments[name].second_mm5 / moments[name].volume_mm3[:, None, None]
        spread = place.turn @ inside @ np.swapaxes(place.turn, 1, 2)
        at = to_world(place, centre)
        if plan.segments[name].copies == 2:
            # The mirror image cancels what is odd from left to right.
            spread[:, [0, 1, 1, 2], [1, 0, 2, 1]] = 0.0
            spread[:, 1, 1] += at[:, 1] ** 2
            at = at * [1, 0, 1]
        standing[name] = (at, spread)
    return standing


def _state(
    fatness: Fatness,
    plan: BodyPlan,
    lean: LeanBody,
    *,
    skin_m2: Mapping[str, Draws],
    standing: Mapping[str, tuple[Draws, Draws]],
    belly_mm: Draws,
    stance: Stance,
) -> GrownState:
    masses = _with_fat(plan, lean, skin_m2, fatness)
    fat = _fat_of(lean, fatness)
    total = np.sum(list(masses.values()), axis=0)
    belly_kg = fat * fatness.in_belly
    masses[next(iter(plan.segments))] -= belly_kg
    points = [(belly_kg, belly_mm), *((masses[name], at) for name, (at, _) in standing.items())]
    centre = np.sum([mass[:, None] * at for mass, at in points], axis=0) / total[:, None]
    spread = np.sum(
        [masses[name][:, None, None] * within for name, (_, within) in standing.items()], axis=0
    )
    for mass, at in points:
        arm = at - centre
        spread += mass[:, None, None] * arm[:, :, None] * arm[:, None, :]
    trace = np.trace(spread, axis1=1, axis2=2)
    ahead = centre[:, 0] - stance.foot_mm.mean(axis=1)
    return GrownState(
        state=fatness.state,
        fatness=fatness,
        mass_draws_kg=total,
        volume_draws_m3=np.sum(list(lean.volume_m3.values()), axis=0)
        + fat / lean.fat_density_kg_m3,
        fat_draws_kg=fat,
        centre_m=np.stack((ahead, centre[:, 2] - stance.ground_mm), axis=1) / _MM_PER_M,
        inertia_kg_m2=(trace[:, None, None] * np.eye(3) - spread) / _MM_PER_M**2,
    )


def _belly(root: LoftedSegment) -> Draws:
    below = np.array([np.interp(_BELLY_ALONG, root.station, row) for row in root.ventral_mm[:1]])
    scale = root.ventral_mm.max(axis=1) / root.ventral_mm[0].max()
    at = point_on(root, _BELLY_ALONG)
    return np.asarray(at - np.outer(_BELLY_BELOW * below[0] * scale, [0.0, 0.0, 1.0]))


def _with_belly(
    root: LoftedSegment,
    centre_mm: Draws,
    lean: LeanBody,
    fatness: Mapping[str, Fatness],
    mean_kg: Mapping[str, Draws],
) -> Draws:
    """Return the root's centre with the fat of the belly at its own place, mean state."""
    mean = fatness["mean"]
    share = _fat_of(lean, mean) * mean.in_belly / next(iter(mean_kg.values()))
    return np.asarray(centre_mm + share[:, None] * (_belly(root) - centre_mm))


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
    fat_m3 = _fat_of(lean, fatness) / lean.fat_density_kg_m3
    total = np.sum(list(lean.volume_m3.values()), axis=0)
    swollen = 1 + fat_m3 / total
    grown = [
        volume * swollen * (1 + plan.segments[name].segment.plumage_percent / 100 * factor) ** 2
        for name, volume in lean.volume_m3.items()
    ]
    return np.asarray(np.sum(grown, axis=0))
