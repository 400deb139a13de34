"""What the step returns."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws

if TYPE_CHECKING:
    from bonewright.relatives.in_trees import TreeTask

__all__ = [
    "BlindProofResult",
    "Foretold",
    "JointLine",
    "JointTrial",
    "LegBoneFit",
    "ProofScore",
    "RelativesResult",
]


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
    leave_one_out_rms_ln: float
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


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofScore:
    """How predictions of ``n`` relatives of known mass did.

    ``error_percent`` is the median of 100 |predicted - known| / known; ``mean_ratio`` the
    geometric mean of predicted over known; ``coverage_percent`` how many the 95 % intervals
    held; ``log_score`` the mean log density given to the known ln mass, the higher the better.
    """

    name: str
    n: int
    error_percent: float
    mean_ratio: float
    coverage_percent: float
    log_score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointTrial:
    """One candidate of the joint model: its bones, its group, its tests, their mean score."""

    name: str
    bones: tuple[tuple[str, str], ...]
    group: str
    tests: tuple[ProofScore, ...]
    score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """A relative of known mass, and the 95 % interval foretold without it, kg."""

    species: str
    known_kg: float
    low_kg: float
    middle_kg: float
    high_kg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointLine:
    """The mass by several leg bones together: the line of evidence of this step.

    ``mass_draws_kg`` (n_draws,) is of one animal with the average bones. ``trial`` is the
    chosen candidate among ``trials``; ``each_left_out`` and ``heaviest_out`` are its
    predictions of relatives. ``heavy_percent`` is how probably the animal is heavier than nine
    in ten relatives, where its kin are not asked. ``by_descent_percent`` is the share of the
    bones' deviations that kin have in common. ``misfit_p`` is how often a relative's bones
    would disagree as much; ``lines_percent`` the share of the variance that comes from the
    lines themselves (leverage). ``n_trees`` and ``placed`` say where in which trees it stood.
    """

    bones: tuple[tuple[str, str], ...]
    species: tuple[str, ...]
    mass_draws_kg: Draws
    trial: JointTrial
    trials: tuple[JointTrial, ...]
    each_left_out: tuple[Foretold, ...]
    heaviest_out: tuple[Foretold, ...]
    heaviest_kg: float
    heavy_percent: float
    by_descent_percent: float
    misfit_p: float
    lines_percent: float
    n_trees: int
    placed: str
    rows: tuple[RowRef, ...]
    tasks: tuple["TreeTask", ...] = ()
    """What was asked on each tree, to ask it again of another place."""

    def __post_init__(self) -> None:
        array = np.array(self.mass_draws_kg, dtype=np.float64, copy=True)
        array.flags.writeable = False
        object.__setattr__(self, "mass_draws_kg", array)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlindProofResult:
    """What each fit says of the named living relative, computed with it left out.

    ``predicted`` maps (element, code) to (low, median, high) of the 95 % prediction, kg.
    ``chosen`` is chosen without that relative; ``held`` says whether its interval holds the
    known mass. ``joint`` is what the bones together say, where they can; ``held`` is then its.
    """

    species: str
    known_mass_kg: float
    predicted: Mapping[tuple[str, str], tuple[float, float, float]]
    chosen: tuple[str, str]
    held: bool
    joint: Foretold | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RelativesResult:
    """Every leg-bone fit, ``chosen`` being the best of them, and all bones together.

    ``joint`` is the line of evidence; None, with the reason in the findings, where too few
    relatives share the bones.
    """

    fits: Mapping[tuple[str, str], LegBoneFit]
    chosen: tuple[str, str]
    blind_proof: BlindProofResult | None
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]
    joint: JointLine | None = None
