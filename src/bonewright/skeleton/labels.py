"""Whether a bone's sizes are those of its element: bones labelled wrong."""

from collections.abc import Mapping, Sequence
from math import log
from statistics import median

from bonewright.skeleton.reduction import BoneValue
from bonewright.skeleton.reference import FITS, OUT_OF_LINE, Usual, misfit
from bonewright.skeleton.slips import slip

__all__ = ["better_element"]

_GAIN = 30.0  # how much better another element must fit, in squared spreads
_NO_WORSE = 400.0  # squared spreads beyond which worse is no worse
_FOREIGN = 20.0  # squared spreads that a code foreign to the element counts

UsualSizes = Mapping[tuple[str, str], Usual]


def better_element(
    of_bone: Sequence[BoneValue], *, usual: UsualSizes, elements: Sequence[str]
) -> str | None:
    """Return the element that fits the bone clearly better than its own, if one does.

    A bone fits an element when its size, and its shape once its size is taken off, are
    usual for it. A code that no two bones of its own element have, but those of the other
    do, speaks for the other. A slip in one value is no reason to doubt the bone.
    """
    own_element = of_bone[0].bone.specimen.element
    readings = {value.code: value.readings_mm for value in of_bone}
    known = [code for code in readings if (own_element, code) in usual]
    foreign = [code for code in readings if code not in known]
    if not foreign and _explained_by_slips(own_element, known, readings, usual):
        return None
    own_score = _score(own_element, known, readings, usual) + _FOREIGN * len(foreign)
    best, best_score = None, own_score - _GAIN
    if best_score <= 0:  # no element can fit better than perfectly
        return None
    for element in elements:
        # Every code of the bone must have something to be compared with.
        if element == own_element or any((element, code) not in usual for code in readings):
            continue
        score = _score(element, list(readings), readings, usual)
        if score < best_score and score < FITS**2 * len(readings):
            best, best_score = element, score
    return best


def _explained_by_slips(
    element: str,
    codes: Sequence[str],
    readings: Mapping[str, Sequence[float]],
    usual: UsualSizes,
) -> bool:
    """Whether every code far out of line is usual with its decimal point or unit changed."""
    far = [
        code for code in codes if _least_misfit(readings[code], usual[element, code]) > OUT_OF_LINE
    ]
    return bool(far) and all(
        any(slip(log(reading), usual[element, code]) for reading in readings[code]) for code in far
    )


def _score(
    element: str,
    codes: Sequence[str],
    readings: Mapping[str, Sequence[float]],
    usual: UsualSizes,
) -> float:
    """Return how badly a bone fits an element, in squared spreads (about one a code if well)."""
    if not codes:
        return 0.0
    if len(codes) == 1:
        return min(_least_misfit(readings[codes[0]], usual[element, codes[0]]) ** 2, _NO_WORSE)
    entries = [usual[element, code] for code in codes]
    deviations = [
        min((log(reading) - entry.centre_ln for reading in readings[code]), key=abs)
        for code, entry in zip(codes, entries, strict=True)
    ]
    size = median(deviations)
    score = min((size / median(entry.spread_ln for entry in entries)) ** 2, _NO_WORSE)
    for deviation, entry in zip(deviations, entries, strict=True):
        score += min(((deviation - size) / entry.shape_ln) ** 2, _NO_WORSE)
    return score


def _least_misfit(readings_mm: Sequence[float], usual: Usual) -> float:
    """Return the misfit of the most usual reading: one slip does not make a bone odd."""
    return min(abs(misfit(log(reading), usual)) for reading in readings_mm)
