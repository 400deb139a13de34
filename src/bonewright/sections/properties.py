"""Cross-sections and their properties (see the package docstring)."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Doubt, Finding
from bonewright.quantity import Draws
from bonewright.remembering import recalled
from bonewright.sections.as_findings import section_findings
from bonewright.sections.average_bone import (
    AverageBone,
    average_bones,
    for_the_average,
    reference_positions,
)
from bonewright.sections.doubts import doubt_sections
from bonewright.sections.measured import MeasuredSection, measure_section
from bonewright.sections.shape import SectionProperties
from bonewright.study.model import Section

__all__ = [
    "AverageBone",
    "MeasuredSection",
    "SectionProperties",
    "SectionsResult",
    "measure_sections",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionsResult:
    """All sections measured.

    ``modulus_over_arm_draws_mm2`` maps element to draws (n_draws,) of Z/x of the *average*
    animal's bone: each section's Z (about the mediolateral axis) scaled by the cube and x by
    the first power of average length over that bone's length, then averaged over sections.
    ``species_modulus_over_arm_mm2`` maps (species, element) to Z/x (mean over sections).
    ``average_bones`` has the average animal's sections in full.
    """

    measured: tuple[MeasuredSection, ...]
    modulus_over_arm_draws_mm2: Mapping[str, Draws]
    species_modulus_over_arm_mm2: Mapping[tuple[str, str], float]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]
    average_bones: Mapping[str, AverageBone] = field(default_factory=dict)


def measure_sections(
    sections: tuple[Section, ...],
    *,
    average_length_draws_mm: Mapping[str, Draws],
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    n_draws: int,
    species_length_mm: Mapping[tuple[str, str], float] | None = None,
    weathered: frozenset[str] = frozenset(),
    weathering_percent: Draws | None = None,
) -> SectionsResult:
    """Compute the properties of every section and the average animal's Z/x.

    Parameters
    ----------
    sections : tuple of Section
        Of the lost animal and of living species.
    average_length_draws_mm : mapping of element to (n_draws,)
        Greatest length of the average animal's bone.
    species_length_mm : mapping of (species, element) to float, optional
        Greatest length of living species' bones, to check the lengths of their sections by.
    weathered : set of str
        Specimens whose surface is weathered.
    weathering_percent : (n_draws,), optional
        How much too small the section modulus of a weathered bone is, in %.

    Raises
    ------
    NotEnoughEvidence
        If no section is left to use.
    """
    doubts = doubt_sections(
        sections,
        average_length_mm={
            element: float(np.median(draws)) for element, draws in average_length_draws_mm.items()
        },
        species_length_mm=species_length_mm or {},
        kept=kept,
        set_aside=set_aside,
    )
    held_out = {doubt.ref for doubt in doubts if doubt.held_out}
    # A section's shape does not depend on the bones' lengths, which change more often.
    measured = recalled(
        _measured,
        tuple(
            section
            for section in sections
            if section.ref not in held_out
            and (section.ref.table, section.ref.row_id) not in set_aside
        ),
    )
    if not measured:
        raise NotEnoughEvidence(
            "No bone section can be used.",
            needed="at least one section of a leg bone",
            found=", ".join(sorted(f"doubtful {ref.words()}" for ref in held_out)) or "none",
            would_help="rows in the table of bone sections",
            doubts=doubts,
        )
    elements_held_out = {
        element: tuple(
            section.ref
            for section in sections
            if section.species is None and section.element == element and section.ref in held_out
        )
        for element in {section.element for section in sections}
    }
    positions = reference_positions(measured)
    compared = for_the_average(measured, positions)
    bones, unscaled = average_bones(
        tuple(section for section in compared if section.species is None),
        average_length_draws_mm=average_length_draws_mm,
        weathered=weathered,
        weathering_percent=np.zeros(n_draws) if weathering_percent is None else weathering_percent,
        rng=rng,
    )
    return SectionsResult(
        measured=measured,
        modulus_over_arm_draws_mm2={
            element: bone.modulus_over_arm_mm2 for element, bone in bones.items()
        },
        species_modulus_over_arm_mm2=_species_means(compared),
        doubts=doubts,
        findings=section_findings(bones, unscaled=unscaled, held_out=elements_held_out),
        average_bones=bones,
    )


def _measured(sections: tuple[Section, ...]) -> tuple[MeasuredSection, ...]:
    return tuple(map(measure_section, sections))


def _species_means(measured: tuple[MeasuredSection, ...]) -> dict[tuple[str, str], float]:
    values: dict[tuple[str, str], list[float]] = {}
    for section in measured:
        if section.species is not None:
            values.setdefault((section.species, section.element), []).append(
                section.properties.section_modulus_mediolateral_mm3
                / section.distance_to_distal_end_mm
            )
    return {key: float(np.mean(list_of_values)) for key, list_of_values in values.items()}
