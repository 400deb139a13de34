"""How much individuals vary, and how much of it is the measuring."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum, sqrt

__all__ = [
    "ASSUMED_VARIATION",
    "PooledVariation",
    "pooled_variation",
    "technical_error",
]

ASSUMED_VARIATION = 0.05
"""Coefficient of variation of one bone measurement among grown birds of one species, both
sexes together: common practice."""

ENOUGH_DEGREES = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledVariation:
    """Coefficient of variation pooled over all measurements.

    ``assumed`` says that too few individuals share a measurement to learn it from, so
    that :data:`ASSUMED_VARIATION` fills the missing degrees of freedom.
    """

    coefficient: float
    degrees_of_freedom: int
    assumed: bool


def technical_error(repeats: Iterable[Sequence[float]]) -> float | None:
    """Return the technical error of measurement, in the unit of the readings.

    ``repeats`` holds, for each thing measured, its readings; things read once add nothing.
    None where nothing was read twice.

    Notes
    -----
    Source: [UlijaszekKerr1999]_: the square root of the summed squares within things
    over the summed degrees of freedom, which for the same number K of readings on each of
    N things is their formula with N(K - 1).
    """
    squares, degrees = 0.0, 0
    for readings in repeats:
        if len(readings) > 1:
            mean = fsum(readings) / len(readings)
            squares += fsum((reading - mean) ** 2 for reading in readings)
            degrees += len(readings) - 1
    return sqrt(squares / degrees) if degrees else None


def pooled_variation(groups: Iterable[Sequence[float]]) -> PooledVariation:
    """Pool the coefficient of variation over measurements.

    ``groups`` holds, for each element and code, the individuals' values (mm, positive).
    The squared coefficients are averaged with their degrees of freedom as weights.
    """
    squares, degrees = 0.0, 0
    for group in groups:
        if len(group) > 1:
            mean = fsum(group) / len(group)
            squares += fsum((value / mean - 1) ** 2 for value in group)
            degrees += len(group) - 1
    missing = max(ENOUGH_DEGREES - degrees, 0)
    squares += missing * ASSUMED_VARIATION**2
    return PooledVariation(
        coefficient=sqrt(squares / (degrees + missing)),
        degrees_of_freedom=degrees + missing,
        assumed=missing > 0,
    )
