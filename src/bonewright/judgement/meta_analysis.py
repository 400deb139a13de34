"""The classical ways to pool estimates that differ more than their uncertainties say."""

import math

import numpy as np
from numpy.typing import NDArray

from bonewright.judgement.heterogeneity import cochran_q, generalised_mean

__all__ = [
    "between_variance_reml",
    "birge_interval",
    "knapp_hartung_interval",
    "normal_interval",
    "q_profile_interval",
]

_Array = NDArray[np.float64]
_Interval = tuple[float, float]
_CELLS = 200
_ROUNDS = 60


def between_variance_reml(estimates: _Array, covariance: _Array) -> float:
    """Return the restricted maximum likelihood estimate of the variance between estimates.

    Parameters
    ----------
    estimates : (k,) float
        Two or more estimates of one quantity.
    covariance : (k, k) float
        Their covariance matrix.

    Notes
    -----
    Source: [Viechtbauer2005]_. The restricted likelihood of estimates that share something
    can have more than one top; the highest on a grid is refined by halving the interval in
    which its slope changes sign.
    """
    top = max(10 * float(np.var(estimates)), 10 * float(np.trace(covariance)) / len(estimates))
    grid = np.concatenate([[0.0], np.geomspace(1e-8 * top, top, _CELLS)])
    heights = [_restricted_ln_likelihood(value, estimates, covariance) for value in grid]
    best = int(np.argmax(heights))
    low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, _CELLS)])
    if _slope(low, estimates, covariance) <= 0:
        return low
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        if _slope(middle, estimates, covariance) > 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _widened(between: float, covariance: _Array) -> _Array:
    return np.asarray(covariance + between * np.eye(len(covariance)), dtype=np.float64)


def _restricted_ln_likelihood(between: float, estimates: _Array, covariance: _Array) -> float:
    widened = _widened(between, covariance)
    _, variance, _ = generalised_mean(estimates, widened)
    ln_determinant = float(np.linalg.slogdet(widened)[1])
    return 0.5 * (math.log(variance) - ln_determinant - cochran_q(estimates, widened))


def _slope(between: float, estimates: _Array, covariance: _Array) -> float:
    """Return twice the slope of the restricted ln likelihood: y'PPy - tr P."""
    inverse = np.linalg.inv(_widened(between, covariance))
    sums = inverse.sum(axis=1)
    projection = inverse - np.outer(sums, sums) / sums.sum()
    pulled = projection @ estimates
    return float(pulled @ pulled - np.trace(projection))


def normal_interval(estimates: _Array, covariance: _Array, *, between: float) -> _Interval:
    """Return the 95 % interval of the mean as if ``between`` were known."""
    mean, variance, _ = generalised_mean(estimates, _widened(between, covariance))
    reach = 1.959963984540054 * variance**0.5
    return mean - reach, mean + reach


def knapp_hartung_interval(
    estimates: _Array, covariance: _Array, *, between: float, least_factor: float = 0.0
) -> _Interval:
    """Return the 95 % interval of the mean after Knapp and Hartung.

    The variance of the mean is multiplied by Q / (k - 1) at ``between``, or by
    ``least_factor`` if that is more, and Student's t has k - 1 degrees of freedom.

    Notes
    -----
    Source: [KnappHartung2003]_. With few estimates that happen to agree the factor can be
    far below 1; a ``least_factor`` of 1 keeps the interval from being narrower than the stated
    uncertainties allow.
    """
    from scipy.special import stdtrit

    widened = _widened(between, covariance)
    mean, variance, _ = generalised_mean(estimates, widened)
    freedom = len(estimates) - 1
    factor = max(cochran_q(estimates, widened) / freedom, least_factor)
    reach = float(stdtrit(freedom, 0.975)) * (factor * variance) ** 0.5
    return mean - reach, mean + reach


def birge_interval(estimates: _Array, covariance: _Array) -> _Interval:
    """Return the 95 % interval of the mean, its error multiplied by the Birge ratio if above 1.

    Source: [Birge1932]_. Too narrow for a handful of estimates.
    """
    mean, variance, _ = generalised_mean(estimates, covariance)
    ratio = max(cochran_q(estimates, covariance) / (len(estimates) - 1), 1.0)
    reach = 1.959963984540054 * (ratio * variance) ** 0.5
    return mean - reach, mean + reach


def q_profile_interval(estimates: _Array, covariance: _Array) -> _Interval:
    """Return the 95 % interval of the variance between estimates by profiling Q.

    Source: [Viechtbauer2007]_. Each end is the variance at which Q meets a 2.5 % quantile of
    chi-square with k - 1 degrees of freedom; 0 where Q never reaches it.
    """
    from scipy.special import chdtri

    freedom = len(estimates) - 1
    return (
        _variance_at_q(float(chdtri(freedom, 0.025)), estimates, covariance),
        _variance_at_q(float(chdtri(freedom, 0.975)), estimates, covariance),
    )


def _variance_at_q(target: float, estimates: _Array, covariance: _Array) -> float:
    if cochran_q(estimates, covariance) <= target:
        return 0.0
    low, high = 0.0, max(float(np.var(estimates)), float(np.trace(covariance)))
    while cochran_q(estimates, _widened(high, covariance)) > target:
        low, high = high, 2 * high
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        if cochran_q(estimates, _widened(middle, covariance)) > target:
            low = middle
        else:
            high = middle
    return (low + high) / 2
