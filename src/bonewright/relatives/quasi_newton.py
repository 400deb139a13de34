"""The lowest point of a smooth function whose slope is known, by BFGS.

Written out here, since it must go on from what it has learnt of the curvature when the
function changes a little (the weights of a robust fit), and start fast: loading a general
optimiser takes longer than a whole fit of forty species.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Descent", "descend"]

Array = NDArray[np.float64]

_ENOUGH_FALL = 1e-4
_SHORTEST_STEP = 1e-10


class Descent(NamedTuple):
    """Where the descent stands: the point, the height, the slope, the inverse curvature."""

    point: Array
    height: float
    slope: Array
    inverse_curvature: Array | None


def descend(
    function: Callable[[Array], tuple[float, Array]],
    start: Array,
    *,
    iterations: int,
    tolerance: float = 1e-7,
    inverse_curvature: Array | None = None,
) -> Descent:
    """Go down from ``start`` until a step gains less than ``tolerance``, or for so many steps.

    Source: [NocedalWright2006]_, chapter 6: BFGS with backtracking; a step along which
    the slope does not rise teaches nothing and is left out of the curvature.
    """
    point = start
    height, slope = function(point)
    inverse = inverse_curvature
    quiet = 0
    for _ in range(iterations):
        direction = -slope if inverse is None else -inverse @ slope
        fall = float(direction @ slope)
        if fall >= 0:
            inverse, direction = None, -slope
            fall = -float(slope @ slope)
        step = min(1.0, 0.5 / float(np.max(np.abs(direction)))) if inverse is None else 1.0
        while step > _SHORTEST_STEP:
            there = point + step * direction
            found, slope_there = function(there)
            if np.isfinite(found) and found <= height + _ENOUGH_FALL * step * fall:
                break
            step *= 0.4
        else:
            if inverse is None:
                break
            inverse = None
            continue
        moved, turned = there - point, slope_there - slope
        gain = height - found
        point, height, slope = there, found, slope_there
        along = float(moved @ turned)
        if along > 1e-12 * float(np.linalg.norm(moved) * np.linalg.norm(turned)):
            if inverse is None:
                inverse = np.eye(len(point)) * along / float(turned @ turned)
            stretched = inverse @ turned
            inverse = (
                inverse
                + (1 + float(turned @ stretched) / along) * np.outer(moved, moved) / along
                - (np.outer(stretched, moved) + np.outer(moved, stretched)) / along
            )
        quiet = quiet + 1 if gain < tolerance else 0
        if quiet >= 2:
            break
    return Descent(point, height, slope, inverse)
