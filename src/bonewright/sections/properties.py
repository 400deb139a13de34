"""Cross-sections and their properties (see the package docstring)."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws
from bonewright.study.model import Section

__all__ = ["MeasuredSection", "SectionProperties", "SectionsResult", "measure_sections"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionProperties:
    """Properties of one cross-section.

    Second moments are about axes through the centroid: ``second_moment_mediolateral_mm4``
    about the mediolateral axis (resists bending front to back). Section moduli are from
    the true extreme fibre.
    """

    area_mm2: float
    centroid_mm: tuple[float, float]
    second_moment_mediolateral_mm4: float
    second_moment_anteroposterior_mm4: float
    product_moment_mm4: float
    greatest_moment_mm4: float
    least_moment_mm4: float
    polar_moment_mm4: float
    section_modulus_mediolateral_mm3: float
    section_modulus_anteroposterior_mm3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSection:
    """A section with its properties and rings (mm) for drawing."""

    ref: RowRef
    section_id: str
    species: str | None
    specimen_id: str | None
    element: str
    position_fraction: float
    bone_length_mm: float
    distance_to_distal_end_mm: float
    properties: SectionProperties
    outline_mm: tuple[tuple[tuple[float, float], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionsResult:
    """All sections measured.

    ``modulus_over_arm_draws_mm2`` maps element to draws (n_draws,) of Z/x of the *average*
    animal's bone: each section's Z (about the mediolateral axis) scaled by the cube and x by
    the first power of average length over that bone's length, then averaged over sections.
    ``species_modulus_over_arm_mm2`` maps (species, element) to Z/x (mean over sections).
    """

    measured: tuple[MeasuredSection, ...]
    modulus_over_arm_draws_mm2: Mapping[str, Draws]
    species_modulus_over_arm_mm2: Mapping[tuple[str, str], float]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def measure_sections(
    sections: tuple[Section, ...],
    *,
    average_length_draws_mm: Mapping[str, Draws],
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    n_draws: int,
) -> SectionsResult:
    """Compute the properties of every section and the average animal's Z/x."""
    raise NotImplementedError
