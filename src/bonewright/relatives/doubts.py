"""Relatives' rows that are probably mistakes.

Each measurement is set against body mass on logarithms, by a line that gross mistakes
cannot bend. Where all bones of a species say that it is far lighter or heavier than its row
in relatives.csv, the mass is doubted; where one bone disagrees with the others of the same
species, that measurement is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import Doubt, RowRef
from bonewright.relatives.robust import robust_line, robust_spread
from bonewright.study.model import Relative, RelativeMeasurement

__all__ = ["OUT_OF_LINE", "relatives_doubts"]

OUT_OF_LINE = 6.0
"""Robust spreads beyond which a value that no slip explains is held out."""

_FITS = 3.0
_ENOUGH_SPECIES = 8
_LEAST_SPREAD_MASS_LN = 0.05
_LEAST_SPREAD_BONE_LN = 0.02

_MASS_SLIPS = {
    "factor of ten": (10.0, 0.1, 100.0, 0.01),
    "grams for kilograms": (1000.0, 0.001),
    "pounds for kilograms": (2.20462, 1 / 2.20462),
}
_BONE_SLIPS = {
    "factor of ten": (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001),
    "inches": (25.4, 1 / 25.4),
}
# A slip must lie further off than chance scatter may carry a sound row.
_LEAST_SLIP = 5.0

Array = NDArray[np.float64]
Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _BoneLine:
    """ln(mm) = intercept + slope ln(kg), and the spreads of species about it.

    ``shape_spread`` is the spread left when what the other bones of a species say is taken off.
    """

    slope: float
    intercept: float
    spread: float
    shape_spread: float


def relatives_doubts(
    relatives: Sequence[Relative],
    measurements: Sequence[RelativeMeasurement],
    *,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
) -> tuple[Doubt, ...]:
    """Name the rows of both tables that are probably mistakes.

    Rows set aside do not shape the lines, but are still looked at, so that the page can show
    what was decided about them.
    """
    by_species = {relative.species: relative for relative in relatives}
    sound_species = {
        relative.species for relative in relatives if _row(relative.ref) not in set_aside
    }
    sound = [
        row
        for row in measurements
        if row.species in sound_species and _row(row.ref) not in set_aside
    ]
    lines, off_line = _bone_lines(by_species, sound)
    lighter = _lighter_than_bones_say(off_line, lines)
    if not lighter:
        return ()
    mass_spread = robust_spread(np.array(list(lighter.values())), least=_LEAST_SPREAD_MASS_LN)
    doubts: list[Doubt] = []
    mass_ln = {relative.species: log(relative.body_mass_kg) for relative in relatives}
    all_off_line = _off_line(mass_ln, measurements, lines)
    doubted: set[str] = set()
    for species, excess_ln in _lighter_than_bones_say(all_off_line, lines).items():
        relative = by_species[species]
        kind = _mass_kind(excess_ln, all_off_line[species], lines, mass_spread=mass_spread)
        if kind is not None:
            doubted.add(species)
            mass_ln[species] -= excess_ln  # for looking at the bones: what they say together
            decided = _decided(relative.ref, kept=kept, set_aside=set_aside)
            doubts.append(_mass_doubt(relative, excess_ln, kind=kind, decided=decided))
    all_off_line = _off_line(mass_ln, measurements, lines)
    for row in measurements:
        if row.species not in by_species or (row.element, row.code) not in lines:
            continue
        of_species = all_off_line[row.species]
        if row.species in doubted and len(of_species) < 3:  # mass and bones cannot be told apart
            continue
        doubt = _measurement_doubt(
            row,
            mass_ln[row.species],
            off_line=of_species,
            lines=lines,
            decided=_decided(row.ref, kept=kept, set_aside=set_aside),
        )
        if doubt is not None:
            doubts.append(doubt)
    return tuple(doubts)


def _row(ref: RowRef) -> tuple[str, str]:
    return ref.table, ref.row_id


def _decided(
    ref: RowRef, *, kept: frozenset[tuple[str, str]], set_aside: frozenset[tuple[str, str]]
) -> Literal["keep", "set aside"] | None:
    if _row(ref) in set_aside:
        return "set aside"
    return "keep" if _row(ref) in kept else None


def _bone_lines(
    by_species: Mapping[str, Relative], rows: Sequence[RelativeMeasurement]
) -> tuple[dict[Key, _BoneLine], dict[str, dict[Key, float]]]:
    """Fit the robust lines of bone on mass, and how far each species lies off them."""
    points: dict[Key, list[tuple[float, float]]] = {}
    for row in rows:
        point = (log(by_species[row.species].body_mass_kg), log(row.value_mm))
        points.setdefault((row.element, row.code), []).append(point)
    lines: dict[Key, _BoneLine] = {}
    for key, entries in points.items():
        mass_ln, bone_ln = np.array(entries).T
        if len(entries) < _ENOUGH_SPECIES or np.ptp(mass_ln) == 0:
            continue
        slope, intercept = robust_line(mass_ln, bone_ln)
        residual = bone_ln - intercept - slope * mass_ln
        spread = robust_spread(residual, least=_LEAST_SPREAD_BONE_LN)
        if slope > 0:  # a bone that does not grow with the bird tells nothing of its mass
            lines[key] = _BoneLine(
                slope=slope, intercept=intercept, spread=spread, shape_spread=spread
            )
    mass_ln_of = {species: log(row.body_mass_kg) for species, row in by_species.items()}
    off_line = _off_line(mass_ln_of, rows, lines)
    for key, line in lines.items():
        shape = [
            of_species[key] - float(np.median([v for k, v in of_species.items() if k != key]))
            for of_species in off_line.values()
            if key in of_species and len(of_species) > 2
        ]
        if len(shape) >= _ENOUGH_SPECIES:
            shape_spread = robust_spread(np.array(shape), least=_LEAST_SPREAD_BONE_LN)
            lines[key] = _BoneLine(
                slope=line.slope,
                intercept=line.intercept,
                spread=line.spread,
                shape_spread=shape_spread,
            )
    return lines, off_line


def _off_line(
    mass_ln: Mapping[str, float],
    rows: Sequence[RelativeMeasurement],
    lines: Mapping[Key, _BoneLine],
) -> dict[str, dict[Key, float]]:
    """Return, by species and measurement, ln(mm) less the line's at the species' mass."""
    off: dict[str, dict[Key, list[float]]] = {}
    for row in rows:
        key = (row.element, row.code)
        if key in lines and row.species in mass_ln:
            usual_ln = lines[key].intercept + lines[key].slope * mass_ln[row.species]
            above = log(row.value_mm) - usual_ln
            off.setdefault(row.species, {}).setdefault(key, []).append(above)
    return {
        species: {key: float(np.median(values)) for key, values in of_species.items()}
        for species, of_species in off.items()
    }


def _lighter_than_bones_say(
    off_line: Mapping[str, Mapping[Key, float]], lines: Mapping[Key, _BoneLine]
) -> dict[str, float]:
    """Return, by species, ln(mass in the table / mass its bones say), median over bones."""
    return {
        species: float(np.median([-above / lines[key].slope for key, above in entries.items()]))
        for species, entries in off_line.items()
    }


def _mass_kind(
    excess_ln: float,
    off_line: Mapping[Key, float],
    lines: Mapping[Key, _BoneLine],
    *,
    mass_spread: float,
) -> str | None:
    """Return what is wrong with a mass, or None if it may well be right."""
    if abs(excess_ln) < _LEAST_SLIP * mass_spread:
        return None
    shares = [-above / lines[key].slope / excess_ln for key, above in off_line.items()]
    if np.mean(np.array(shares) > 0.5) < 0.7:  # the bones do not agree on it
        return None
    fits = [
        (abs(excess_ln - log(factor)), kind)
        for kind, factors in _MASS_SLIPS.items()
        for factor in factors
    ]
    distance, kind = min(fits)
    if len(off_line) == 1:  # one bone alone: is a slip in the bone the simpler story?
        ((key, above),) = off_line.items()
        bone = min(abs(above - log(f)) for factors in _BONE_SLIPS.values() for f in factors)
        if bone < _FITS * lines[key].spread and bone / lines[key].slope < distance:
            return None
    if distance < _FITS * mass_spread:
        return kind
    return "out of line" if abs(excess_ln) > OUT_OF_LINE * mass_spread else None


def _mass_doubt(
    relative: Relative,
    excess_ln: float,
    *,
    kind: str,
    decided: Literal["keep", "set aside"] | None,
) -> Doubt:
    return Doubt(
        ref=relative.ref,
        column="bodyMass",
        kind=kind,
        found=f"{relative.body_mass_kg:.4g} kg for {relative.species}",
        expected=f"about {relative.body_mass_kg / exp(excess_ln):.2g} kg, as its leg bones say",
        mend="Look at the mass, its decimal point and its unit; keep the row if it is right.",
        held_out=True,
        decided=decided,
    )


def _measurement_doubt(
    row: RelativeMeasurement,
    mass_ln: float,
    *,
    off_line: Mapping[Key, float],
    lines: Mapping[Key, _BoneLine],
    decided: Literal["keep", "set aside"] | None,
) -> Doubt | None:
    line = lines[row.element, row.code]
    usual_ln = line.intercept + line.slope * mass_ln
    spread = line.spread
    if len(off_line) > 2:  # the other bones of the species say how big-boned it is
        usual_ln += float(np.median(list(off_line.values())))
        spread = line.shape_spread
    away_ln = log(row.value_mm) - usual_ln
    if abs(away_ln) < _LEAST_SLIP * spread:
        return None
    distance, kind, factor = min(
        (abs(away_ln - log(factor)), kind, factor)
        for kind, factors in _BONE_SLIPS.items()
        for factor in factors
    )
    mend = "Look at the value, its unit, its code and its species; keep the row if it is right."
    if distance < _FITS * spread:
        mend = f"Was {row.value_mm / factor:.4g} mm meant? Look at the point and the unit."
    elif abs(away_ln) > OUT_OF_LINE * spread:
        kind = "out of line"
    else:
        return None
    return Doubt(
        ref=row.ref,
        column="measurementValue",
        kind=kind,
        found=f"{row.element} {row.code} of {row.value_mm:.4g} mm for {row.species}",
        expected=f"about {exp(usual_ln):.3g} mm, as its mass and other bones say",
        mend=mend,
        held_out=True,
        decided=decided,
    )
