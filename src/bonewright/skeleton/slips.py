"""Slips of the pen: a moved decimal point, another unit, digits changed about."""

from itertools import pairwise
from math import log

from bonewright.skeleton.reference import FITS, Usual, misfit

__all__ = ["slip", "swapped_digits"]

_SLIPS = {
    "factor of ten": (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001),
    "inches": (25.4, 1 / 25.4),
}


def slip(value_ln: float, usual: Usual) -> tuple[str, float] | None:
    """Return the kind of slip and its factor, if undoing it makes the value usual."""
    fits = [
        (abs(misfit(value_ln - log(factor), usual)), kind, factor)
        for kind, factors in _SLIPS.items()
        for factor in factors
    ]
    best = min(fits)
    return (best[1], best[2]) if best[0] < FITS else None


def swapped_digits(value_mm: float, usual: Usual) -> float | None:
    """Return the value with two neighbouring digits changed about, if that makes it usual."""
    text = f"{value_mm:.2f}".rstrip("0").rstrip(".")
    places = [place for place, sign in enumerate(text) if sign.isdigit()]
    candidates = []
    for left, right in pairwise(places):
        signs = list(text)
        signs[left], signs[right] = signs[right], signs[left]
        swapped = float("".join(signs))
        if swapped > 0 and abs(misfit(log(swapped), usual)) < FITS:
            candidates.append((abs(misfit(log(swapped), usual)), swapped))
    return min(candidates)[1] if candidates else None
