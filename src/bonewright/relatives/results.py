"""What the step returns."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws

__all__ = ["BlindProofResult", "LegBoneFit", "RelativesResult"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegBoneFit:
    """The line of log mass on one log measurement over relatives, and what it predicts.

    Arrays have one entry a species used, in the order of ``species``. ``slope`` and
    ``intercept_ln`` are of ln(mass/kg) on ln(length/mm). ``mass_draws_kg`` (n_draws,)
    predicts one animal with the average bone. The retransformation correction moves only
    ``mean_mass_kg``, the point estimate of the mean (mass on the line at the average bone
    × ``correction_factor``): draws that were moved would no longer hold an animal's mass as
    often as they say.
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
    mean_mass_kg: float
    mass_draws_kg: Draws
    prediction_band: tuple[tuple[float, float, float, float], ...]
    rows: tuple[RowRef, ...]

    def __post_init__(self) -> None:
        for name in ("bone_mm", "mass_kg", "mass_draws_kg"):
            array = np.array(getattr(self, name), dtype=np.float64, copy=True)
            array.flags.writeable = False
            object.__setattr__(self, name, array)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlindProofResult:
    """What each fit says of the named living relative, computed with it left out.

    ``predicted`` maps (element, code) to (low, median, high) of the 95 % prediction, kg.
    ``chosen`` is chosen without that relative; ``held`` says whether its interval holds the
    known mass.
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
