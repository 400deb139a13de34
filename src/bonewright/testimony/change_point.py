"""Pettitt's test for one change in a series in order of date."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.study.model import DateSpan

__all__ = [
    "FEWEST",
    "ChangePoint",
    "find_change",
    "formula_p",
    "pettitt_statistic",
    "share_found",
]

FEWEST = 6
_PERMUTATIONS = 9_999
_DATE_DRAWS = 2_000

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePoint:
    """Pettitt's test on fatness in order of date (middle of each span).

    ``statistic`` is K; ``p_formula`` the published approximation; ``p_permutation`` the
    share of seeded permutations with a K at least as large; ``last_before`` and
    ``first_after`` the dates (decimal years) on either side of the change.
    ``p_dates`` is (2.5 %, 97.5 %) of p over draws of the uncertain dates.
    """

    with_copies: bool
    n: int
    statistic: float
    p_formula: float
    p_permutation: float
    p_dates: tuple[float, float]
    last_before: float
    first_after: float
    mean_before: float
    mean_after: float
    scatter: float = 0.0


def pettitt_statistic(values: _Array) -> tuple[float, int]:
    """Return K and the number of values before the change.

    Parameters
    ----------
    values : (n,) float
        In order of time, two or more.

    Notes
    -----
    Source: [Pettitt1979]_. U_k = 2 sum_(i <= k) r_i - k (n + 1) with mid-ranks r, and
    K = max |U_k|. Of equal maxima the earliest is taken.

    Examples
    --------
    >>> pettitt_statistic(np.array([1.0, 2.0, 1.0, 5.0, 6.0, 5.0]))
    (9.0, 3)
    """
    sums = np.abs(_rank_sums(_mid_ranks(values)))
    place = int(np.argmax(sums))
    return float(sums[place]), place + 1


def formula_p(statistic: float, n: int) -> float:
    """Return the approximate two-sided p of K, 2 exp(-6 K^2 / (n^3 + n^2)), at most 1.

    Source: [Pettitt1979]_. Good for p up to 0.5 and values without many ties.
    """
    return min(1.0, 2 * float(np.exp(-6 * statistic**2 / (n**3 + n**2))))


def find_change(
    scores: _Array,
    dates: tuple[DateSpan, ...],
    *,
    with_copies: bool,
    rng: np.random.Generator,
) -> ChangePoint:
    """Test scores for one change over time.

    Parameters
    ----------
    scores : (n,) float
        Mean fatness score of each picture.
    dates : n spans
        When each was made. The order is that of the middles; a change can lie only between
        different dates, so that the order of rows does not matter.

    Raises
    ------
    NotEnoughEvidence
        With fewer than six scored pictures, or all of one date.

    Notes
    -----
    The permutation p counts the observed order as one of those possible. For the effect of
    uncertain dates each date is drawn evenly from its span and the formula's p is taken.
    """
    n = len(scores)
    middles = np.array([date.middle for date in dates])
    if n < FEWEST or np.ptp(middles) == 0:
        raise NotEnoughEvidence(
            "A change over time cannot be tested.",
            needed=f"{FEWEST} scored pictures of different dates",
            found=f"{n}, all of one date" if n >= FEWEST else str(n),
            would_help="more pictures with scores",
        )
    order = np.argsort(middles, kind="stable")
    middles, ordered = middles[order], scores[order]
    between_dates = np.flatnonzero(np.diff(middles) > 0)
    ranks = _mid_ranks(ordered)
    sums = np.abs(_rank_sums(ranks)[between_dates])
    statistic = float(sums.max())
    before = int(between_dates[np.argmax(sums)]) + 1
    shuffled = rng.permuted(np.broadcast_to(ranks, (_PERMUTATIONS, n)), axis=1)
    by_chance = np.abs(_rank_sums(shuffled)[:, between_dates]).max(axis=1)
    return ChangePoint(
        with_copies=with_copies,
        n=n,
        statistic=statistic,
        p_formula=formula_p(statistic, n),
        p_permutation=float((1 + np.sum(by_chance >= statistic - 1e-9)) / (1 + _PERMUTATIONS)),
        p_dates=_p_over_dates(scores, dates, rng),
        last_before=float(middles[before - 1]),
        first_after=float(middles[before]),
        mean_before=float(ordered[:before].mean()),
        mean_after=float(ordered[before:].mean()),
        scatter=float(np.std(scores, ddof=1)),
    )


def share_found(change: ChangePoint, *, step: float, rng: np.random.Generator) -> float:
    """Return how often so many pictures that scatter as these do would show a change.

    Parameters
    ----------
    step : float
        The change, in points, at the middle of the series: where it is easiest to find.

    Notes
    -----
    Normal scores with the scatter of these, tested at the 5 % level against the statistic's
    own distribution without a change.
    """
    n = change.n
    noise = max(change.scatter, 0.1) * rng.standard_normal((_DATE_DRAWS, n))
    ranks = _row_ranks(noise)
    limit = float(np.quantile(np.abs(_rank_sums(ranks)).max(axis=1), 0.95))
    stepped = noise + step * (np.arange(n) >= n // 2)
    return float(np.mean(np.abs(_rank_sums(_row_ranks(stepped))).max(axis=1) > limit))


def _row_ranks(values: _Array) -> _Array:
    """Return the ranks within each row, of values without ties."""
    return np.asarray(np.argsort(np.argsort(values, axis=1), axis=1) + 1, dtype=np.float64)


def _p_over_dates(
    scores: _Array, dates: tuple[DateSpan, ...], rng: np.random.Generator
) -> tuple[float, float]:
    n = len(scores)
    earliest = np.array([date.earliest for date in dates])
    latest = np.array([date.latest for date in dates])
    drawn = earliest + (latest - earliest) * rng.random((_DATE_DRAWS, n))
    ranks = _mid_ranks(scores)[np.argsort(drawn, axis=1, kind="stable")]
    statistics = np.abs(_rank_sums(ranks)).max(axis=1)
    p_values = np.minimum(1.0, 2 * np.exp(-6 * statistics**2 / (n**3 + n**2)))
    low, high = np.quantile(p_values, [0.025, 0.975])
    return float(low), float(high)


def _rank_sums(ranks: _Array) -> _Array:
    """Return U_k for k = 1 .. n - 1 along the last axis."""
    n = ranks.shape[-1]
    sums = 2 * np.cumsum(ranks, axis=-1) - np.arange(1, n + 1) * (n + 1)
    return np.asarray(sums[..., :-1], dtype=np.float64)


def _mid_ranks(values: _Array) -> _Array:
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(counts) - (counts - 1) / 2)[place], dtype=np.float64)
