"""Units of table cells, converted once on the way in: to mm, kg, m3 (and m for a height).

pint reads the units; it is loaded only for a unit outside the short list of everyday ones,
whose factors a test holds against pint's own.
"""

import math
import re
from functools import lru_cache
from typing import Any, Literal

from bonewright.study.faults import Fault
from bonewright.study.spelling import nearest

__all__ = [
    "EVERYDAY_UNITS",
    "INSIDE_UNIT",
    "Measures",
    "factor_to_inside",
    "is_everyday",
]

Measures = Literal["length", "mass", "volume"]

INSIDE_UNIT: dict[Measures, str] = {"length": "mm", "mass": "kg", "volume": "m3"}

EVERYDAY_UNITS: dict[Measures, dict[str, float]] = {
    "length": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8},
    "mass": {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "t": 1000.0},
    "volume": {"mL": 1e-6, "ml": 1e-6, "L": 1e-3, "l": 1e-3, "cm3": 1e-6, "dm3": 1e-3, "m3": 1.0},
}
_DIMENSIONS: dict[Measures, str] = {
    "length": "[length]",
    "mass": "[mass]",
    "volume": "[length] ** 3",
}
# Only plain names with a small power reach pint, so that no cell can start a computation.
_PLAIN = re.compile(r"[A-Za-zµμ_ ]{1,30}(?:(?:\^|\*\*)?([23]))?")
_SUPERSCRIPTS = str.maketrans({"²": "2", "³": "3"})


# Written after a number, these are units too, in the long or of what has no unit column.
_WRITTEN_OUT = frozenset(
    {"inch", "inches", "foot", "feet", "pound", "pounds", "lbs", "gram", "grams", "kilo", "kilos"}
    | {"litre", "litres", "liter", "liters", "year", "years", "deg", "degrees", "percent"}
)


def is_everyday(word: str) -> bool:
    """Tell whether a word after a number is a unit people write, such as mm, % or degrees."""
    known = (unit for units in EVERYDAY_UNITS.values() for unit in units)
    written = word.translate(_SUPERSCRIPTS)
    return written in {*known, "%", '"', "°"} or word.casefold() in _WRITTEN_OUT


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@lru_cache(maxsize=1024)
def factor_to_inside(unit: str, measures: Measures) -> float | Fault:
    """Return what a number in this unit is multiplied by to be in mm, kg or m3.

    Parameters
    ----------
    unit : str
        The unit as written in a cell.
    measures : {"length", "mass", "volume"}
        What the number measures.

    Returns
    -------
    float or Fault
        A fault if the unit is unknown or measures something else.
    """
    everyday = EVERYDAY_UNITS[measures]
    written = unit.strip().rstrip(".").translate(_SUPERSCRIPTS)
    if written in everyday:
        return everyday[written]
    for other, units in EVERYDAY_UNITS.items():
        if written in units:
            return _wrong_dimension(unit, measures, other)
    match = _PLAIN.fullmatch(written)
    if match is None:
        return _unknown(unit, measures)
    return _factor_by_pint(unit, written, power=match[1], measures=measures)


def _factor_by_pint(
    unit: str, written: str, *, power: str | None, measures: Measures
) -> float | Fault:
    import pint

    name = written
    if power:
        name = f"{written[:-1].rstrip('^*').strip()}**{power}"
    registry = _registry()
    try:
        quantity = registry.Quantity(1.0, registry.parse_units(name))
    except (pint.errors.PintError, ValueError, AttributeError, TypeError, KeyError):
        return _unknown(unit, measures)
    if str(quantity.dimensionality) != _DIMENSIONS[measures]:
        return _wrong_dimension(unit, measures, "something else")
    factor = float(quantity.to(INSIDE_UNIT[measures].replace("m3", "m**3")).magnitude)
    return factor if math.isfinite(factor) and factor > 0.0 else _unknown(unit, measures)


def _expected(measures: Measures) -> str:
    return f"a unit of {measures}: {', '.join(EVERYDAY_UNITS[measures])}"


def _meant(unit: str, measures: Measures) -> str | None:
    spelled_out = {"millimeter": "mm", "gramme": "g", "millilitre": "mL", "litre": "L"}
    everyday = EVERYDAY_UNITS[measures]
    short = [unit for unit in spelled_out if spelled_out[unit] in everyday]
    guess = nearest(unit.strip(), [*everyday, *short])
    return spelled_out.get(guess, guess) if guess else None


def _suggestion(guess: str | None) -> str:
    return f"Did you mean '{guess}'?" if guess else "Write one of them."


def _unknown(unit: str, measures: Measures) -> Fault:
    guess = _meant(unit, measures)
    return Fault(
        expected=_expected(measures),
        mend=_suggestion(guess),
        instead=(guess,) if guess else (),
    )


def _wrong_dimension(unit: str, measures: Measures, what: str) -> Fault:
    return Fault(
        expected=_expected(measures),
        mend=f"'{unit}' is a unit of {what}. {_suggestion(_meant(unit, measures))}".replace(
            " of a ", " of "
        ),
    )
