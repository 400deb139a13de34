"""Is there a steady trend? Mann-Kendall's test with Theil and Sen's slope."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from bonewright.errors import NotEnoughEvidence
from bonewright.study.model import DateSpan

__all__ = ["FEWEST", "Kendall", "Trend", "find_trend", "kendall_statistic", "slope_interval"]

FEWEST = 6
_FEWEST_TO_RANK = 3
_PERMUTATIONS = 4_999
_DATE_DRAWS = 1_000

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kendall:
    """Mann-Kendall's S, its variance under no trend (ties counted), z and Kendall's tau-b.

    ``p`` is two-sided, from the normal approximation with its correction for continuity.
    """

    s: float
    variance: float
    z: float
    p: float
    tau_b: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trend:
    """A trend in scores over time.

    ``slope_draws`` are points a decade, (n_draws,): draws of the dates from their spans and
    of the slope's rank from its distribution.
    """

    with_copies: bool
    n: int
    kendall: Kendall
    p_permutation: float
    slope_draws: _Array


def kendall_statistic(times: _Array, values: _Array) -> Kendall:
    """Return Mann-Kendall's test of values against times.

    Parameters
    ----------
    times, values : (n,) float
        Three or more; ties are allowed in both.

    Raises
    ------
    NotEnoughEvidence
        With fewer than three.

    Notes
    -----
    Source: [Mann1945]_, [Kendall1975]_. With ties in both rankings the variance is
    Kendall's; without ties it is n (n - 1) (2 n + 5) / 18.
    """
    n = len(values)
    if n < _FEWEST_TO_RANK:
        raise NotEnoughEvidence(
            "A trend cannot be tested.",
            needed=f"{_FEWEST_TO_RANK} values or more",
            found=str(n),
            would_help="more pictures with scores",
        )
    upper = np.triu_indices(n, 1)
    signs = np.sign(times[None, :] - times[:, None]) * np.sign(values[None, :] - values[:, None])
    s = float(signs[upper].sum())
    t, u = _tie_sizes(times), _tie_sizes(values)
    variance = (
        n * (n - 1) * (2 * n + 5)
        - float(np.sum(t * (t - 1) * (2 * t + 5)))
        - float(np.sum(u * (u - 1) * (2 * u + 5)))
    ) / 18
    pairs_t, pairs_u = float(np.sum(t * (t - 1))), float(np.sum(u * (u - 1)))
    variance += pairs_t * pairs_u / (2 * n * (n - 1))
    triples = float(np.sum(t * (t - 1) * (t - 2))) * float(np.sum(u * (u - 1) * (u - 2)))
    # Where all values are tied it is 0, and rounding may leave a little less.
    variance = max(variance + triples / (9 * n * (n - 1) * (n - 2)), 0.0)
    z = (s - math.copysign(1.0, s)) / math.sqrt(variance) if s and variance > 0 else 0.0
    pairs = n * (n - 1)
    both = math.sqrt((pairs - pairs_t) * (pairs - pairs_u))
    return Kendall(
        s=s,
        variance=variance,
        z=z,
        p=float(2 * ndtr(-abs(z))),
        tau_b=2 * s / both if both > 0 else 0.0,
    )


def slope_interval(times: _Array, values: _Array) -> tuple[float, float, float]:
    """Return (low, median, high) of Theil and Sen's slope, 95 %, in values a unit of time.

    Notes
    -----
    Source: [Sen1968]_. The limits are the slopes whose ranks lie 1.96 standard deviations of
    S to either side, rounded as is usual.
    """
    slopes = _sorted_slopes(times[None, :], values)[0]
    slopes = slopes[np.isfinite(slopes)]
    n = len(slopes)
    if n == 0:
        raise NotEnoughEvidence(
            "A slope over time cannot be told.",
            needed="values of different times",
            found=f"{len(values)}, all of one time",
            would_help="more pictures of other dates",
        )
    reach = 1.959963984540054 * math.sqrt(kendall_statistic(times, values).variance)
    low = max(round((n - reach) / 2), 1)
    high = min(round((n + reach) / 2) + 1, n)
    return float(slopes[low - 1]), float(np.median(slopes)), float(slopes[high - 1])


def find_trend(
    scores: _Array,
    dates: tuple[DateSpan, ...],
    *,
    with_copies: bool,
    rng: np.random.Generator,
) -> Trend:
    """Test scores for a steady trend over time, by the middles of the dates.

    Raises
    ------
    NotEnoughEvidence
        With fewer than six scored pictures, or all of one date.
    """
    n = len(scores)
    middles = np.array([date.middle for date in dates])
    if n < FEWEST or np.ptp(middles) == 0:
        raise NotEnoughEvidence(
            "A trend over time cannot be tested.",
            needed=f"{FEWEST} scored pictures of different dates",
            found=f"{n}, all of one date" if n >= FEWEST else str(n),
            would_help="more pictures with scores",
        )
    kendall = kendall_statistic(middles, scores)
    earlier, later = np.triu_indices(n, 1)
    signs = np.sign(middles[later] - middles[earlier])
    shuffled = rng.permuted(np.broadcast_to(scores, (_PERMUTATIONS, n)), axis=1)
    by_chance = np.sign(shuffled[:, later] - shuffled[:, earlier]) @ signs
    as_large = np.sum(np.abs(by_chance) >= abs(kendall.s) - 1e-9)
    return Trend(
        with_copies=with_copies,
        n=n,
        kendall=kendall,
        p_permutation=float((1 + as_large) / (1 + _PERMUTATIONS)),
        slope_draws=_slope_draws(scores, dates, variance=kendall.variance, rng=rng),
    )


def _slope_draws(
    scores: _Array, dates: tuple[DateSpan, ...], *, variance: float, rng: np.random.Generator
) -> _Array:
    """Draw slopes in points a decade.

    The rank of the true slope among the slopes of pairs is drawn from the normal
    approximation that Sen's interval rests on.
    """
    earliest = np.array([date.earliest for date in dates])
    latest = np.array([date.latest for date in dates])
    drawn = earliest + (latest - earliest) * rng.random((_DATE_DRAWS, len(scores)))
    slopes = _sorted_slopes(drawn, scores)
    n_pairs = slopes.shape[1]
    rank = (n_pairs - 1 + math.sqrt(variance) * rng.standard_normal(_DATE_DRAWS)) / 2
    rank = np.clip(rank, 0, n_pairs - 1)
    below = np.floor(rank).astype(int)
    above = np.minimum(below + 1, n_pairs - 1)
    rows = np.arange(_DATE_DRAWS)
    low, high = slopes[rows, below], slopes[rows, above]
    return np.asarray(10 * (low + (rank - below) * (high - low)), dtype=np.float64)


def _sorted_slopes(times: _Array, values: _Array) -> _Array:
    """Return the slopes of all pairs in order, (n_draws, n_pairs); pairs of one time last."""
    earlier, later = np.triu_indices(len(values), 1)
    steps = times[:, later] - times[:, earlier]
    with np.errstate(divide="ignore", invalid="ignore"):
        slopes = np.where(steps == 0, np.inf, (values[later] - values[earlier]) / steps)
    return np.asarray(np.sort(slopes, axis=1), dtype=np.float64)


def _tie_sizes(values: _Array) -> _Array:
    return np.unique(values, return_counts=True)[1].astype(np.float64)
