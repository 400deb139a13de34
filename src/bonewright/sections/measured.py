"""One section measured: its properties, how well they are known, and where it lies."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from bonewright.errors import OutsideRange
from bonewright.findings import RowRef
from bonewright.sections.ellipse import ellipse_rings, hollow_ellipse
from bonewright.sections.outline import traced_outline
from bonewright.sections.shape import Ring, SectionProperties
from bonewright.sections.torsion import torsion_constant
from bonewright.study.model import Section

__all__ = ["MeasuredSection", "measure_section"]

# Common practice: dial callipers are read to 0.05 mm; a traced edge is off by up to 0.25 %
# of the section's breadth.
_CALLIPER_DIVISION_MM = 0.05
_TRACED_SHARE = 0.0025
_N_POINTS_FOR_TORSION = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSection:
    """A section with its properties and rings (mm) for drawing.

    ``modulus_sd_ln`` is the standard deviation of ln Z (about the mediolateral axis) that
    the division of the callipers or the placing of the traced edge leaves.
    ``torsion_constant_mm4`` is solved for sections of the lost animal only; None where it
    was not, or could not be (several cavities, an edge that doubles back).
    """

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
    modulus_sd_ln: float = 0.0
    axis_offset_mm: float | None = None
    torsion_constant_mm4: float | None = None


def measure_section(section: Section) -> MeasuredSection:
    """Compute the properties of one section, from its outline or else its diameters."""
    rings: tuple[Ring, ...]
    if section.outline_mm is not None:
        rings = section.outline_mm
        properties = traced_outline(rings)
        spread = _traced_spread(section, properties)
        for_torsion = rings
    else:
        properties = _by_callipers(section)
        rings = _drawn(section, n_points=72)
        spread = _calliper_spread(section)
        # Polygons as large as the ellipses they stand for, whose corners lie outside.
        turn = 2 * np.pi / _N_POINTS_FOR_TORSION
        swell = float(np.sqrt(turn / np.sin(turn)))
        for_torsion = _drawn(section, n_points=_N_POINTS_FOR_TORSION, swell=swell)
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
        modulus_sd_ln=spread,
        axis_offset_mm=section.axis_offset_mm,
        torsion_constant_mm4=None if section.species else _torsion(for_torsion),
    )


def _by_callipers(section: Section) -> SectionProperties:
    return _ellipse(
        (section.outer_mediolateral_mm or 0.0, section.outer_anteroposterior_mm or 0.0),
        (section.inner_mediolateral_mm or 0.0, section.inner_anteroposterior_mm or 0.0),
        section.hole_offset_mm or (0.0, 0.0),
    )


# Kept, since a page computes its study again after every edit, which leaves most as they were.
@lru_cache(maxsize=4096)
def _ellipse(
    outer_mm: tuple[float, float], inner_mm: tuple[float, float], offset_mm: tuple[float, float]
) -> SectionProperties:
    return hollow_ellipse(
        *outer_mm,
        inner_mediolateral_mm=inner_mm[0],
        inner_anteroposterior_mm=inner_mm[1],
        hole_offset_mm=offset_mm,
    )


def _drawn(section: Section, *, n_points: int, swell: float = 1.0) -> tuple[Ring, ...]:
    return ellipse_rings(
        swell * (section.outer_mediolateral_mm or 0.0),
        swell * (section.outer_anteroposterior_mm or 0.0),
        inner_mediolateral_mm=swell * (section.inner_mediolateral_mm or 0.0),
        inner_anteroposterior_mm=swell * (section.inner_anteroposterior_mm or 0.0),
        hole_offset_mm=section.hole_offset_mm or (0.0, 0.0),
        n_points=n_points,
    )


def _calliper_spread(section: Section) -> float:
    """Propagate a rectangular error of one division in each diameter to ln Z."""
    division = _CALLIPER_DIVISION_MM if section.accuracy_mm is None else section.accuracy_mm
    names = (
        "outer_mediolateral_mm",
        "outer_anteroposterior_mm",
        "inner_mediolateral_mm",
        "inner_anteroposterior_mm",
    )
    plain = _by_callipers(section).section_modulus_mediolateral_mm3
    variance = 0.0
    for name in names:
        value = getattr(section, name)
        if value:
            # A step towards less bone keeps the walls open however thin they are.
            step = 0.01 * value * (-1 if name.startswith("inner") else 1)
            changed = _by_callipers(replace(section, **{name: value + step}))
            slope = np.log(changed.section_modulus_mediolateral_mm3 / plain) / step
            variance += float(slope * division) ** 2 / 12
    return float(np.sqrt(variance))


def _traced_spread(section: Section, properties: SectionProperties) -> float:
    """Propagate an edge that lies too far out, outside and inside alike, to ln Z.

    Any place within the accuracy is as likely as another (a rectangular error). The section
    is taken as the round tube with its areas: one edge out, the other in.
    """
    outer = float(np.sqrt(properties.whole_area_mm2 / np.pi))
    inner = outer * properties.inner_over_outer
    edge = _TRACED_SHARE * 2 * outer if section.accuracy_mm is None else section.accuracy_mm

    def modulus(more: float) -> float:
        wide, hole = outer + more, max(inner - more, 0.0)
        return (wide**4 - hole**4) / wide

    return float(np.log(modulus(edge) / modulus(0.0)) / np.sqrt(3))


def _torsion(rings: tuple[Ring, ...]) -> float | None:
    return _torsion_of(rings, torsion_constant)


@lru_cache(maxsize=512)
def _torsion_of(
    rings: tuple[Ring, ...], solve: Callable[[tuple[Ring, ...]], float]
) -> float | None:
    try:
        return solve(rings)
    except OutsideRange:
        return None
