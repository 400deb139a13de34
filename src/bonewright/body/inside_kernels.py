"""Compiled loop: which points of the body lie within other segments.

Only arrays and numbers here; nothing checks its input.
"""

from math import atan2, floor, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bonewright.compiling import Floats, Integers, compiled

__all__ = ["Holders", "held_by_others"]


class Holders(NamedTuple):
    """The segments of one body as they stand; of a pair the left one.

    ``origin`` (c, 3) mm, ``turn`` (c, 3, 3), ``length`` (c,) mm, ``bend`` (c,) rad; the solid
    reaches along the axis from ``begin`` to ``end`` (c,), shares of its length. ``sizes``
    (c, t, 5) holds half-width, dorsal and ventral height, mm, and the two exponents, at t
    evenly spread places between them. ``low`` and ``high`` (c, 3) mm are a box around it, and
    ``paired`` (c,) tells whether it has a mirror image.
    """

    origin: Floats
    turn: Floats
    length: Floats
    bend: Floats
    begin: Floats
    end: Floats
    sizes: Floats
    low: Floats
    high: Floats
    paired: NDArray[np.bool_]


@compiled
def held_by_others(
    points: Floats, of_segment: Integers, everyone: bool, holders: Holders
) -> NDArray[np.bool_]:
    """Tell of each point (m, 3) whether another segment holds it.

    ``of_segment`` (m,) is the segment a point belongs to, of the left one of a pair. Either
    the earlier segments are asked, or everyone but its own: the later ones and its own mirror
    image too.
    """
    held = np.zeros(len(points), np.bool_)
    for place in range(len(points)):
        own = of_segment[place]
        asked = len(holders.length) if everyone else own
        for holder in range(asked):
            sides = 2 if holders.paired[holder] else 1
            for side in range(sides):
                if holder == own and side == 0:
                    continue
                x, z = points[place, 0], points[place, 2]
                y = points[place, 1] if side == 0 else -points[place, 1]
                if (
                    x < holders.low[holder, 0]
                    or x > holders.high[holder, 0]
                    or y < holders.low[holder, 1]
                    or y > holders.high[holder, 1]
                    or z < holders.low[holder, 2]
                    or z > holders.high[holder, 2]
                ):
                    continue
                if _holds(x, y, z, holder, holders):
                    held[place] = True
                    break
            if held[place]:
                break
    return held


@compiled
def _holds(x: float, y: float, z: float, holder: int, holders: Holders) -> bool:
    turn = holders.turn[holder]
    dx = x - holders.origin[holder, 0]
    dy = y - holders.origin[holder, 1]
    dz = z - holders.origin[holder, 2]
    ahead = turn[0, 0] * dx + turn[1, 0] * dy + turn[2, 0] * dz
    aside = turn[0, 1] * dx + turn[1, 1] * dy + turn[2, 1] * dz
    above = turn[0, 2] * dx + turn[1, 2] * dy + turn[2, 2] * dz
    length, bend = holders.length[holder], holders.bend[holder]
    if abs(bend) < 1e-9:
        along = ahead / length
    else:
        # The axis is an arc about a point on the normal through its first point.
        radius = length / bend
        sign = 1.0 if radius > 0 else -1.0
        along = atan2(sign * ahead, sign * (radius - above)) / bend
        above = radius - sign * sqrt(ahead * ahead + (radius - above) ** 2)
    begin, end = holders.begin[holder], holders.end[holder]
    if along < begin or along > end:
        return False
    sizes = holders.sizes[holder]
    cell = (along - begin) / (end - begin) * (len(sizes) - 1)
    before = min(floor(cell), len(sizes) - 2)
    share = cell - before
    width = (1 - share) * sizes[before, 0] + share * sizes[before + 1, 0]
    half = 1 if above >= 0 else 2
    height = (1 - share) * sizes[before, half] + share * sizes[before + 1, half]
    across, up = abs(aside), abs(above)
    if across >= width or up >= height:
        return False
    exponent = (1 - share) * sizes[before, half + 2] + share * sizes[before + 1, half + 2]
    if exponent == 2.0:
        return bool((across / width) ** 2 + (up / height) ** 2 < 1)
    return bool((across / width) ** exponent + (up / height) ** exponent < 1)
