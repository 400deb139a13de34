"""A line that gross mistakes cannot bend, for finding them."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["robust_line", "robust_spread"]

Array = NDArray[np.float64]

_ALL_PAIRS_UP_TO = 400


def robust_line(x: Array, y: Array) -> tuple[float, float]:
    """Return slope and intercept: the median slope over pairs, the median of what is left.

    Up to 400 points all pairs are used; beyond, each point of the lower half of x is
    paired with one of the upper half, which costs some precision and no robustness that
    matters here. Needs at least two different x.
    """
    order = np.argsort(x, kind="stable")
    x, y = x[order], y[order]
    n = len(x)
    if n <= _ALL_PAIRS_UP_TO:
        first, second = np.triu_indices(n, k=1)
    else:
        first = np.arange(n // 2)
        second = first + (n - n // 2)
    apart = x[second] > x[first]
    first, second = first[apart], second[apart]
    slope = float(np.median((y[second] - y[first]) / (x[second] - x[first])))
    return slope, float(np.median(y - slope * x))


def robust_spread(residuals: Array, *, least: float) -> float:
    """Return 1.4826 times the median absolute value, enlarged for few points, or ``least``."""
    n = len(residuals)
    spread = 1.4826 * float(np.median(np.abs(residuals))) * n / max(n - 2, 1)
    return max(spread, least)
