"""The plain mean of one measurement over the individuals that have it.

It is what most papers print, and what the joint model is laid beside in the report: each
measurement for itself, whatever else the individuals have left. It also serves where the
joint model does not hold: toe bones, which the tables do not tell apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from bonewright.quantity import Draws
from bonewright.skeleton.reduction import IndividualValue
from bonewright.skeleton.variation import PooledVariation

__all__ = ["FEW_INDIVIDUALS", "PlainMean", "plain_mean"]

FEW_INDIVIDUALS = 3
"""Up to this many individuals the variation is borrowed from all measurements together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainMean:
    """A mean over ``n`` individuals, and the standard deviation between them, mm."""

    n: int
    mean_mm: float
    between_sd_mm: float
    degrees_of_freedom: int

    @property
    def standard_error_mm(self) -> float:
        """Standard error of the mean, mm."""
        return self.between_sd_mm / float(np.sqrt(self.n))

    def interval95_mm(self) -> tuple[float, float]:
        """Return the 95 % t interval of the mean, mm."""
        reach = float(stdtrit(self.degrees_of_freedom, 0.975)) * self.standard_error_mm
        return self.mean_mm - reach, self.mean_mm + reach

    def draws_mm(self, *, rng: np.random.Generator, n_draws: int) -> Draws:
        """Draw the mean from its t distribution, cut off at half and at twice the mean."""
        off = rng.standard_t(self.degrees_of_freedom, n_draws) * self.standard_error_mm
        return np.clip(self.mean_mm + off, self.mean_mm / 2, self.mean_mm * 2)


def plain_mean(group: Sequence[IndividualValue], *, variation: PooledVariation) -> PlainMean:
    """Average one measurement over its individuals (mm).

    ``variation`` is used for groups of at most :data:`FEW_INDIVIDUALS`. Assumes that
    individuals are a random sample of one kind of animal.
    """
    values = np.array([value.value_mm for value in group])
    n, mean = len(values), float(np.mean(values))
    if n > FEW_INDIVIDUALS:
        between_sd, degrees = float(np.std(values, ddof=1)), n - 1
    else:
        between_sd, degrees = variation.coefficient * mean, variation.degrees_of_freedom
    return PlainMean(n=n, mean_mm=mean, between_sd_mm=between_sd, degrees_of_freedom=degrees)
