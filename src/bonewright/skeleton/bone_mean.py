"""The average of one measurement."""

from dataclasses import dataclass

import numpy as np

from bonewright.findings import RowRef
from bonewright.quantity import Draws
from bonewright.skeleton.averaging import PlainMean

__all__ = ["BoneMean"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoneMean:
    """The average of one measurement.

    ``individuals_mm`` are the individuals' values (pairs and repeats reduced first);
    ``mean_draws_mm`` (n_draws,) are those of the joint model, ``mean_mm`` their mean;
    ``between_sd_mm`` is the standard deviation between individuals. ``plain`` is the mean
    of this measurement for itself, for comparison.
    """

    element: str
    code: str
    n_individuals: int
    n_bones: int
    n_measurements: int
    individuals_mm: tuple[float, ...]
    mean_mm: float
    between_sd_mm: float
    mean_draws_mm: Draws
    plain: PlainMean
    rows: tuple[RowRef, ...]

    def __post_init__(self) -> None:
        draws = np.array(self.mean_draws_mm, dtype=np.float64, copy=True)
        draws.flags.writeable = False
        object.__setattr__(self, "mean_draws_mm", draws)
