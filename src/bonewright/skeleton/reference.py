"""What size a measurement usually has: robust centres and spreads, in logarithms."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log, pi, sqrt
from statistics import median

from bonewright.skeleton.reduction import BoneValue

__all__ = ["FITS", "OUT_OF_LINE", "Usual", "misfit", "usual_sizes"]

FITS = 3.0
"""Spreads from the usual size within which a value counts as usual."""

OUT_OF_LINE = 6.0
"""Spreads from the usual size beyond which a value is held out."""

_NORMAL_MAD = 1.4826
_BORROWED = 8  # bones' worth of weight that the spread pooled over measurements has
_LEAST_SPREAD_LN = 0.02
_ASSUMED_SPREAD_LN = 0.06  # grown birds of one species, both sexes: common practice
_ASSUMED_SHAPE_LN = 0.04  # the same, for the shape of a bone: common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """The usual size of one measurement of one element.

    ``centre_ln`` is the median of ln(mm) over bones, ``spread_ln`` a standard deviation that
    gross mistakes cannot inflate, of one bone about the centre (its own error included);
    ``shape_ln`` is the same once the size of the whole bone is taken off.
    ``pair`` holds the two values where only two bones exist: neither can be called usual.
    """

    n_bones: int
    centre_ln: float
    spread_ln: float
    shape_ln: float
    pair: tuple[float, float] | None

    def beside(self, value_ln: float) -> "Usual":
        """Return what ``value_ln`` is to be compared with: of two bones, the other one."""
        if self.pair is None:
            return self
        other = max(self.pair, key=lambda entry: abs(entry - value_ln))
        spread = self.spread_ln * sqrt(2)
        return replace(self, centre_ln=other, spread_ln=spread, pair=None)


def usual_sizes(values: Iterable[BoneValue]) -> Mapping[tuple[str, str], Usual]:
    """Return the usual size for each (element, code) that at least two bones have.

    A spread is 1.4826 times the median absolute deviation, drawn towards the one pooled
    over all measurements as though eight further bones had shown it: with few bones the
    deviation alone is often near nothing, and every bone would look odd.
    """
    grouped: dict[tuple[str, str], dict[str, float]] = {}
    for value in values:
        key = (value.bone.specimen.element, value.code)
        size_ln = log(median(value.readings_mm))
        grouped.setdefault(key, {})[value.bone.specimen.specimen_id] = size_ln
    sizes = {key: entries for key, entries in grouped.items() if len(entries) > 1}
    centres = {key: median(entries.values()) for key, entries in sizes.items()}
    deviations = {
        key: [entry - centres[key] for entry in entries.values()] for key, entries in sizes.items()
    }
    spreads = _spreads(deviations, assumed=_ASSUMED_SPREAD_LN)
    shapes = _spreads(_shape_deviations(sizes, centres), assumed=_ASSUMED_SHAPE_LN)
    pooled_shape = median(shapes.values()) if shapes else _ASSUMED_SHAPE_LN
    usual = {}
    for key, entries in sizes.items():
        n, both = len(entries), tuple(entries.values())
        certainty = sqrt(1 + pi / 2 / n)  # the centre is itself an estimate
        usual[key] = Usual(
            n_bones=n,
            centre_ln=centres[key],
            spread_ln=spreads[key] * certainty,
            shape_ln=shapes.get(key, pooled_shape) * certainty,
            pair=(both[0], both[1]) if n == 2 else None,
        )
    return usual


def misfit(value_ln: float, usual: Usual) -> float:
    """Return how many spreads ``value_ln`` lies from the usual size."""
    beside = usual.beside(value_ln)
    return (value_ln - beside.centre_ln) / beside.spread_ln


def _shape_deviations(
    sizes: Mapping[tuple[str, str], Mapping[str, float]], centres: Mapping[tuple[str, str], float]
) -> dict[tuple[str, str], list[float]]:
    """Return, by measurement, the deviations left when each bone's own size is taken off."""
    by_bone: dict[str, dict[tuple[str, str], float]] = {}
    for key, entries in sizes.items():
        for name, size_ln in entries.items():
            by_bone.setdefault(name, {})[key] = size_ln - centres[key]
    left: dict[tuple[str, str], list[float]] = {}
    for of_bone in by_bone.values():
        n = len(of_bone)
        if n > 2:
            middle = median(of_bone.values())
            for key, deviation in of_bone.items():
                left.setdefault(key, []).append((deviation - middle) * sqrt(n / (n - 1)))
    return left


def _spreads(
    deviations: Mapping[tuple[str, str], Sequence[float]], *, assumed: float
) -> dict[tuple[str, str], float]:
    """Return a robust standard deviation for each measurement (see :func:`usual_sizes`)."""
    pooled = _pooled_spread(deviations.values(), assumed=assumed)
    spreads = {}
    for key, entries in deviations.items():
        n = len(entries)
        own = _NORMAL_MAD * median(map(abs, entries)) if n > 2 else pooled
        spread = sqrt((n * own**2 + _BORROWED * pooled**2) / (n + _BORROWED))
        spreads[key] = max(spread, pooled / 2, _LEAST_SPREAD_LN)
    return spreads


def _pooled_spread(groups: Iterable[Sequence[float]], *, assumed: float) -> float:
    """Pool absolute deviations over all groups of three bones or more."""
    together: list[float] = []
    for group in groups:
        n = len(group)
        if n > 2:
            # Of an odd number of bones the middle one deviates by nothing: it is left out.
            together += [abs(off) * sqrt(n / (n - 1)) for off in sorted(group, key=abs)[n % 2 :]]
    return max(_NORMAL_MAD * median(together), _LEAST_SPREAD_LN) if together else assumed
