"""How far estimates of one thing differ beyond their stated uncertainties."""

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence

__all__ = [
    "between_variance_dersimonian_laird",
    "between_variance_paule_mandel",
    "birge_ratio",
    "cochran_q",
    "generalised_mean",
    "i_squared_percent",
    "q_p_value",
]

_Array = NDArray[np.float64]
# Some ten steps suffice; far-off estimates of tiny variance take more.
_MOST_STEPS = 200


def generalised_mean(estimates: _Array, covariance: _Array) -> tuple[float, float, _Array]:
    """Return the best linear mean, its variance, and the weights (summing to 1).

    Parameters
    ----------
    estimates : (k,) float
        Estimates of one quantity.
    covariance : (k, k) float
        Their covariance matrix; diagonal if they share nothing.

    Notes
    -----
    Weights are C^-1 1 / (1' C^-1 1), of variance 1 / (1' C^-1 1): inverse variances where
    nothing is shared. Strongly correlated estimates can get a weight below zero.
    """
    ones = np.ones(len(estimates))
    solved = np.asarray(np.linalg.solve(covariance, ones), dtype=np.float64)
    total = float(ones @ solved)
    weights = solved / total
    return float(weights @ estimates), 1 / total, weights


def cochran_q(estimates: _Array, covariance: _Array) -> float:
    """Return the weighted sum of squared departures from the best linear mean."""
    mean, _, _ = generalised_mean(estimates, covariance)
    departures = estimates - mean
    return float(departures @ np.linalg.solve(covariance, departures))


def q_p_value(q_statistic: float, n_estimates: int) -> float:
    """Return the chance of a Q at least as large if nothing but stated uncertainty differs.

    The upper tail of chi-square with ``n_estimates - 1`` degrees of freedom.
    """
    from scipy.special import chdtrc

    _need_two(n_estimates)
    return float(chdtrc(n_estimates - 1, q_statistic))


def i_squared_percent(q_statistic: float, n_estimates: int) -> float:
    """Return the share of Q that stated uncertainties do not explain, never below 0.

    Source: [HigginsThompson2002]_.
    """
    _need_two(n_estimates)
    if q_statistic <= 0:
        return 0.0
    return max(0.0, 100 * (q_statistic - (n_estimates - 1)) / q_statistic)


def birge_ratio(q_statistic: float, n_estimates: int) -> float:
    """Return sqrt(Q / (k - 1)): above 1, stated uncertainties are too small.

    Source: [Birge1932]_. It is used to widen, never to narrow. With few estimates even the
    widened uncertainty is too small.
    """
    _need_two(n_estimates)
    return float(np.sqrt(q_statistic / (n_estimates - 1)))


def between_variance_dersimonian_laird(estimates: _Array, variances: _Array) -> float:
    """Return the moment estimate of the variance between independent estimates.

    Source: [DerSimonianLaird1986]_. Zero where Q does not exceed its degrees of freedom.
    """
    n_estimates = len(estimates)
    _need_two(n_estimates)
    weights = 1 / variances
    q_statistic = cochran_q(estimates, np.diag(variances))
    scale = weights.sum() - (weights**2).sum() / weights.sum()
    return max(0.0, float((q_statistic - (n_estimates - 1)) / scale))


def between_variance_paule_mandel(estimates: _Array, covariance: _Array) -> float:
    """Return the variance between estimates that brings Q to its degrees of freedom.

    Source: [PauleMandel1982]_, here with a covariance matrix. Zero where Q is small already.
    Q falls with the variance and is convex, so that their iteration (Newton's, from 0) never
    oversteps; it is ended when the step no longer counts.
    """
    n_estimates = len(estimates)
    _need_two(n_estimates)
    between = 0.0
    for _ in range(_MOST_STEPS):
        widened = covariance + between * np.eye(n_estimates)
        mean, _, _ = generalised_mean(estimates, widened)
        solved = np.linalg.solve(widened, estimates - mean)
        excess = float((estimates - mean) @ solved) - (n_estimates - 1)
        if excess <= 0:
            break
        step = excess / float(solved @ solved)
        between += step
        if step <= 1e-14 * between:
            break
    return between


def _need_two(n_estimates: int) -> None:
    if n_estimates < 2:
        raise NotEnoughEvidence(
            "Disagreement cannot be measured.",
            needed="two or more estimates",
            found=str(n_estimates),
            would_help="a further line of evidence",
        )
