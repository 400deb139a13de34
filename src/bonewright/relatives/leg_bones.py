"""Body mass from leg bones of living relatives."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws
from bonewright.study.model import Relative, RelativeMeasurement

__all__ = ["BlindProofResult", "LegBoneFit", "RelativesResult", "mass_from_leg_bones"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegBoneFit:
    """The line of log mass on one log measurement over relatives, and what it predicts.

    Arrays have one entry a species used, in the order of ``species``. ``slope`` and
    ``intercept_ln`` are of ln(mass/kg) on ln(length/mm). ``mass_draws_kg`` (n_draws,)
    predicts one animal with the average bone, retransformation correction applied.
    ``prediction_band`` holds x (mm), and lower, middle, upper 95 % prediction limits (kg)
    for drawing. ``outside_percent`` is how far the lost animal's bone lies beyond the
    range of relatives (0 within; in percent of the nearer end).
    """

    element: str
    code: str
    species: tuple[str, ...]
    bone_mm: Draws
    mass_kg: Draws
    slope: float
    slope_se: float
    intercept_ln: float
    residual_sd_ln: float
    r_squared: float
    degrees_of_freedom: int
    correction_name: str
    correction_factor: float
    leave_one_out_error_percent: float
    leave_one_out_coverage_percent: float
    lost_bone_mm: float
    outside_percent: float
    mass_draws_kg: Draws
    prediction_band: tuple[tuple[float, float, float, float], ...]
    rows: tuple[RowRef, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlindProofResult:
    """What each fit says of the named living relative, computed with it left out.

    ``predicted`` maps (element, code) to (low, median, high) of the 95 % prediction, kg.
    """

    species: str
    known_mass_kg: float
    predicted: Mapping[tuple[str, str], tuple[float, float, float]]
    chosen: tuple[str, str]
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RelativesResult:
    """Every leg-bone fit; ``chosen`` is the one with the least leave-one-out error."""

    fits: Mapping[tuple[str, str], LegBoneFit]
    chosen: tuple[str, str]
    blind_proof: BlindProofResult | None
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def mass_from_leg_bones(
    relatives: tuple[Relative, ...],
    relative_measurements: tuple[RelativeMeasurement, ...],
    *,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    retransformation: str,
    blind_species: str | None,
    tree_tips: tuple[str, ...] | None,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
) -> RelativesResult:
    """Predict the lost animal's mass from each leg-bone measurement."""
    raise NotImplementedError
