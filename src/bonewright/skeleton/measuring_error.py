"""How well the bones were measured: within and between observers, and between instruments.

Two readings of one bone differ. How much they differ when one observer measures twice is
the error within observers; when two observers measure the same bone, their habits differ
too. Bones differ more than that, or nothing could be learned: the reliability is the share
of what is seen that is bones and not measuring ([UlijaszekKerr1999]_).

An observer who always reads a little high puts a bias into every bone that only she
measured. Bones measured by two people show it; it is named here with its size.

Everything is in percent of the bone's own mean, so that a long bone does not outweigh a
short one; beside it stands the error in mm, code by code.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import fsum, log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from bonewright.skeleton.reduction import BoneValue
from bonewright.skeleton.variation import technical_error

__all__ = ["Bias", "CodeError", "MeasuringError", "measuring_error", "neither_below_zero"]

FEWEST_SHARED = 4
"""Measurements that two observers must share before they are compared."""

ENOUGH_FOR_LAW = 10
"""Repeats needed to tell an error in mm from one in proportion."""

FLAGGED_AT = 0.05
"""Chance, over all pairs compared, at which a bias is named."""

LEAST_BIAS_PERCENT = 0.2
"""A bias below this matters to nobody: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeError:
    """Error of one measurement code, or of all together (``code`` empty).

    ``technical_error_mm`` is None for all together, since codes differ in size;
    ``reliability`` is None where fewer than three bones show how bones differ.
    """

    code: str
    n_repeated: int
    technical_error_mm: float | None
    relative_percent: float
    reliability: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bias:
    """How much more ``first`` reads than ``second``, in percent, with a 95 % interval.

    ``kind`` is 'observers' or 'instruments'; ``flagged`` says that it is more than chance
    and more than nothing.
    """

    kind: str
    first: str
    second: str
    n_shared: int
    percent: float
    low_percent: float
    high_percent: float
    flagged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuringError:
    """All that repeats say; an error in percent is None where nothing shows it.

    ``law`` is (a, b) of the standard deviation of one reading of x mm, sqrt(a^2 + (b x)^2).
    ``n_within``, ``n_between`` and ``n_instruments`` count the measurements of one bone that
    one observer, several observers, and several instruments gave more than once.
    """

    total_percent: float | None
    within_percent: float | None
    between_percent: float | None
    instruments_percent: float | None
    n_repeated: int
    n_within: int
    n_between: int
    n_instruments: int
    reliability: float | None
    law: tuple[float, float]
    by_code: tuple[CodeError, ...]
    biases: tuple[Bias, ...]

    def relative_error(self, value: BoneValue) -> float:
        """Return the standard deviation of a bone's value by measuring, as a share of it.

        Habits of observers average out over observers, slips of the hand over readings.
        Never below what the division of the instrument allows.
        """
        readings = len(value.readings_mm)
        observers = len(set(value.observers))
        # A reading is right to half a division either way: a flat error of 1/sqrt(12) of it.
        division2 = fsum(accuracy**2 for accuracy in value.accuracies_mm) / 12 / readings**2
        least = sqrt(division2) / value.value_mm
        if not self.total_percent:
            return least
        fixed, share = self.law
        one_reading = sqrt((fixed / value.value_mm) ** 2 + share**2)
        within = 1.0
        if self.within_percent is not None:
            within = min(self.within_percent / self.total_percent, 1.0)
        habit2 = 1 - within**2
        return max(one_reading * sqrt(habit2 / observers + within**2 / readings), least)


def measuring_error(values: Iterable[BoneValue]) -> MeasuringError:
    """Work out the errors of measuring from all repeats.

    Parameters
    ----------
    values : iterable of BoneValue
        One a bone and code, with its single readings.

    Notes
    -----
    Source: [UlijaszekKerr1999]_: technical error of measurement sqrt(sum of d^2 / 2N) for
    pairs, its K-reading form for more; relative technical error; reliability
    1 - TEM^2 / SD^2, SD that of bones. Between observers, each counts with the mean of
    what they read. Assumes the error in proportion to the length: on bones of the same
    code in many sizes the mm and percent forms differ.
    """
    bones = tuple(values)
    repeated = [value for value in bones if len(value.readings_mm) > 1]
    total = _relative(value.readings_mm for value in repeated)
    within_groups = [
        group for value in repeated for group in _split(value, value.observers) if len(group) > 1
    ]
    between_groups = [
        means for value in repeated if len(means := _means(value, value.observers)) > 1
    ]
    instrument_groups = [
        means for value in repeated if len(means := _means(value, value.instruments)) > 1
    ]
    by_code, reliability = _by_code(bones)
    return MeasuringError(
        total_percent=total,
        within_percent=_relative(within_groups),
        between_percent=_relative(between_groups),
        instruments_percent=_relative(instrument_groups),
        n_repeated=len(repeated),
        n_within=len(within_groups),
        n_between=len(between_groups),
        n_instruments=len(instrument_groups),
        reliability=reliability,
        law=_law([value.readings_mm for value in repeated]),
        by_code=by_code,
        biases=(
            *_biases(repeated, "observers", lambda value: value.observers),
            *_biases(repeated, "instruments", lambda value: value.instruments),
        ),
    )


def _relative(groups: Iterable[Sequence[float]]) -> float | None:
    return technical_error(
        [100 * reading * len(group) / fsum(group) for reading in group] for group in groups
    )


def _law(groups: Sequence[Sequence[float]]) -> tuple[float, float]:
    """Fit the variance of a reading as a part in mm and a part in proportion to its length.

    Small breadths are read to the same hundredths as long ones, so that their relative
    error is larger. Weighted least squares on squared deviations, neither part below 0;
    with few repeats all of it is taken for proportional.
    """
    degrees = sum(len(group) - 1 for group in groups)
    percent = _relative(groups)
    if percent is None or percent == 0 or degrees < ENOUGH_FOR_LAW:
        return 0.0, (percent or 0.0) / 100
    means = [fsum(group) / len(group) for group in groups]
    variances = [
        fsum((reading - mean) ** 2 for reading in group) / (len(group) - 1)
        for group, mean in zip(groups, means, strict=True)
    ]
    sizes, variance = np.array(means), np.array(variances)
    weight = np.array([len(group) - 1.0 for group in groups])
    parts = np.column_stack([np.ones(len(sizes)), sizes**2])
    fitted = parts @ np.array([0.0, (percent / 100) ** 2])
    squared = np.zeros(2)
    for _ in range(10):
        root = np.sqrt(weight) / fitted
        squared = neither_below_zero(parts * root[:, None], variance * root)
        fitted = np.maximum(parts @ squared, 1e-4 * (percent / 100 * sizes) ** 2)
    return float(np.sqrt(squared[0])), float(np.sqrt(squared[1]))


def neither_below_zero(
    parts: NDArray[np.float64], wanted: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Solve least squares for two unknowns of which neither may be negative.

    With two, the answer is the free one or that of a single part alone. The library's solver
    for any number of them takes longer to load than a run has for measuring errors.
    """
    free = np.linalg.lstsq(parts, wanted, rcond=None)[0]
    if free.min() >= 0:
        return np.asarray(free, dtype=np.float64)
    alone = np.diag(np.maximum(wanted @ parts, 0.0) / np.sum(parts**2, axis=0))
    left = np.sum((wanted - alone @ parts.T) ** 2, axis=1)
    return np.asarray(alone[np.argmin(left)], dtype=np.float64)


def _split(value: BoneValue, labels: Sequence[str]) -> list[list[float]]:
    groups: dict[str, list[float]] = {}
    for label, reading in zip(labels, value.readings_mm, strict=True):
        groups.setdefault(label, []).append(reading)
    return list(groups.values())


def _means(value: BoneValue, labels: Sequence[str]) -> list[float]:
    known = [label for label in labels if label]
    if len(known) < len(labels):  # whoever it was, it cannot be compared
        return []
    return [fsum(group) / len(group) for group in _split(value, labels)]


def _by_code(bones: Sequence[BoneValue]) -> tuple[tuple[CodeError, ...], float | None]:
    """Return the errors code by code, all together last, and the pooled reliability."""
    groups: dict[str, list[BoneValue]] = {}
    for value in bones:
        groups.setdefault(value.code, []).append(value)
    rows, everything = [], _code_error("", bones)
    for code, members in groups.items():
        row = _code_error(code, members)
        if row is not None:
            rows.append(row)
    if everything is None:
        return (), None
    return (*rows, everything), everything.reliability


def _code_error(code: str, members: Sequence[BoneValue]) -> CodeError | None:
    repeated = [value for value in members if len(value.readings_mm) > 1]
    percent = _relative(value.readings_mm for value in repeated)
    if percent is None:
        return None
    squares, degrees = 0.0, 0
    by_bone: dict[tuple[str, str], list[float]] = {}
    for value in members:
        key = (value.bone.specimen.element, value.code)
        by_bone.setdefault(key, []).append(value.value_mm)
    for sizes in by_bone.values():
        if len(sizes) > 1:
            mean = fsum(sizes) / len(sizes)
            squares += fsum((100 * size / mean - 100) ** 2 for size in sizes)
            degrees += len(sizes) - 1
    return CodeError(
        code=code,
        n_repeated=len(repeated),
        technical_error_mm=technical_error(value.readings_mm for value in repeated)
        if code
        else None,
        relative_percent=percent,
        reliability=max(0.0, 1 - percent**2 * degrees / squares)
        if degrees > 1 and squares > 0
        else None,
    )


def _biases(
    repeated: Sequence[BoneValue], kind: str, labels_of: Callable[[BoneValue], Sequence[str]]
) -> list[Bias]:
    """Compare every two observers (or instruments) on what both measured."""
    shared: dict[tuple[str, str], list[float]] = {}
    for value in repeated:
        by_label: dict[str, list[float]] = {}
        for label, reading in zip(labels_of(value), value.readings_mm, strict=True):
            if label:
                by_label.setdefault(label, []).append(log(reading))
        means = {label: fsum(group) / len(group) for label, group in by_label.items()}
        for first, second in combinations(sorted(means), 2):
            shared.setdefault((first, second), []).append(100 * (means[first] - means[second]))
    pairs = {pair: off for pair, off in sorted(shared.items()) if len(off) >= FEWEST_SHARED}
    biases = []
    for (first, second), off in pairs.items():
        n = len(off)
        mean, error = float(np.mean(off)), float(np.std(off, ddof=1)) / sqrt(n)
        reach = float(stdtrit(n - 1, 0.975)) * error
        chance = 2 * float(stdtr(n - 1, -abs(mean) / error)) if error > 0 else float(mean == 0)
        biases.append(
            Bias(
                kind=kind,
                first=first,
                second=second,
                n_shared=n,
                percent=mean,
                low_percent=mean - reach,
                high_percent=mean + reach,
                flagged=chance * len(pairs) < FLAGGED_AT and abs(mean) >= LEAST_BIAS_PERCENT,
            )
        )
    return biases
