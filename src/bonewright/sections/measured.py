"""One section measured: its properties and where it lies on its bone."""

from dataclasses import dataclass

from bonewright.findings import RowRef
from bonewright.sections.ellipse import ellipse_rings, hollow_ellipse
from bonewright.sections.outline import traced_outline
from bonewright.sections.shape import Ring, SectionProperties
from bonewright.study.model import Section

__all__ = ["MeasuredSection", "measure_section"]


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


def measure_section(section: Section) -> MeasuredSection:
    """Compute the properties of one section, from its outline or else its diameters."""
    rings: tuple[Ring, ...]
    if section.outline_mm is not None:
        rings = section.outline_mm
        properties = traced_outline(rings)
    else:
        breadth = section.outer_mediolateral_mm or 0.0
        depth = section.outer_anteroposterior_mm or 0.0
        inner_breadth = section.inner_mediolateral_mm or 0.0
        inner_depth = section.inner_anteroposterior_mm or 0.0
        properties = hollow_ellipse(
            breadth,
            depth,
            inner_mediolateral_mm=inner_breadth,
            inner_anteroposterior_mm=inner_depth,
        )
        rings = ellipse_rings(
            breadth,
            depth,
            inner_mediolateral_mm=inner_breadth,
            inner_anteroposterior_mm=inner_depth,
        )
    return MeasuredSection(
        ref=section.ref,
        section_id=section.section_id,
        species=section.species,
        specimen_id=section.specimen_id,
        element=section.element,
        position_fraction=section.position_fraction,
        bone_length_mm=section.bone_length_mm,
        distance_to_distal_end_mm=(1 - section.position_fraction) * section.bone_length_mm,
        properties=properties,
        outline_mm=rings,
    )
