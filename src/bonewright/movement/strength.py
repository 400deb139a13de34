"""The strength indicator and the mass window."""

from collections.abc import Mapping
from dataclasses import dataclass

from bonewright.findings import Finding
from bonewright.quantity import Draws
from bonewright.study.model import Relative

__all__ = ["ComparisonAnimal", "StrengthOfBone", "StrengthResult", "strength_of_legs"]


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthResult:
    """All leg bones; the joint window is where every bone stays within its range.

    ``joint_low_draws_kg`` may exceed ``joint_high_draws_kg`` in draws in which no mass
    fits; ``share_without_window`` is the share of such draws, ``share_inside`` the share of
    mass draws inside the joint window.
    """

    comparison: tuple[ComparisonAnimal, ...]
    bones: Mapping[str, StrengthOfBone]
    joint_low_draws_kg: Draws
    joint_high_draws_kg: Draws
    share_without_window: float
    share_inside: float
    findings: tuple[Finding, ...]


def strength_of_legs(
    *,
    modulus_over_arm_draws_mm2: Mapping[str, Draws],
    species_modulus_over_arm_mm2: Mapping[tuple[str, str], float],
    relatives: tuple[Relative, ...],
    mass_draws_kg: Draws,
    weight_fraction_draws: Draws,
    comparison: str,
) -> StrengthResult:
    """Compare the legs with those of living ``comparison`` animals (locomotion class)."""
    raise NotImplementedError
