"""How probable a change is, and when: a Bayesian change-point that carries dating along."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.study.model import DateSpan

__all__ = ["ChangeProbability", "change_probability", "ln_bayes_factors"]

_Array = NDArray[np.float64]

_DATE_DRAWS = 2_000
# Before looking: a change is as probable as none; either level lies around the middle of the
# scale, 3, give or take a point; scores scatter by about 0.7 points.
_CENTRE, _WEIGHT = 3.0, 0.5
_SHAPE, _SCALE = 2.0, 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChangeProbability:
    """Probability of one change, with the dates drawn from their spans.

    ``year_draws`` and ``step_draws`` (points, later less earlier), both (n_draws,), hold if
    there was a change; ``bayes_factor`` is for a change against none.
    """

    with_copies: bool
    n: int
    bayes_factor: float
    probability: float
    year_draws: _Array
    step_draws: _Array


def ln_bayes_factors(ordered: _Array) -> _Array:
    """Return ln of how much likelier scores are with a change after each place than without.

    Parameters
    ----------
    ordered : (..., n) float
        Scores in order of date.

    Returns
    -------
    (..., n - 1) float
        For a change after the first, second ... score.

    Notes
    -----
    Scores are normal about one mean, or one mean before and another after, with one
    unknown scatter; conjugate priors (normal and inverse gamma) as in [Gelman2013]_,
    chapter 3, make the marginal likelihoods exact.
    """
    n = ordered.shape[-1]
    y = ordered - _CENTRE
    sums, squares = np.cumsum(y, axis=-1), np.cumsum(y**2, axis=-1)
    before = np.arange(1, n)
    after = n - before
    left, right = sums[..., :-1], sums[..., -1:] - sums[..., :-1]
    fitted = left**2 / (_WEIGHT + before) + right**2 / (_WEIGHT + after)
    scale_two = _SCALE + 0.5 * (squares[..., -1:] - fitted)
    scale_one = _SCALE + 0.5 * (squares[..., -1:] - sums[..., -1:] ** 2 / (_WEIGHT + n))
    occam = 0.5 * np.log(_WEIGHT * (_WEIGHT + n) / ((_WEIGHT + before) * (_WEIGHT + after)))
    return np.asarray(
        occam + (_SHAPE + n / 2) * (np.log(scale_one) - np.log(scale_two)), dtype=np.float64
    )


def change_probability(
    scores: _Array,
    dates: tuple[DateSpan, ...],
    *,
    with_copies: bool,
    rng: np.random.Generator,
) -> ChangeProbability:
    """Weigh one change against none, with its year anywhere between first and last picture.

    Parameters
    ----------
    scores : (n,) float
        Two or more.
    dates : n spans
        Each date is drawn evenly from its span.

    Notes
    -----
    The prior of the year of change is even over time, so a long gap between pictures is a
    likelier place for it than a short one. See [Smith1975]_ for the single change-point.
    """
    n = len(scores)
    earliest = np.array([date.earliest for date in dates])
    latest = np.array([date.latest for date in dates])
    drawn = earliest + (latest - earliest) * rng.random((_DATE_DRAWS, n))
    order = np.argsort(drawn, axis=1)
    years = np.take_along_axis(drawn, order, axis=1)
    ordered = scores[order]
    gaps = np.diff(years, axis=1)
    with np.errstate(divide="ignore"):
        ln_weight = ln_bayes_factors(ordered) + np.log(gaps) - np.log(gaps.sum(axis=1))[:, None]
    most = float(ln_weight.max())
    weight = np.exp(ln_weight - most)
    bayes_factor = float(weight.sum() / _DATE_DRAWS * math.exp(min(most, 700.0)))
    chosen = rng.choice(weight.size, size=_DATE_DRAWS, p=(weight / weight.sum()).ravel())
    rows, places = np.divmod(chosen, n - 1)
    year = years[rows, places] + gaps[rows, places] * rng.random(_DATE_DRAWS)
    return ChangeProbability(
        with_copies=with_copies,
        n=n,
        bayes_factor=bayes_factor,
        probability=bayes_factor / (1 + bayes_factor),
        year_draws=year,
        step_draws=_step_draws(ordered[rows], places + 1, rng),
    )


def _step_draws(ordered: _Array, before: NDArray[np.int_], rng: np.random.Generator) -> _Array:
    """Draw the difference of the two levels from its posterior, one draw a row."""
    n = ordered.shape[1]
    y = ordered - _CENTRE
    left = np.arange(n) < before[:, None]
    sums = np.array([(y * left).sum(axis=1), (y * ~left).sum(axis=1)])
    counts = np.array([before, n - before])
    scale = _SCALE + 0.5 * ((y**2).sum(axis=1) - (sums**2 / (_WEIGHT + counts)).sum(axis=0))
    variance = scale / rng.gamma(_SHAPE + n / 2, size=len(ordered))
    levels = sums / (_WEIGHT + counts)
    levels = levels + np.sqrt(variance / (_WEIGHT + counts)) * rng.standard_normal(levels.shape)
    return np.asarray(levels[1] - levels[0], dtype=np.float64)
