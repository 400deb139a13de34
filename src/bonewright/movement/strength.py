"""The strength indicator and the mass window."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.findings import Caveat, Finding
from bonewright.movement.as_findings import movement_findings
from bonewright.movement.bounds import BoundsRule, comparison_bounds
from bonewright.movement.comparison import ComparisonAnimal, StrengthOfBone, out_of_line
from bonewright.movement.fatness import StateStrength, fatness_findings
from bonewright.movement.indicator import mass_at_indicator, strength_indicator
from bonewright.movement.published_indicators import PublishedIndicator, with_own_rows
from bonewright.quantity import Draws
from bonewright.study.model import Relative, StrengthIndicator

__all__ = [
    "ComparisonAnimal",
    "StateStrength",
    "StrengthOfBone",
    "StrengthResult",
    "strength_of_legs",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthResult:
    """All leg bones; the joint window is where every bone stays within its range.

    ``joint_low_draws_kg`` may exceed ``joint_high_draws_kg`` in draws in which no mass
    fits; ``share_without_window`` is the share of such draws, ``share_inside`` the share of
    mass draws inside the joint window. ``states`` judges the body in each state of fatness;
    ``greatest_fat_percent`` is the share of fat at which the animal would leave the window,
    None where its fat-free mass is not known. ``published`` are the indicators of
    publications, counted among those compared only if ``published_counted``; ``bounds`` says
    what counts as like them.
    """

    comparison: tuple[ComparisonAnimal, ...]
    bones: Mapping[str, StrengthOfBone]
    joint_low_draws_kg: Draws
    joint_high_draws_kg: Draws
    share_without_window: float
    share_inside: float
    findings: tuple[Finding, ...]
    states: tuple[StateStrength, ...] = ()
    greatest_fat_percent: Draws | None = None
    published: tuple[PublishedIndicator, ...] = ()
    published_counted: bool = False
    bounds: BoundsRule = "range"


# Below this many species a range says too little.
FEWEST_SPECIES = 3


def strength_of_legs(
    *,
    modulus_over_arm_draws_mm2: Mapping[str, Draws],
    species_modulus_over_arm_mm2: Mapping[tuple[str, str], float],
    relatives: tuple[Relative, ...],
    mass_draws_kg: Draws,
    weight_fraction_draws: Draws,
    comparison: str,
    kept: frozenset[tuple[str, str]] = frozenset(),
    bounds: BoundsRule = "range",
    count_published: bool = False,
    own_indicators: tuple[StrengthIndicator, ...] = (),
    state_mass_draws_kg: Mapping[str, Draws] | None = None,
    fat_free_draws_kg: Draws | None = None,
) -> StrengthResult:
    """Compare the legs with those of living ``comparison`` animals (locomotion class).

    Parameters
    ----------
    modulus_over_arm_draws_mm2 : mapping of element to (n_draws,)
        Z/x of the average animal.
    species_modulus_over_arm_mm2 : mapping of (species, element) to float
        Z/x of living species; their weight is taken to rest on one pair of legs.
    relatives : tuple of Relative
        Living species with body mass, without those held out or set aside.
    mass_draws_kg, weight_fraction_draws : (n_draws,)
        Body mass of the lost animal, and the share of its weight on these legs.
    kept : set of (table, row id)
        Relatives kept by decision although their strength looks out of line.
    bounds : {"range", "t-interval", "kernel density"}
        What counts as like the animals compared.
    count_published : bool
        Whether published indicators of animals that move so join the comparison.
    own_indicators : tuple of StrengthIndicator
        Published indicators that the study brings, beside those of the program.
    state_mass_draws_kg : mapping of state to (n_draws,), optional
        Body mass lean, mean and fat.
    fat_free_draws_kg : (n_draws,), optional
        Mass of the average animal without its fat.

    Raises
    ------
    NotEnoughEvidence
        If no leg bone has both an average and three comparison species.
    OutsideRange
        If the share of weight on the legs is not above 0 and at most 1.
    """
    if weight_fraction_draws.min() <= 0 or weight_fraction_draws.max() > 1:
        raise OutsideRange(
            "The share of body weight on the legs (weight_on_legs in study.toml) reaches outside"
            " 0 to 1.",
            remedy="Give it above 0 and at most 1; 1 for a two-legged animal.",
        )
    animals = _comparison_animals(species_modulus_over_arm_mm2, relatives)
    rows = {relative.species: relative.ref for relative in relatives}
    chosen = [animal for animal in animals if animal.locomotion == comparison]
    departing = {
        animal: factor
        for animal, factor in out_of_line(chosen).items()
        if (rows[animal.species].table, rows[animal.species].row_id) not in kept
    }
    used = [animal for animal in chosen if animal not in departing]
    published = with_own_rows(own_indicators)
    counted = tuple(one for one in published if count_published and one.locomotion == comparison)
    compared = {
        element: [animal.indicator_per_gpa for animal in used if animal.element == element]
        + [one.indicator_per_gpa for one in counted if one.element == element]
        for element in modulus_over_arm_draws_mm2
    }
    bones = {
        element: _strength_of_bone(
            element,
            modulus_over_arm_mm2,
            indicators=compared[element],
            bounds=bounds,
            mass_kg=mass_draws_kg,
            weight_fraction=weight_fraction_draws,
        )
        for element, modulus_over_arm_mm2 in sorted(modulus_over_arm_draws_mm2.items())
        if len(compared[element]) >= FEWEST_SPECIES
    }
    if not bones:
        raise NotEnoughEvidence(
            "The legs cannot be compared with living animals.",
            needed=f"sections of one leg bone from the lost animal and from {FEWEST_SPECIES}"
            f" species marked {comparison}",
            found=_counts(modulus_over_arm_draws_mm2, used, comparison),
            would_help=f"rows for more {comparison} species in the table of bone sections",
        )
    joint_low = np.max([bone.window_low_draws_kg for bone in bones.values()], axis=0)
    joint_high = np.min([bone.window_high_draws_kg for bone in bones.values()], axis=0)
    too_weak = mass_draws_kg > joint_high
    inside = (mass_draws_kg >= joint_low) & ~too_weak
    share_without_window = float(np.mean(joint_low > joint_high))
    states = tuple(
        StateStrength(
            state=state,
            mass_draws_kg=draws,
            share_inside=float(np.mean((draws >= joint_low) & (draws <= joint_high))),
            share_too_weak=float(np.mean(draws > joint_high)),
        )
        for state, draws in (state_mass_draws_kg or {}).items()
    )
    greatest_fat = (
        None
        if fat_free_draws_kg is None
        else np.maximum(100 * (1 - fat_free_draws_kg / joint_high), 0.0)
    )
    return StrengthResult(
        comparison=animals,
        bones=bones,
        joint_low_draws_kg=joint_low,
        joint_high_draws_kg=joint_high,
        share_without_window=share_without_window,
        share_inside=float(np.mean(inside)),
        findings=movement_findings(
            bones,
            joint_draws_kg=(joint_low, joint_high),
            shares=(float(np.mean(inside)), float(np.mean(too_weak)), share_without_window),
            used=used,
            rows=rows,
            mass_kg=float(np.median(mass_draws_kg)),
            comparison=comparison,
            caveats=tuple(
                Caveat(
                    code="comparison animal out of line",
                    text=(
                        f"{animal.species} is left out for the {animal.element}: its strength"
                        f" indicator is {factor:.2g} times what the others have. Look at its body"
                        " mass and its section."
                    ),
                    rows=(rows[animal.species],),
                )
                for animal, factor in departing.items()
            )
            + _bones_left_out(modulus_over_arm_draws_mm2, bones, comparison)
            + _published_counted(counted),
            bounds=bounds,
            published=counted,
        )
        + fatness_findings(states, greatest_fat, comparison=comparison),
        states=states,
        greatest_fat_percent=greatest_fat,
        published=published,
        published_counted=bool(counted),
        bounds=bounds,
    )


def _comparison_animals(
    species_modulus_over_arm_mm2: Mapping[tuple[str, str], float], relatives: tuple[Relative, ...]
) -> tuple[ComparisonAnimal, ...]:
    by_species = {relative.species: relative for relative in relatives}
    return tuple(
        ComparisonAnimal(
            species=species,
            locomotion=by_species[species].locomotion,
            element=element,
            body_mass_kg=by_species[species].body_mass_kg,
            indicator_per_gpa=strength_indicator(
                modulus_over_arm_mm2, by_species[species].body_mass_kg, weight_fraction=1.0
            ),
        )
        for (species, element), modulus_over_arm_mm2 in species_modulus_over_arm_mm2.items()
        if species in by_species
    )


def _strength_of_bone(
    element: str,
    modulus_over_arm_mm2: Draws,
    *,
    indicators: list[float],
    bounds: BoundsRule,
    mass_kg: Draws,
    weight_fraction: Draws,
) -> StrengthOfBone:
    least, greatest = comparison_bounds(indicators, bounds)
    return StrengthOfBone(
        element=element,
        indicator_draws_per_gpa=strength_indicator(
            modulus_over_arm_mm2, mass_kg, weight_fraction=weight_fraction
        ),
        comparison_range_per_gpa=(least, greatest),
        window_low_draws_kg=mass_at_indicator(
            modulus_over_arm_mm2, greatest, weight_fraction=weight_fraction
        ),
        window_high_draws_kg=mass_at_indicator(
            modulus_over_arm_mm2, least, weight_fraction=weight_fraction
        ),
        n_comparison=len(indicators),
    )


def _published_counted(counted: tuple[PublishedIndicator, ...]) -> tuple[Caveat, ...]:
    animals = ", ".join(f"{one.animal} {one.element} {one.indicator_per_gpa:g}" for one in counted)
    if not animals:
        return ()
    return (
        Caveat(
            code="published indicators counted",
            text=f"Published indicators are counted among those compared: {animals} GPa^-1."
            " They were measured by others, at sections and lengths of their own choosing.",
            rows=tuple(one.ref for one in counted if one.ref is not None),
        ),
    )


def _counts(elements: Mapping[str, Draws], used: list[ComparisonAnimal], comparison: str) -> str:
    if not elements:
        return "no leg bone of the lost animal with sections and an average length"
    return ", ".join(
        f"{element}: {sum(animal.element == element for animal in used)} {comparison} species"
        for element in sorted(elements)
    )


def _bones_left_out(
    elements: Mapping[str, Draws], bones: Mapping[str, StrengthOfBone], comparison: str
) -> tuple[Caveat, ...]:
    missing = sorted(set(elements) - set(bones))
    if not missing:
        return ()
    return (
        Caveat(
            code="leg bone without comparison",
            text=f"Not compared, for want of {FEWEST_SPECIES} {comparison} species with sections:"
            f" {', '.join(missing)}.",
        ),
    )
