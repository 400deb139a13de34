"""The smooth curve through hoops along an axis, linear in what it runs through."""

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = ["Curve", "curve_through"]

_GAUSS_POINTS = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Places along the axis: ``at`` (m,), ``weight`` (m,) of the integral there.

    ``hoops`` (m, k) turns the hoops' values into the values at those places.
    """

    at: Draws
    weight: Draws
    hoops: Draws


def curve_through(station: Draws, *, closed: tuple[bool, bool], places: int | None = None) -> Curve:
    """Lay a smooth curve through hoops.

    Parameters
    ----------
    station : (k,) float
        Places of the hoops, rising. The axis runs from 0 to 1; a rounded joint may reach a
        little beyond either end.
    closed : (bool, bool)
        Whether the first and last hoop have no size, which makes a round cap.
    places : int, optional
        Give that many evenly spread places a span, ends included, for drawing; without it,
        the points and weights of Gauss's rule.

    Notes
    -----
    A cubic through the hoops with the slopes of a parabola through three neighbours. In the
    span of a cap the curve runs over ``u = 2 h sqrt(s / h)`` instead of s, whose slope at
    the next hoop is 1, so that the solid stays smooth and ends like a sphere.

    Raises
    ------
    OutsideRange
        If there are fewer than two hoops, or three where both ends are closed.
    """
    return _curve_through(tuple(map(float, station)), closed=closed, places=places)


# A body has some twenty segments, meshed at a few finenesses.
@lru_cache(maxsize=256)
def _curve_through(
    stations: tuple[float, ...], *, closed: tuple[bool, bool], places: int | None
) -> Curve:
    station = np.array(stations)
    if len(station) < 2 + (closed[0] and closed[1]):
        raise OutsideRange(
            "A segment of the body has too few hoops to span a solid.",
            remedy="Give it at least three hoops, the first at 0 % and the last at 100 %.",
        )
    span = np.diff(station)
    width = span.copy()
    if closed[0]:
        width[0] *= 2
    if closed[1]:
        width[-1] *= 2
    slopes = _slopes(width)
    at, weights, rows = [], [], []
    for index, length in enumerate(span):
        first_cap, last_cap = closed[0] and index == 0, closed[1] and index == len(span) - 1
        fraction, weight = _places_in_span(places, cap=first_cap or last_cap)
        along, pace = fraction, np.ones_like(fraction)
        if first_cap:
            along, pace = fraction**2, 2 * fraction
        elif last_cap:
            along, pace = 1 - (1 - fraction) ** 2, 2 * (1 - fraction)
        keep = slice(None) if places is None or index == 0 else slice(1, None)
        at.append((station[index] + length * along)[keep])
        weights.append((length * pace * weight)[keep])
        rows.append(_cubic(fraction, index, width[index], slopes)[keep])
    kept = (np.concatenate(at), np.concatenate(weights), np.concatenate(rows))
    for array in kept:
        array.flags.writeable = False
    return Curve(at=kept[0], weight=kept[1], hoops=kept[2])


def _places_in_span(places: int | None, *, cap: bool) -> tuple[Draws, Draws]:
    """Return places in 0 to 1 and their weights; a cap, which curves most, gets twice as many."""
    if places is None:
        return _gauss_rule()
    count = 2 * places if cap else places
    return np.linspace(0, 1, count), np.full(count, 1 / count)


@cache
def _gauss_rule() -> tuple[Draws, Draws]:
    node, weight = np.polynomial.legendre.leggauss(_GAUSS_POINTS)
    return (node + 1) / 2, weight / 2


def _slopes(width: Draws) -> Draws:
    """Return the matrix that turns values at hoops into slopes there."""
    count = len(width) + 1
    unit = np.eye(count)
    chord = (unit[1:] - unit[:-1]) / width[:, None]
    if count == 2:
        return np.vstack((chord, chord))
    before, after = width[:-1, None], width[1:, None]
    inner = (after * chord[:-1] + before * chord[1:]) / (before + after)
    return np.vstack((2 * chord[0] - inner[0], inner, 2 * chord[-1] - inner[-1]))


def _cubic(fraction: Draws, index: int, width: float, slopes: Draws) -> Draws:
    f = fraction[:, None]
    unit = np.eye(len(slopes))
    return np.asarray(
        (1 + 2 * f) * (1 - f) ** 2 * unit[index]
        + f**2 * (3 - 2 * f) * unit[index + 1]
        + width * f * (1 - f) ** 2 * slopes[index]
        - width * f**2 * (1 - f) * slopes[index + 1]
    )
