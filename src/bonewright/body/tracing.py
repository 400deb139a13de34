"""Hoops traced from what is there: two outlines of a picture or photograph, or a scan."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bonewright.body.superellipse import moment_factors
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = ["STATIONS", "TracedHoop", "hoops_from_outlines", "hoops_from_surface"]

STATIONS = (0.0, 0.04, 0.12, 0.25, 0.4, 0.55, 0.7, 0.85, 0.95, 1.0)
_EXPONENTS = np.linspace(1.0, 10.0, 181)


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedHoop:
    """One hoop over the length of its axis: station 0 to 1, three sizes, one exponent."""

    station: float
    half_width: float
    dorsal: float
    ventral: float
    exponent: float


def hoops_from_outlines(
    side: Draws, top: Draws, *, stations: Sequence[float] = STATIONS
) -> tuple[TracedHoop, ...]:
    """Trace a segment drawn from the side and from above.

    Parameters
    ----------
    side, top : (n, 2) float
        Closed outlines, the segment lying along the first coordinate with its far end to the
        right; in ``side`` the second coordinate points to its back. Each in its own scale.

    Notes
    -----
    The axis is the straight line between the middles of the side outline's two ends. Hoops
    are ellipses: two outlines say nothing of corners. The first and last are closed.

    Raises
    ------
    OutsideRange
        If an outline has no length.
    """
    x_side, length = _along(side)
    x_top, top_length = _along(top)
    # Ends of an outline are round: its axis is aimed through the middles a little inside.
    inner = [_reach(side, x_side + share * length) for share in (0.02, 0.98)]
    middles = [(low + high) / 2 for low, high in inner]
    hoops = []
    for station in stations:
        axis = middles[0] + (middles[1] - middles[0]) * station
        if station in (0.0, 1.0):
            hoops.append(_closed(station))
            continue
        low, high = _reach(side, x_side + station * length)
        left, right = _reach(top, x_top + station * top_length)
        hoops.append(
            TracedHoop(
                station=station,
                half_width=(right - left) / 2 / top_length,
                dorsal=max(high - axis, 0.0) / length,
                ventral=max(axis - low, 0.0) / length,
                exponent=2.0,
            )
        )
    return tuple(hoops)


def hoops_from_surface(
    vertices: Draws, faces: NDArray[np.integer[Any]], *, stations: Sequence[float] = STATIONS
) -> tuple[TracedHoop, ...]:
    """Trace a closed surface of one segment, lying along x with its back towards z.

    The exponent of a hoop is that which gives it the area of the surface's cut.

    Raises
    ------
    OutsideRange
        If the surface has no length.
    """
    start, length = _along(vertices)
    ends = [_cut(vertices, faces, start + share * length)[:4] for share in (0.02, 0.98)]
    middles = [(low + high) / 2 for _, _, low, high in ends]
    hoops = []
    for station in stations:
        if station in (0.0, 1.0):
            hoops.append(_closed(station))
            continue
        left, right, low, high, area = _cut(vertices, faces, start + station * length)
        axis = middles[0] + (middles[1] - middles[0]) * station
        half_width = (right - left) / 2
        dorsal, ventral = max(high - axis, 0.0), max(axis - low, 0.0)
        hoops.append(
            TracedHoop(
                station=station,
                half_width=half_width / length,
                dorsal=dorsal / length,
                ventral=ventral / length,
                exponent=_exponent(area / max(half_width * (dorsal + ventral), 1e-30)),
            )
        )
    return tuple(hoops)


def _closed(station: float) -> TracedHoop:
    return TracedHoop(station=station, half_width=0.0, dorsal=0.0, ventral=0.0, exponent=2.0)


def _along(points: Draws) -> tuple[float, float]:
    start, end = float(points[:, 0].min()), float(points[:, 0].max())
    if not end > start:
        raise OutsideRange(
            "A traced part has no length.",
            remedy="Draw it lying along the horizontal, its far end to the right.",
        )
    return start, end - start


def _reach(outline: Draws, x: float) -> tuple[float, float]:
    """Return the lowest and highest point of a closed outline at x."""
    begin, end = outline, np.roll(outline, -1, axis=0)
    across = (begin[:, 0] <= x) != (end[:, 0] <= x)
    if not np.any(across):
        raise OutsideRange(
            "An outline has a gap along its length.", remedy="Draw it as one closed line."
        )
    begin, end = begin[across], end[across]
    share = (x - begin[:, 0]) / (end[:, 0] - begin[:, 0])
    y = begin[:, 1] + share * (end[:, 1] - begin[:, 1])
    return float(y.min()), float(y.max())


def _cut(
    vertices: Draws, faces: NDArray[np.integer[Any]], x: float
) -> tuple[float, float, float, float, float]:
    """Return left, right, lowest, highest point and the area of a surface's cut at x."""
    above = vertices[:, 0] > x
    sides = above[faces]
    crossed = faces[sides.any(axis=1) & ~sides.all(axis=1)]
    if not len(crossed):
        raise OutsideRange(
            "A scanned part has a gap along its length.", remedy="Scan it as one closed surface."
        )
    # Turn each triangle so that its lone corner comes first.
    up = above[crossed]
    lone = np.where(up.sum(axis=1) == 1, np.argmax(up, axis=1), np.argmin(up, axis=1))
    order = (lone[:, None] + np.arange(3)) % 3
    turned = np.take_along_axis(crossed, order, axis=1)
    corner = vertices[turned]

    def meeting(other: int) -> Draws:
        share = (x - corner[:, 0, 0]) / (corner[:, other, 0] - corner[:, 0, 0])
        return np.asarray(corner[:, 0] + share[:, None] * (corner[:, other] - corner[:, 0]))

    first, second = meeting(1), meeting(2)
    points = np.concatenate((first, second))
    # Each triangle's piece of the cut runs one way round; the way turns with the lone corner.
    way = np.where(above[turned[:, 0]], 1.0, -1.0)
    area = abs(float((way * (first[:, 1] * second[:, 2] - second[:, 1] * first[:, 2])).sum()) / 2)
    return (
        float(points[:, 1].min()),
        float(points[:, 1].max()),
        float(points[:, 2].min()),
        float(points[:, 2].max()),
        area,
    )


def _exponent(filled: float) -> float:
    """Return the exponent whose superellipse fills that share of half-width times height."""
    factors = moment_factors(_EXPONENTS)[0, 0]
    return float(np.interp(filled, factors, _EXPONENTS))
