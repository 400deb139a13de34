"""What a body is made of: bone, air, skin, muscle, and the fat that comes and goes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.body.plan import BodyPlan
from bonewright.body.ranges import draws_of_range, spread_over
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws, rank_matched
from bonewright.study.ground_bird import TISSUES
from bonewright.study.model import Tissue
from bonewright.study.settings import Choices

__all__ = [
    "STATES",
    "Fatness",
    "LeanBody",
    "fat_shares",
    "fat_shares_of",
    "lean_body",
    "tissue_densities",
]

STATES = ("lean", "mean", "fat")

# How far the share of air in a segment may be off, common to all segments: one standard
# deviation of 20 % (common practice).
_AIR_SPREAD_LN = 0.2
_LEAST_FAT = 0.002


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeanBody:
    """Mass of the body without its fat, by segment, both sides of a pair together.

    ``mass_kg`` and ``volume_m3`` hold (n,) by segment; ``layers_kg`` the mass of each tissue
    over the whole body; ``air_m3`` the volume of air; ``density_kg_m3`` that of each tissue.
    """

    mass_kg: Mapping[str, Draws]
    volume_m3: Mapping[str, Draws]
    layers_kg: Mapping[str, Draws]
    air_m3: Draws
    density_kg_m3: Mapping[str, Draws]

    @property
    def fat_density_kg_m3(self) -> Draws:
        """The density of fat, (n,)."""
        return self.density_kg_m3["fat"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fatness:
    """Fat of one state: share of body mass (n,), and the share of it in the belly (n,).

    ``variate`` (n,) are the standard normal numbers that were spread over the range of the
    share, one set for all states.
    """

    state: str
    share: Draws
    in_belly: Draws
    variate: Draws


def tissue_densities(
    tissues: Sequence[Tissue], *, rng: np.random.Generator, n_draws: int
) -> dict[str, Draws]:
    """Draw the density of each tissue, kg/m3; a study's rows replace those of the program."""
    known = {tissue.tissue: tissue for tissue in (*TISSUES, *tissues)}
    return {
        name: spread_over(
            tissue.density_kg_m3,
            tissue.low_kg_m3,
            tissue.high_kg_m3,
            variate=rng.standard_normal(n_draws),
        )
        for name, tissue in known.items()
    }


def fat_shares(choices: Choices, *, rng: np.random.Generator, n_draws: int) -> dict[str, Fatness]:
    """Draw the fat of the three states, which rise and fall together.

    Raises
    ------
    OutsideRange
        If a lean animal would be fatter than a fat one.
    """
    variate = rng.standard_normal(n_draws)
    belly = np.clip(draws_of_range(choices.fat_in_belly_percent, rng=rng, n_draws=n_draws), 0, 100)
    return fat_shares_of(choices, variate=variate, in_belly=belly / 100)


def fat_shares_of(choices: Choices, *, variate: Draws, in_belly: Draws) -> dict[str, Fatness]:
    """Spread drawn numbers over the three states; see :func:`fat_shares`."""
    ranges = (choices.fat_lean_percent, choices.fat_mean_percent, choices.fat_fat_percent)
    shares = [
        np.clip(spread_over(r.value, r.low, r.high, variate=variate) / 100, _LEAST_FAT, 0.7)
        for r in ranges
    ]
    if not ranges[0].value <= ranges[1].value <= ranges[2].value:
        raise OutsideRange(
            "The percentages of fat in study.toml do not rise from lean over mean to fat.",
            remedy="Put fat_lean_percent, fat_mean_percent and fat_fat_percent in order.",
        )
    ordered = np.maximum.accumulate(shares, axis=0)
    return {
        state: Fatness(state=state, share=share, in_belly=in_belly, variate=variate)
        for state, share in zip(STATES, ordered, strict=True)
    }


def lean_body(
    plan: BodyPlan,
    *,
    volume_m3: Mapping[str, Draws],
    skin_area_m2: Mapping[str, Draws],
    skin_thickness_m: Draws,
    densities: Mapping[str, Draws],
    whole_density_pattern: Draws,
    rng: np.random.Generator,
) -> LeanBody:
    """Fill each segment with bone, air, skin and muscle.

    Parameters
    ----------
    volume_m3, skin_area_m2 : mapping from segment to (n,) float
        Both sides of a pair together, what other segments hold left out.
    whole_density_pattern : (n,) float
        Draws of the density of a whole body, used for the maquette; air is drawn against
        their order, so that a body light in one line of evidence is light in the other.
    """
    n_draws = len(whole_density_pattern)
    air_factor = rank_matched(
        -whole_density_pattern, np.exp(_AIR_SPREAD_LN * rng.standard_normal(n_draws))
    )
    mass: dict[str, Draws] = {}
    layers = {name: np.zeros(n_draws) for name in ("bone", "skin", "muscle")}
    air_total = np.zeros(n_draws)
    for name, volume in volume_m3.items():
        segment = plan.segments[name].segment
        bone = volume * segment.bone_percent / 100
        # Thin segments, such as toes and beak, are skin and bone with a little else between.
        room = volume - bone
        air = np.minimum(volume * segment.air_percent / 100 * air_factor, 0.9 * room)
        skin = np.minimum(skin_area_m2[name] * skin_thickness_m, 0.9 * (room - air))
        muscle = room - air - skin
        parts = {
            "bone": bone * densities["bone"],
            "skin": skin * densities["skin"],
            "muscle": muscle * densities["muscle"],
        }
        for tissue, part in parts.items():
            layers[tissue] += part
        mass[name] = np.sum(list(parts.values()), axis=0)
        air_total += air
    return LeanBody(
        mass_kg=mass,
        volume_m3=volume_m3,
        layers_kg=layers,
        air_m3=air_total,
        density_kg_m3=densities,
    )
