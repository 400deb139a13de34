"""From sections of several bones to the section of the average animal's bone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import RowRef
from bonewright.quantity import Draws
from bonewright.sections.measured import MeasuredSection

__all__ = ["AverageBone", "average_bones", "for_the_average", "reference_positions"]

# Below this many bones an element's own spread is too poorly known to use alone.
_FEWEST_FOR_OWN_SPREAD: Final = 4
# Common practice: shafts of one size differ by about 15 % in Z between individuals; the
# assumption weighs as much as three measured bones.
_ASSUMED_SPREAD_LN: Final = 0.15
_ASSUMED_DEGREES_OF_FREEDOM: Final = 3
# Each measure of a section and the power of length it grows with.
_POWERS: Final = {
    "modulus": 3,
    "modulus_over_arm": 2,
    "modulus_sideways": 3,
    "second_moment": 4,
    "second_moment_sideways": 4,
    "area": 2,
    "torsion_constant": 4,
    "torsion_modulus": 3,
}
# These a surface lost to weathering makes too small by the stated allowance.
_WORN: Final = frozenset(_POWERS) - {"area"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AverageBone:
    """The section of one leg bone of the average animal, all draws of shape (n_draws,).

    ``modulus_mm3`` resists bending front to back, ``modulus_sideways_mm3`` side to side;
    ``torsion_modulus_mm3`` is the torsion constant over the distance to the farthest fibre.
    ``inner_over_outer`` is None for a bone that is solid in some section. ``borrowed`` says
    that the spread between individuals is borrowed, ``thin_wall`` that some section's
    torsion constant is Bredt's, ``n_worn`` counts bones with a weathered surface.
    """

    element: str
    rows: tuple[RowRef, ...]
    n_bones: int
    position_fraction: float
    length_mm: Draws
    modulus_mm3: Draws
    modulus_over_arm_mm2: Draws
    modulus_sideways_mm3: Draws
    second_moment_mm4: Draws
    second_moment_sideways_mm4: Draws
    area_mm2: Draws
    torsion_constant_mm4: Draws
    torsion_modulus_mm3: Draws
    inner_over_outer: Draws | None
    axis_offset_fraction: float | None
    borrowed: bool
    thin_wall: bool
    n_worn: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Element:
    """Shapes of one element's bones, (n_bones, n_measures), freed of size."""

    name: str
    shapes: NDArray[np.float64]
    sections: tuple[MeasuredSection, ...]
    n_worn: int


def reference_positions(sections: Sequence[MeasuredSection]) -> dict[str, float]:
    """Return where along each element sections are compared: where most bones are cut.

    A bone scanned from end to end has sections everywhere and no say, unless no other has.
    """
    positions: dict[str, float] = {}
    for element in {section.element for section in sections}:
        per_bone: dict[str, list[float]] = {}
        for section in sections:
            if section.element == element:
                per_bone.setdefault(_bone(section), []).append(section.position_fraction)
        single = [places[0] for places in per_bone.values() if len(places) == 1]
        everywhere = [place for places in per_bone.values() for place in places]
        positions[element] = float(np.median(single or everywhere))
    return positions


def for_the_average(
    sections: Sequence[MeasuredSection], positions: Mapping[str, float]
) -> tuple[MeasuredSection, ...]:
    """Keep of each bone the sections nearest to the element's reference position."""
    nearest: dict[tuple[str, str], float] = {}
    for section in sections:
        off = abs(section.position_fraction - positions[section.element])
        key = (section.element, _bone(section))
        nearest[key] = min(off, nearest.get(key, np.inf))
    return tuple(
        section
        for section in sections
        if abs(section.position_fraction - positions[section.element])
        <= nearest[section.element, _bone(section)] + 1e-9
    )


def average_bones(
    sections: Sequence[MeasuredSection],
    *,
    average_length_draws_mm: Mapping[str, Draws],
    weathered: frozenset[str],
    weathering_percent: Draws,
    rng: np.random.Generator,
) -> tuple[dict[str, AverageBone], dict[str, tuple[MeasuredSection, ...]]]:
    """Bring each element's sections to the average length and average them.

    ``weathered`` names specimens whose surface is weathered; ``weathering_percent`` is how
    much too small such a bone's modulus is. Returns the average bones by element, and the
    sections of elements without an average length. Sections of one bone at one place are
    averaged first, so that n counts bones.

    Notes
    -----
    Bones of one kind are taken to differ in size only by geometric similarity: Z / L^3 and
    Z / (x L^2) do not depend on size. Means are of logarithms, with a t interval; with
    fewer than four bones the spread is that of all elements together. The spread between
    bones holds the error of measuring each; the weathering allowance is common to all.
    """
    elements = _by_element(sections, weathered)
    bones: dict[str, AverageBone] = {}
    unscaled: dict[str, tuple[MeasuredSection, ...]] = {}
    for element in elements:
        lengths = average_length_draws_mm.get(element.name)
        if lengths is None:
            unscaled[element.name] = element.sections
            continue
        errors, degrees_of_freedom, borrowed = _standard_errors(element, elements)
        # One variate for all measures: a bone that is thick is so in Z and in Z/x alike.
        variate = rng.standard_t(degrees_of_freedom, size=len(lengths))
        shape = element.shapes.mean(axis=0) + errors * variate[:, None]
        worn_ln = element.n_worn / len(element.shapes) * np.log1p(weathering_percent / 100)
        measures = {
            name: np.exp(shape[:, column] + (worn_ln if name in _WORN else 0.0)) * lengths**power
            for column, (name, power) in enumerate(_POWERS.items())
        }
        bones[element.name] = _average_bone(
            element, measures=measures, lengths=lengths, logit_k=shape[:, -1], borrowed=borrowed
        )
    return bones, unscaled


def _average_bone(
    element: _Element,
    *,
    measures: Mapping[str, Draws],
    lengths: Draws,
    logit_k: Draws,
    borrowed: bool,
) -> AverageBone:
    offsets = [
        section.axis_offset_mm / section.bone_length_mm
        for section in element.sections
        if section.axis_offset_mm is not None
    ]
    return AverageBone(
        element=element.name,
        rows=tuple(section.ref for section in element.sections),
        n_bones=len(element.shapes),
        position_fraction=float(np.median([s.position_fraction for s in element.sections])),
        length_mm=lengths,
        modulus_mm3=measures["modulus"],
        modulus_over_arm_mm2=measures["modulus_over_arm"],
        modulus_sideways_mm3=measures["modulus_sideways"],
        second_moment_mm4=measures["second_moment"],
        second_moment_sideways_mm4=measures["second_moment_sideways"],
        area_mm2=measures["area"],
        torsion_constant_mm4=measures["torsion_constant"],
        torsion_modulus_mm3=measures["torsion_modulus"],
        inner_over_outer=None if _is_solid(element) else 1 / (1 + np.exp(-logit_k)),
        axis_offset_fraction=float(np.mean(offsets)) if offsets else None,
        borrowed=borrowed,
        thin_wall=any(section.torsion_constant_mm4 is None for section in element.sections),
        n_worn=element.n_worn,
    )


def _bone(section: MeasuredSection) -> str:
    return section.specimen_id or section.species or section.section_id


def _is_solid(element: _Element) -> bool:
    return any(section.properties.inner_over_outer <= 0 for section in element.sections)


def _by_element(sections: Sequence[MeasuredSection], weathered: frozenset[str]) -> list[_Element]:
    elements = []
    for name in sorted({section.element for section in sections}):
        own = tuple(section for section in sections if section.element == name)
        bones: dict[str, list[NDArray[np.float64]]] = {}
        for section in own:
            bones.setdefault(_bone(section), []).append(_shape(section))
        elements.append(
            _Element(
                name=name,
                shapes=np.array([np.mean(of_bone, axis=0) for of_bone in bones.values()]),
                sections=own,
                n_worn=sum(bone in weathered for bone in bones),
            )
        )
    return elements


def _shape(section: MeasuredSection) -> NDArray[np.float64]:
    """Return logarithms of a section's measures over powers of length, and logit of K."""
    found = section.properties
    length, arm = section.bone_length_mm, section.distance_to_distal_end_mm
    modulus = found.section_modulus_mediolateral_mm3
    torsion = section.torsion_constant_mm4 or found.torsion_constant_thin_wall_mm4
    measures = {
        "modulus": modulus,
        "modulus_over_arm": modulus / arm,
        "modulus_sideways": found.section_modulus_anteroposterior_mm3,
        "second_moment": found.second_moment_mediolateral_mm4,
        "second_moment_sideways": found.second_moment_anteroposterior_mm4,
        "area": found.area_mm2,
        "torsion_constant": torsion,
        "torsion_modulus": torsion / found.farthest_fibre_mm,
    }
    ratio = found.inner_over_outer
    logit = np.log(ratio / (1 - ratio)) if ratio > 0 else 0.0
    freed = [np.log(measures[name] / length**power) for name, power in _POWERS.items()]
    return np.array([*freed, logit])


def _standard_errors(
    element: _Element, elements: Sequence[_Element]
) -> tuple[NDArray[np.float64], int, bool]:
    """Return standard errors of the means, their degrees of freedom, and if borrowed."""
    n_bones = len(element.shapes)
    if n_bones >= _FEWEST_FOR_OWN_SPREAD:
        own = element.shapes.std(axis=0, ddof=1)
        return own / np.sqrt(n_bones), n_bones - 1, False
    squares = sum(
        ((other.shapes - other.shapes.mean(axis=0)) ** 2).sum(axis=0) for other in elements
    )
    degrees_of_freedom = sum(len(other.shapes) - 1 for other in elements)
    if degrees_of_freedom < _ASSUMED_DEGREES_OF_FREEDOM:
        squares = squares + _ASSUMED_DEGREES_OF_FREEDOM * _ASSUMED_SPREAD_LN**2
        degrees_of_freedom += _ASSUMED_DEGREES_OF_FREEDOM
    return np.sqrt(squares / degrees_of_freedom / n_bones), degrees_of_freedom, True
