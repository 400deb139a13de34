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
        draws = np.array(self.draws, dtype=np.float64, copy=True)
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


def format_amount(value: float, *, spread: float | None = None) -> str:
    """Write a number with as many digits as its spread deserves.

    ``spread`` is the width of its 95 % interval, in the same unit; without it three
    significant digits are kept.
    """
    if value == 0:
        return "0"
    size = abs(value) if spread is None or spread <= 0 else spread / 4
    if spread is None or spread <= 0:
        places = 2 - int(np.floor(np.log10(size)))
    else:
        places = -int(np.floor(np.log10(size)))
        places = min(places, 3 - int(np.floor(np.log10(abs(value)))))
    # A value that its spread makes as good as nothing is written as 0.
    if spread is None or spread <= 0 or abs(value) > spread / 200:
        places = max(places, -int(np.floor(np.log10(abs(value)))))
    rounded = round(value, places) + 0.0
    return f"{rounded:,.{max(places, 0)}f}".replace(",", "\u202f")


def format_interval(summary: Summary, unit: str) -> str:
    """Write 'about 21 kg (17 to 26)'."""
    low, high = summary.interval95
    spread = high - low
    middle, low_text, high_text = (
        format_amount(value, spread=spread) for value in (summary.median, low, high)
    )
    unit_text = f" {unit}" if unit and unit != "1" else ""
    return f"about {middle}{unit_text} ({low_text} to {high_text})"
