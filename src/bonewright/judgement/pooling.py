"""The independent lines of evidence on mass, pooled."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Finding
from bonewright.quantity import Draws, Summary

__all__ = ["Line", "PooledMass", "pool_masses"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of evidence on mass. ``pooled`` says whether it enters the verdict, and
    ``reason`` why (not). ``rests_on`` names what it depends on.
    """

    key: str
    title: str
    mass_draws_kg: Draws
    pooled: bool
    reason: str
    rests_on: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PooledMass:
    """The pooled mass and how the lines agree.

    ``tau_ln`` is the posterior median of the between-line standard deviation (ln units);
    ``without`` maps each pooled line's key to the pooled summary without it.
    """

    lines: tuple[Line, ...]
    mass_draws_kg: Draws
    weights_percent: Mapping[str, float]
    tau_ln: float
    q_statistic: float
    q_p_value: float
    i_squared_percent: float
    without: Mapping[str, Summary]
    findings: tuple[Finding, ...]


def pool_masses(
    lines: tuple[Line, ...],
    *,
    heterogeneity_scale: float,
    rng: np.random.Generator,
) -> PooledMass:
    """Pool the lines marked ``pooled`` on the logarithm of mass."""
    raise NotImplementedError
