"""The average skeleton: one mean a measurement, over individuals."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws
from bonewright.study.model import Measurement, Specimen

__all__ = ["AverageSkeleton", "BoneMean", "average_skeleton"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoneMean:
    """Mean of one measurement over individuals.

    ``individuals_mm`` are the individuals' values (pairs and repeats reduced first);
    ``mean_draws_mm`` has shape (n_draws,); ``between_sd_mm`` is the standard deviation
    between individuals (pooled coefficient of variation where n is 1).
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
    rows: tuple[RowRef, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AverageSkeleton:
    """All bone means, keyed by (element, code)."""

    means: Mapping[tuple[str, str], BoneMean]
    measurement_error_percent: float | None
    n_repeated: int
    minimum_number_of_individuals: int
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def average_skeleton(
    specimens: tuple[Specimen, ...],
    measurements: tuple[Measurement, ...],
    *,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    n_draws: int,
) -> AverageSkeleton:
    """Average every measurement over individuals."""
    raise NotImplementedError
