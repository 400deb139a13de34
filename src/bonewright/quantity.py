"""Uncertain numbers as draws.

Draw *i* of every quantity belongs to the same imagined world, so what two lines
of evidence share stays correlated without anyone writing covariances by hand.
Summaries are made at the edge only.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError

__all__ = ["Draws", "Quantity", "Summary", "format_amount", "format_interval", "rank_matched"]

Draws = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Median, mean, standard deviation and central intervals of a quantity, in its unit."""

    median: float
    mean: float
    sd: float
    interval50: tuple[float, float]
    interval95: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quantity:
    """An uncertain number: ``draws`` of shape ``(n_draws,)`` in ``unit``.

    Raises
    ------
    BonewrightError
        If a draw is not finite: a quantity never holds NaN for 'no answer'.
    """

    draws: Draws
    unit: str

    def __post_init__(self) -> None:
        draws = self.draws
        # Draws that nobody can write to are shared, others are copied.
        if draws.dtype != np.float64 or draws.flags.writeable or draws.base is not None:
            draws = np.array(draws, dtype=np.float64, copy=True)
        if draws.ndim != 1 or draws.size == 0 or not np.all(np.isfinite(draws)):
            raise BonewrightError(
                "A computed quantity is not a list of finite numbers.",
                remedy="This is a fault in the program, not in the study: please report it.",
            )
        draws.flags.writeable = False
        object.__setattr__(self, "draws", draws)

    def summary(self) -> Summary:
        """Summarise the draws by quantiles (linear interpolation between order statistics)."""
        low95, low50, middle, high50, high95 = np.quantile(
            self.draws, [0.025, 0.25, 0.5, 0.75, 0.975]
        )
        return Summary(
            median=float(middle),
            mean=float(np.mean(self.draws)),
            sd=float(np.std(self.draws)),
            interval50=(float(low50), float(high50)),
            interval95=(float(low95), float(high95)),
        )


def rank_matched(pattern: Draws, target: Draws) -> Draws:
    """Reorder ``target`` so that its ranks follow ``pattern``.

    Both have shape ``(n_draws,)``. Gives a quantity any marginal distribution while
    keeping the dependence on other quantities that ``pattern`` carries (a Gaussian-free
    rank copula). The values of ``target`` are unchanged, only their order.
    """
    ordered = np.sort(target)
    result = np.empty_like(ordered)
    result[np.argsort(pattern, kind="stable")] = ordered
    return result


_MOST_MOVED = 0.05
_AS_GOOD_AS_NOTHING = 200
_TOO_WIDE_TO_TELL = 20


def _places(value: float, spread: float | None) -> int:
    """Return the decimal places (negative: tens, hundreds) that a number deserves.

    A quarter of the spread says which digit is still known. Where rounding there would
    move the number by more than 5 % one digit more is kept, which never moves it so far;
    that is not done for a number below a twentieth of its spread.
    """
    if value == 0:
        return 0
    leading = -int(np.floor(np.log10(abs(value))))
    if spread is None or spread <= 0:
        return leading + 2
    places = min(-int(np.floor(np.log10(spread / 4))), leading + 3)
    # A value that its spread makes as good as nothing is written as 0.
    if abs(value) > spread / _AS_GOOD_AS_NOTHING:
        places = max(places, leading)
    moved = abs(round(value, places) - value)
    if abs(value) > spread / _TOO_WIDE_TO_TELL and moved > _MOST_MOVED * abs(value):
        places = max(places + 1, leading + 1)
    return places


def _written(value: float, places: int) -> str:
    rounded = round(value, places)
    if rounded == 0:
        return "0"
    return f"{rounded:,.{max(places, 0)}f}".replace(",", "\u202f")


def format_amount(value: float, *, spread: float | None = None) -> str:
    """Write a number with as many digits as its spread deserves.

    ``spread`` is the width of its 95 % interval, in the same unit; without it three
    significant digits are kept. With it the rounding moves the number by 5 % at most,
    unless the number is small beside its own spread.
    """
    return "0" if value == 0 else _written(value, _places(value, spread))


def format_interval(summary: Summary, unit: str) -> str:
    """Write 'about 21 kg (17 to 26)', the ends with as many digits as the middle."""
    low, high = summary.interval95
    spread = high - low
    least = _places(summary.median, spread)
    middle, low_text, high_text = (
        "0" if value == 0 else _written(value, max(least, _least_places(value, spread)))
        for value in (summary.median, low, high)
    )
    unit_text = f" {unit}" if unit and unit != "1" else ""
    return f"about {middle}{unit_text} ({low_text} to {high_text})"


def _least_places(value: float, spread: float) -> int:
    # An end keeps one digit at least, unless its spread makes it as good as nothing.
    if abs(value) <= spread / _AS_GOOD_AS_NOTHING:
        return -int(np.floor(np.log10(spread)))
    return -int(np.floor(np.log10(abs(value))))
