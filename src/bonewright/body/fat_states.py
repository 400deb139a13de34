"""The body in one state of fatness: where its fat lies, its mass, its balance, its inertia."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.layers import Fatness, LeanBody
from bonewright.body.loft import LoftedSegment
from bonewright.body.loft_moments import Moments
from bonewright.body.places import point_on, to_world
from bonewright.body.plan import BodyPlan
from bonewright.body.posture import Stance
from bonewright.quantity import Draws

__all__ = [
    "GrownState",
    "about_the_origin",
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
# The six places of a symmetric 3 x 3 matrix.
_ENTRIES = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))


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
        place, paired = stance.places[name], plan.segments[name].copies == 2
        at = to_world(place, centre)
        spread = _turned_spread(moments[name], place.turn, paired=paired)
        if paired:
            # The mirror image cancels what is odd from left to right.
            spread[:, 1, 1] += at[:, 1] ** 2
            at[:, 1] = 0.0
        standing[name] = (at, spread)
    return standing


def _turned_spread(moments: Moments, turn: Draws, *, paired: bool) -> Draws:
    """Return the spread about the centre in the axes of the whole body, (n, 3, 3) mm2.

    A segment is alike to both sides, so that in its own axes only x and z go together.
    """
    second, volume = moments.second_mm5, moments.volume_mm3
    xx, yy, zz, xz = (second[:, i, j] / volume for i, j in ((0, 0), (1, 1), (2, 2), (0, 2)))
    spread = np.zeros((len(volume), 3, 3))
    for i, j in _ENTRIES:
        if paired and 1 in (i, j) and i != j:
            continue
        one, other = turn[:, i], turn[:, j]
        entry = one[:, 0] * other[:, 0] * xx + one[:, 1] * other[:, 1] * yy
        entry += one[:, 2] * other[:, 2] * zz
        entry += (one[:, 0] * other[:, 2] + one[:, 2] * other[:, 0]) * xz
        spread[:, i, j] = spread[:, j, i] = entry
    return spread


def about_the_origin(standing: Mapping[str, tuple[Draws, Draws]]) -> dict[str, Draws]:
    """Return what 1 kg of each segment adds to the whole's moments, (9, n) mm and mm2.

    Those are the first moments and the six second ones about the origin of the places, so
    that the moments of a body in any state are sums of masses times these.
    """
    return {
        name: np.stack((*at.T, *(spread[:, i, j] + at[:, i] * at[:, j] for i, j in _ENTRIES)))
        for name, (at, spread) in standing.items()
    }


def state_of(
    fatness: Fatness,
    plan: BodyPlan,
    lean: LeanBody,
    *,
    skin_m2: Mapping[str, Draws],
    about_origin: Mapping[str, Draws],
    belly_mm: Draws,
    stance: Stance,
) -> GrownState:
    """Weigh and balance the body in one state of fatness, standing as it does over the year.

    Parameters
    ----------
    about_origin : mapping from segment to (9, n_draws) float
        As :func:`about_the_origin` returns it.
    belly_mm : (n_draws, 3) float
        Where the fat of the belly lies, in the axes of the whole body.
    """
    masses = with_fat(plan, lean, skin_m2, fatness)
    fat = fat_of(lean, fatness)
    total = np.sum(list(masses.values()), axis=0)
    belly_kg = fat * fatness.in_belly
    masses[next(iter(plan.segments))] -= belly_kg
    belly = np.stack((*belly_mm.T, *(belly_mm[:, i] * belly_mm[:, j] for i, j in _ENTRIES)))
    sums = belly * belly_kg
    for name, of_one in about_origin.items():
        sums += of_one * masses[name]
    centre = sums[:3] / total
    spread = {
        (i, j): entry - total * centre[i] * centre[j]
        for (i, j), entry in zip(_ENTRIES, sums[3:], strict=True)
    }
    trace = spread[0, 0] + spread[1, 1] + spread[2, 2]
    inertia = np.empty((len(total), 3, 3))
    for i, j in _ENTRIES:
        entry = (trace - spread[i, j] if i == j else -spread[i, j]) / _MM_PER_M**2
        inertia[:, i, j] = inertia[:, j, i] = entry
    ahead = centre[0] - stance.foot_mm.mean(axis=1)
    return GrownState(
        state=fatness.state,
        fatness=fatness,
        mass_draws_kg=total,
        volume_draws_m3=np.sum(list(lean.volume_m3.values()), axis=0)
        + fat / lean.fat_density_kg_m3,
        fat_draws_kg=fat,
        centre_m=np.stack((ahead, centre[2] - stance.ground_mm), axis=1) / _MM_PER_M,
        inertia_kg_m2=inertia,
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
