"""The animals compared, and those among them that look like mistakes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.quantity import Draws

__all__ = ["ComparisonAnimal", "StrengthOfBone", "out_of_line"]

# Common practice: indicators of animals that move alike keep within about 30 % of each
# other, and a twentyfold range of mass adds no more than a factor of 1.6 either way.
_FLOOR_LN = 0.3
_LIMIT = 4.5
_FEWEST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonAnimal:
    """A living species' strength indicator for one leg bone, GPa^-1."""

    species: str
    locomotion: str
    element: str
    body_mass_kg: float
    indicator_per_gpa: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthOfBone:
    """One leg bone: indicator at the estimated mass, and the window of masses it allows.

    ``window_low_draws_kg``/``window_high_draws_kg`` are the masses at which the indicator
    equals the greatest/least of the comparison animals.
    """

    element: str
    indicator_draws_per_gpa: Draws
    comparison_range_per_gpa: tuple[float, float]
    window_low_draws_kg: Draws
    window_high_draws_kg: Draws
    n_comparison: int


def out_of_line(animals: Sequence[ComparisonAnimal]) -> Mapping[ComparisonAnimal, float]:
    """Find animals whose indicator for one element is impossibly far from the others'.

    Returns the factor by which each of them departs from the median. Sizes are not
    allowed for: an error in the body mass would hide behind its own correction. With fewer
    than four animals nobody can be called out of line.
    """
    found = {}
    for element in {animal.element for animal in animals}:
        those = [animal for animal in animals if animal.element == element]
        if len(those) < _FEWEST:
            continue
        ln_values = np.log([animal.indicator_per_gpa for animal in those])
        departures = ln_values - np.median(ln_values)
        spread = max(1.4826 * float(np.median(np.abs(departures))), _FLOOR_LN)
        for animal, departure in zip(those, departures, strict=True):
            if abs(departure) > _LIMIT * spread:
                found[animal] = float(np.exp(departure))
    return found
