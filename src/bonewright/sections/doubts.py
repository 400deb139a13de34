"""Sections that are probably mistakes.

Four things are compared among the sections of one element, each on logarithms against
the median and a robust scale that never falls below a plain floor: one diameter against
the other three of its section; all diameters together against the bone's length; the
length against what is known of that bone; the position along the bone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import Doubt, RowRef
from bonewright.remembering import recalled
from bonewright.study.model import Section

__all__ = ["doubt_sections", "four_diameters_mm"]

_COLUMNS = (
    "outerMediolateral",
    "outerAnteroposterior",
    "innerMediolateral",
    "innerAnteroposterior",
)
# Common practice: proportions of one section keep within about 8 % of their element's,
# shafts of different species within about 22 % of one slenderness.
_FLOOR_WITHIN = 0.08
_FLOOR_LOST = 0.08
_FLOOR_SPECIES = 0.22
_FLOOR_POSITION = 0.04
_FLOOR_LENGTH = 0.06
_LIMIT = 5.0
_FEWEST = 3
# Sections within this share of the bone's length of each other are alike enough to compare.
_NEAR = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class _Suspicion:
    column: str
    excess_ln: float
    found: str
    expected: str


def four_diameters_mm(section: Section) -> NDArray[np.float64]:
    """Return outer and inner diameters (mediolateral, anteroposterior), shape (4,), mm.

    Of an outline these are the extents of the outer ring and of the largest hole; a solid
    section's inner diameters are NaN, meaning there is no marrow space to compare.
    """
    if section.outline_mm is None:
        values = (
            section.outer_mediolateral_mm,
            section.outer_anteroposterior_mm,
            section.inner_mediolateral_mm,
            section.inner_anteroposterior_mm,
        )
        return np.array([np.nan if value is None else value for value in values])
    extents = [np.ptp(np.asarray(ring), axis=0) for ring in section.outline_mm]
    holes = extents[1:]
    inner = max(holes, key=lambda extent: float(np.prod(extent))) if holes else [np.nan] * 2
    return np.concatenate([extents[0], np.asarray(inner, dtype=np.float64)])


def doubt_sections(
    sections: Sequence[Section],
    *,
    average_length_mm: Mapping[str, float],
    species_length_mm: Mapping[tuple[str, str], float],
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
) -> tuple[Doubt, ...]:
    """Find the sections that are probably mistakes, one doubt a section at most.

    ``average_length_mm`` gives the average animal's bone length by element,
    ``species_length_mm`` that of living species by (species, element); a bone whose length
    is known from neither is compared by its proportions only.
    """
    # What a section's shape says of it does not depend on the bones' lengths.
    by_shape = recalled(_suspicions_of_shape, tuple(sections), set_aside=set_aside)
    doubts = []
    for section, of_shape in zip(sections, by_shape, strict=True):
        suspicion = _length_suspicion(section, average_length_mm, species_length_mm) or of_shape
        if suspicion is not None:
            doubts.append(_doubt(section.ref, suspicion, kept=kept, set_aside=set_aside))
    return tuple(doubts)


def _suspicions_of_shape(
    sections: tuple[Section, ...], *, set_aside: frozenset[tuple[str, str]]
) -> tuple[_Suspicion | None, ...]:
    """Compare diameters and places with those of other sections, one answer a section."""
    if not sections:
        return ()
    trusted = np.array([(s.ref.table, s.section_id) not in set_aside for s in sections])
    ln_diameters = np.log(np.array([four_diameters_mm(section) for section in sections]))
    ln_lengths = np.log([section.bone_length_mm for section in sections])
    slenderness = ln_diameters - ln_lengths[:, None]
    positions = np.array([section.position_fraction for section in sections])
    whole_bones = _of_whole_bones(sections)
    # Sections of one place of one bone have the same peers: those are compared once.
    compared: dict[bytes, tuple[NDArray[np.float64], NDArray[np.float64]] | None] = {}
    found = []
    for index, section in enumerate(sections):
        alike = np.array([s.element == section.element for s in sections]) & trusted
        near = np.abs(positions - section.position_fraction) <= _NEAR
        peers = alike & near
        found.append(
            _diameter_suspicion(slenderness, ln_diameters, index=index, peers=peers, known=compared)
            or _size_suspicion(sections, slenderness, index=index, peers=peers)
            or _position_suspicion(positions, index=index, peers=alike & ~whole_bones)
        )
    return tuple(found)


def _length_suspicion(
    section: Section,
    average_length_mm: Mapping[str, float],
    species_length_mm: Mapping[tuple[str, str], float],
) -> _Suspicion | None:
    if section.species is None:
        known = average_length_mm.get(section.element)
    else:
        known = species_length_mm.get((section.species, section.element))
    if known is None:
        return None
    excess = float(np.log(section.bone_length_mm / known))
    if abs(excess) <= _LIMIT * _FLOOR_LENGTH:
        return None
    return _Suspicion(
        column="boneLength",
        excess_ln=excess,
        found=f"{section.bone_length_mm:.4g} mm",
        expected=f"about {known:.3g} mm, the usual length of this bone",
    )


def _diameter_suspicion(
    slenderness: NDArray[np.float64],
    ln_diameters: NDArray[np.float64],
    *,
    index: int,
    peers: NDArray[np.bool_],
    known: dict[bytes, tuple[NDArray[np.float64], NDArray[np.float64]] | None],
) -> _Suspicion | None:
    """Compare each diameter with the other three of its section, as other sections have it."""
    key = peers.tobytes()
    if key not in known:
        known[key] = _departures(slenderness, peers)
    found = known[key]
    if found is None or not np.isfinite(slenderness[index].sum()):
        return None
    departures, spread = found
    scores = np.abs(departures[index]) / spread
    worst = int(np.argmax(scores))
    if scores[worst] <= _LIMIT:
        return None
    excess = float(departures[index, worst])
    size = float(np.exp(ln_diameters[index, worst]))
    return _Suspicion(
        column=_COLUMNS[worst],
        excess_ln=excess,
        found=f"{size:.4g} mm",
        expected=f"about {size / np.exp(excess):.2g} mm beside the section's other diameters",
    )


def _departures(
    slenderness: NDArray[np.float64], peers: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Return how all sections' diameters depart from their peers', and how peers' own do."""
    whole: NDArray[np.bool_] = np.isfinite(slenderness.sum(axis=1))
    if peers.sum() < _FEWEST or (peers & whole).sum() < _FEWEST:
        return None
    typical = np.median(slenderness[peers & whole], axis=0)
    departures = slenderness - typical
    departures = departures - np.nanmedian(departures, axis=1, keepdims=True)
    spread = np.maximum(
        1.4826 * np.median(np.abs(departures[peers & whole]), axis=0), _FLOOR_WITHIN
    )
    return departures, spread


def _size_suspicion(
    sections: Sequence[Section],
    slenderness: NDArray[np.float64],
    *,
    index: int,
    peers: NDArray[np.bool_],
) -> _Suspicion | None:
    """Compare all diameters together with the bone's length."""
    section = sections[index]
    lost = np.array([s.species is None for s in sections])
    floor = _FLOOR_SPECIES
    if section.species is None and (peers & lost).sum() >= _FEWEST:
        peers, floor = peers & lost, _FLOOR_LOST
    if peers.sum() < _FEWEST:
        return None
    outer = slenderness[:, :2].mean(axis=1)
    typical = float(np.median(outer[peers]))
    spread = max(1.4826 * float(np.median(np.abs(outer[peers] - typical))), floor)
    excess = float(outer[index] - typical)
    if abs(excess) <= _LIMIT * spread:
        return None
    return _Suspicion(
        column="outlineFile" if section.outline_mm is not None else "outerMediolateral",
        excess_ln=excess,
        found=f"a shaft {100 * np.exp(outer[index]):.3g} % of the bone's length thick",
        expected=f"about {100 * np.exp(typical):.2g} %, as in the other sections of this bone",
    )


def _of_whole_bones(sections: Sequence[Section]) -> NDArray[np.bool_]:
    """Say which sections are of a bone sectioned all along, whose positions vary on purpose."""
    owners = [(s.element, s.specimen_id or s.species or s.section_id) for s in sections]
    return np.array([owners.count(owner) >= _FEWEST for owner in owners])


def _position_suspicion(
    positions: NDArray[np.float64], *, index: int, peers: NDArray[np.bool_]
) -> _Suspicion | None:
    if not peers[index] or peers.sum() < _FEWEST:
        return None
    typical = float(np.median(positions[peers]))
    spread = max(1.4826 * float(np.median(np.abs(positions[peers] - typical))), _FLOOR_POSITION)
    if abs(positions[index] - typical) <= _LIMIT * spread:
        return None
    return _Suspicion(
        column="position",
        excess_ln=0.0,
        found=f"{100 * positions[index]:.3g} %",
        expected=f"about {100 * typical:.3g} %, where the other sections of this bone lie",
    )


def _doubt(
    ref: RowRef,
    suspicion: _Suspicion,
    *,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
) -> Doubt:
    place = (ref.table, ref.row_id)
    decided: Literal["keep", "set aside"] | None = None
    if place in kept:
        decided = "keep"
    elif place in set_aside:
        decided = "set aside"
    tens = abs(suspicion.excess_ln) / np.log(10)
    by_ten = round(tens) >= 1 and abs(tens - round(tens)) < 0.15
    return Doubt(
        ref=ref,
        column=suspicion.column,
        kind="factor of ten" if by_ten else "out of line",
        found=suspicion.found,
        expected=suspicion.expected,
        mend=(
            "Look at the decimal point and the unit, or say in decisions that the value is right."
            if by_ten
            else "Measure again, or say in decisions that the value is right."
        ),
        held_out=decided != "keep",
        decided=decided,
    )
