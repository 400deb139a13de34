"""The body in one state of fatness: where its fat lies, its mass, its balance, its inertia."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.layers import Fatness, LeanBody
from bonewright.body.loft import LoftedSegment, Moments
from bonewright.body.plan import BodyPlan
from bonewright.body.posture import Stance, point_on, to_world
from bonewright.quantity import Draws

__all__ = [
    "GrownState",
    "belly_point",
    "fat_of",
    "standing_segments",
    "state_of",
    "with_belly",
    "with_fat",
]

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


def fat_of(lean: LeanBody, fatness: Fatness) -> Draws:
    """Return the mass of fat in a state, (n_draws,) kg, from its share of the whole mass."""
    lean_kg = np.sum(list(lean.mass_kg.values()), axis=0)
    return np.asarray(lean_kg * fatness.share / (1 - fatness.share))


def with_fat(
    plan: BodyPlan, lean: LeanBody, skin_m2: Mapping[str, Draws], fatness: Fatness
) -> dict[str, Draws]:
    """Add the fat: under the skin by its area and the plan's shares, and in the root's belly."""
    fat = fat_of(lean, fatness)
    weights = {n: plan.segments[n].segment.fat_share * area for n, area in skin_m2.items()}
    total = np.maximum(np.sum(list(weights.values()), axis=0), 1e-12)
    masses = {
        name: mass + fat * (1 - fatness.in_belly) * weights[name] / total
        for name, mass in lean.mass_kg.items()
    }
    root = next(iter(plan.segments))
    masses[root] = masses[root] + fat * fatness.in_belly
    return masses


def standing_segments(
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


def state_of(
    fatness: Fatness,
    plan: BodyPlan,
    lean: LeanBody,
    *,
    skin_m2: Mapping[str, Draws],
    standing: Mapping[str, tuple[Draws, Draws]],
    belly_mm: Draws,
    stance: Stance,
) -> GrownState:
    """Weigh and balance the body in one state of fatness, standing as it does over the year.

    Parameters
    ----------
    standing : mapping from segment to centre and spread
        As :func:`standing_segments` returns them.
    belly_mm : (n_draws, 3) float
        Where the fat of the belly lies, in the axes of the whole body.
    """
    masses = with_fat(plan, lean, skin_m2, fatness)
    fat = fat_of(lean, fatness)
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


def belly_point(root: LoftedSegment) -> Draws:
    """Return where the fat of the belly lies, (n_draws, 3) mm, in the root's own axes."""
    between = np.array(
        [np.interp(_BELLY_ALONG, root.station, row) for row in np.eye(len(root.station))]
    )
    below = root.ventral_mm @ between
    return np.asarray(
        point_on(root, _BELLY_ALONG) - np.outer(_BELLY_BELOW * below, [0.0, 0.0, 1.0])
    )


def with_belly(
    root: LoftedSegment,
    centre_mm: Draws,
    lean: LeanBody,
    fatness: Mapping[str, Fatness],
    mean_kg: Mapping[str, Draws],
) -> Draws:
    """Return the root's centre with the fat of the belly at its own place, mean state."""
    mean = fatness["mean"]
    share = fat_of(lean, mean) * mean.in_belly / next(iter(mean_kg.values()))
    return np.asarray(centre_mm + share[:, None] * (belly_point(root) - centre_mm))
