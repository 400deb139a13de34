"""Moments of half a superellipse: what a hoop of the body encloses.

A hoop lies across the axis of a body segment. It has one half-width, to the left as to the
right, and two heights, dorsal and ventral, each half with its own exponent:
``|y / width|^n + |z / height|^n = 1``. The exponent 2 is an ellipse, 1 a diamond; a larger
one fills the corners.
"""

from math import lgamma

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = ["HALF_MOMENTS", "half_outline", "moment_factors"]

HALF_MOMENTS = ((0, 0), (0, 1), (0, 2), (0, 3), (2, 0), (2, 1))
"""Powers (of y, of z) of the moments that a solid's volume, centre and inertia need."""

_EXPONENTS = (0.5, 20.0)


def moment_factors(exponent: Draws) -> dict[tuple[int, int], Draws]:
    """Return the moments of the upper half of a unit superellipse, by powers of y and z.

    Parameters
    ----------
    exponent : (n,) float
        Exponents. Dimensionless.

    Returns
    -------
    dict from (p, q) to (n,) float
        Integral of ``y^p z^q`` over ``z >= 0``, to be multiplied by
        ``width^(p + 1) height^(q + 1)``.

    Raises
    ------
    OutsideRange
        If an exponent makes no hoop of a body.

    Notes
    -----
    Dirichlet's integral: over a quarter it is
    ``G(a/n) G(b/n) / (n^2 G((a + b)/n + 1))`` with a = p + 1, b = q + 1.
    """
    low, high = _EXPONENTS
    if exponent.size and not (low <= exponent.min() and exponent.max() <= high):
        raise OutsideRange(
            f"A hoop of the body has an exponent outside {low:g} to {high:g}.",
            remedy="2 is an ellipse; give a number between 1.5 and 4 for a body.",
        )
    return {
        (p, q): np.array([2 * _quarter(p + 1, q + 1, float(n)) for n in exponent])
        for p, q in HALF_MOMENTS
    }


def _quarter(a: int, b: int, n: float) -> float:
    logarithm = lgamma(a / n) + lgamma(b / n) - lgamma((a + b) / n + 1)
    return float(np.exp(logarithm)) / n**2


def half_outline(exponent: Draws, angle: NDArray[np.float64]) -> tuple[Draws, Draws]:
    """Return points of the unit upper half, each of shape (n, n_points).

    ``angle`` runs from 0 (left end of the width) to pi (right end). Points stand where the
    ray of that angle meets the outline, so that equal angles match between hoops.
    """
    cosine, sine = np.cos(angle), np.abs(np.sin(angle))
    power = exponent[:, None]
    radius = (np.abs(cosine) ** power + sine**power) ** (-1 / power)
    return radius * cosine, radius * sine
