"""Amounts as a person at the bench reads them: handy units, no more digits than are known."""

import math
from typing import Final

from bonewright.workshop.amounts import Amount

__all__ = ["plain_number", "told"]

# Below 1 of the first, the second is written, and so many of it make one.
_SMALLER: Final = {"kg": ("g", 1000.0), "L": ("ml", 1000.0), "m²": ("cm²", 1e4)}
_SPELT: Final = {"m2": "m²", "l": "L", "kN/m2": "kN/m²"}
_LONG_MM: Final = 1000.0
_COUNTED: Final = ("feathers", "pieces")


def plain_number(value: float, *, like: float | None = None) -> str:
    """Write a number with three figures, in plain digits; the digits fit ``like`` if given."""
    size = abs(value if like is None else like)
    if size == 0:
        return "0"
    digits = max(0, 2 - math.floor(math.log10(size)))
    return f"{value:.{min(digits, 3)}f}"


def told(amount: Amount) -> str:
    """Write an amount with the range that holds it 19 times in 20: '392 g (345 to 434)'.

    A number without a range is written alone.
    """
    unit = _SPELT.get(amount.unit, amount.unit)
    factor = 1.0
    if unit in _SMALLER and abs(amount.value) < 1:
        unit, factor = _SMALLER[unit]
    elif unit == "mm" and amount.value >= _LONG_MM:
        unit, factor = "m", 1e-3
    value = amount.value * factor
    if unit in _COUNTED:
        if amount.low == amount.high:
            return f"{amount.value:.0f}"
        return f"{amount.value:.0f} ({amount.low:.0f} to {amount.high:.0f})"
    after = f" {unit}" if unit else ""
    if amount.low == amount.high == amount.value:
        return plain_number(value) + after
    low, high = (plain_number(end * factor, like=value) for end in (amount.low, amount.high))
    return f"{plain_number(value)}{after} ({low} to {high})"
