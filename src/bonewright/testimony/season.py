"""Whether the date in the year explains fatness better than the date in the century."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.study.model import DateSpan

__all__ = ["FEWEST", "LONGEST_SPAN_YEARS", "Season", "compare_season", "left_out_error"]

FEWEST = 8
LONGEST_SPAN_YEARS = 0.26
_PERMUTATIONS = 4_999

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """How well scores left out one at a time are foretold, in points (root mean square).

    ``by_mean`` by the mean of the others, ``by_century`` by a straight line over the years,
    ``by_season`` by a yearly wave. ``p_season`` is the share of random orders in which a
    yearly wave fits as well; ``fattest_month`` (1 to 12) is where the wave is highest.
    """

    with_copies: bool
    n: int
    by_mean: float
    by_century: float
    by_season: float
    p_season: float
    fattest_month: int
    swing: float


def left_out_error(design: _Array, values: _Array) -> float:
    """Return the root mean square error of values left out one at a time.

    Parameters
    ----------
    design : (n, k) float
        Columns of a least-squares fit, of full rank.
    values : (n,) float

    Notes
    -----
    Source: [Allen1974]_: a residual over one less its leverage is the error with that value
    left out, so no fit is repeated.
    """
    q, _ = np.linalg.qr(design)
    residual = values - q @ (q.T @ values)
    leverage = np.sum(q**2, axis=1)
    return float(np.sqrt(np.mean((residual / np.maximum(1 - leverage, 1e-9)) ** 2)))


def compare_season(
    scores: _Array,
    dates: tuple[DateSpan, ...],
    *,
    with_copies: bool,
    rng: np.random.Generator,
) -> Season:
    """Compare season with century on the scores dated to three months or less.

    Raises
    ------
    NotEnoughEvidence
        With fewer than eight such pictures.
    """
    close = [i for i, date in enumerate(dates) if date.latest - date.earliest < LONGEST_SPAN_YEARS]
    years = np.array([dates[i].middle for i in close])
    values = np.asarray(scores[close], dtype=np.float64)
    n = len(close)
    angle = 2 * np.pi * (years % 1.0)
    wave = np.column_stack([np.ones(n), np.cos(angle), np.sin(angle)])
    if n < FEWEST or np.linalg.matrix_rank(wave, tol=1e-6) < 3:
        raise NotEnoughEvidence(
            "Whether season explains fatness cannot be told.",
            needed=f"{FEWEST} scored pictures dated to a season or better, spread over the year",
            found=str(n),
            would_help="months in the dates of pictures (1671-02)",
        )
    line = np.column_stack([np.ones(n), years - years.mean()])
    coefficients = np.linalg.lstsq(wave, values, rcond=None)[0]
    peak = float(np.arctan2(coefficients[2], coefficients[1]) / (2 * np.pi)) % 1.0
    q, _ = np.linalg.qr(wave)
    shuffled = rng.permuted(np.broadcast_to(values, (_PERMUTATIONS, n)), axis=1)
    explained = np.sum((shuffled @ q) ** 2, axis=1)
    as_well = np.sum(explained >= float(np.sum((values @ q) ** 2)) - 1e-9)
    return Season(
        with_copies=with_copies,
        n=n,
        by_mean=left_out_error(np.ones((n, 1)), values),
        by_century=left_out_error(line, values) if np.ptp(years) > 0 else float("inf"),
        by_season=left_out_error(wave, values),
        p_season=float((1 + as_well) / (1 + _PERMUTATIONS)),
        fattest_month=int(peak * 12) % 12 + 1,
        swing=2 * float(np.hypot(coefficients[1], coefficients[2])),
    )
