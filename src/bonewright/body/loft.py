"""Lofts: a solid drawn through hoops along an axis, and its volume, centre and inertia.

The axis of a segment is a straight line or an arc in the plane of symmetry. Half-widths and
heights run through the hoops as a smooth curve that is linear in the hoops' values, so that
the weights of the integral are the same in every imagined world and thousands of bodies cost
a few products of matrices. At an end hoop of no size the solid is closed by a round cap.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from bonewright.body.superellipse import HALF_MOMENTS, half_outline, moment_factors
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = [
    "Curve",
    "LoftedSegment",
    "Moments",
    "curve_through",
    "hoop_sizes",
    "loft_mesh",
    "loft_moments",
]

_GAUSS_POINTS = 5
_CHUNK = 1000
_N_INTEGRALS = 14
# Places a span between which a hoop's sizes are read off straight.
_FINE = 201


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoftedSegment:
    """Hoops along one axis, in n draws.

    ``station`` (k,) rises along the axis, which runs from 0 to 1; ``half_width_mm``,
    ``dorsal_mm`` and ``ventral_mm`` are (n, k); ``length_mm`` (n,) is the length along the
    axis. ``bend_rad`` turns the axis from its first to its last point, towards the dorsal side
    where positive.
    """

    station: Draws
    half_width_mm: Draws
    dorsal_mm: Draws
    ventral_mm: Draws
    dorsal_exponent: Draws
    ventral_exponent: Draws
    length_mm: Draws
    bend_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moments:
    """Volume (n,) in mm3, centre (n, 3) in mm, and second moments about the centre.

    ``second_mm5`` (n, 3, 3) is the integral of ``r r'`` over the solid, r counted from the
    centre; axes are x along the axis at its first point, y to the left, z dorsal.
    """

    volume_mm3: Draws
    centre_mm: Draws
    second_mm5: Draws


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
    return Curve(at=np.concatenate(at), weight=np.concatenate(weights), hoops=np.concatenate(rows))


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


def _closed_ends(segment: LoftedSegment) -> tuple[bool, bool]:
    first, last = (
        not np.any(segment.half_width_mm[:, end])
        and not np.any(segment.dorsal_mm[:, end])
        and not np.any(segment.ventral_mm[:, end])
        for end in (0, -1)
    )
    return first, last


def _along(segment: LoftedSegment, curve: Curve) -> tuple[Draws, Draws, Draws]:
    values = tuple(
        hoops @ curve.hoops.T
        for hoops in (segment.half_width_mm, segment.dorsal_mm, segment.ventral_mm)
    )
    # The curve through hoops may dip a little below nothing beside a cap; there is no such body.
    width, dorsal, ventral = (np.maximum(value, 0.0) for value in values)
    return width, dorsal, ventral


def hoop_sizes(segment: LoftedSegment, station: float) -> tuple[float, float, float]:
    """Return half-width, dorsal and ventral height of the first draw at a place of the axis."""
    curve = curve_through(segment.station, closed=_closed_ends(segment), places=_FINE)
    width, dorsal, ventral = (
        float(np.interp(station, curve.at, values[0])) for values in _along(segment, curve)
    )
    return width, dorsal, ventral


def loft_moments(segment: LoftedSegment) -> Moments:
    """Integrate volume, centre and second moments of a loft, draw by draw.

    Notes
    -----
    With an axis of curvature k bent towards +z, the volume element is (1 - k z) dA ds. Gauss's
    rule with five points a span is exact for straight hoops of one exponent. The draws are
    taken in chunks that stay in the processor's cache.

    Raises
    ------
    OutsideRange
        If the bend is so sharp that the solid would run into itself, or it has no volume.
    """
    curve = curve_through(segment.station, closed=_closed_ends(segment))
    weights = _weights_of_moments(segment, curve)
    n_draws = len(segment.length_mm)
    sums = np.empty((len(HALF_MOMENTS), _N_INTEGRALS, n_draws))
    for start in range(0, n_draws, _CHUNK):
        chunk = slice(start, start + _CHUNK)
        width, dorsal, ventral = (
            np.maximum(hoops[chunk] @ curve.hoops.T, 0.0)
            for hoops in (segment.half_width_mm, segment.dorsal_mm, segment.ventral_mm)
        )
        _refuse_sharp_bend(segment, dorsal, ventral, chunk)
        above, below = width * dorsal, width * ventral
        square = width * width
        for q in range(4):
            upper, lower = weights[0, q]
            sums[q, :, chunk] = upper.T @ above.T + lower.T @ below.T
            if q < 2:
                upper, lower = weights[2, q]
                sums[4 + q, :, chunk] = upper.T @ (square * above).T
                sums[4 + q, :, chunk] += lower.T @ (square * below).T
            if q == 2 and not segment.bend_rad:
                sums[3, :, chunk] = 0.0
                break
            above, below = above * dorsal, below * ventral
    return _moments_of_sums(sums, segment)


def _weights_of_moments(
    segment: LoftedSegment, curve: Curve
) -> dict[tuple[int, int], tuple[Draws, Draws]]:
    """Return, by powers of y and z, what dorsal and ventral products are weighted with.

    Each is (m, 14): the integrals of 1, of the axis' and the normal's coordinates, and of
    their products, along the axis.
    """
    x, z, nx, nz = _arc(curve.at, segment.bend_rad)
    one = np.ones_like(x)
    axis = (one, x, z, nx, nz, x * x, x * z, z * z)
    crossed = (2 * x * nx, x * nz + z * nx, 2 * z * nz, nx * nx, nx * nz, nz * nz)
    along = np.stack((*axis, *crossed), axis=1)
    along = along * curve.weight[:, None]
    upper = moment_factors(np.interp(curve.at, segment.station, segment.dorsal_exponent))
    lower = moment_factors(np.interp(curve.at, segment.station, segment.ventral_exponent))
    return {
        (p, q): (upper[p, q][:, None] * along, (-1) ** q * lower[p, q][:, None] * along)
        for p, q in HALF_MOMENTS
    }


def _moments_of_sums(sums: Draws, segment: LoftedSegment) -> Moments:
    length = segment.length_mm
    # Slices shrink towards the inner side of a bend: m_q becomes m_q - k m_(q+1).
    curvature = segment.bend_rad / length
    m0, m1, m2 = (sums[q] - curvature * sums[q + 1] for q in range(3))
    side = sums[4, 0] - curvature * sums[5, 0]
    volume = length * m0[0]
    if np.any(volume <= 0):
        raise OutsideRange(
            "A segment of the body has no volume.",
            remedy="Look at its hoops: half-widths and heights must be above 0 between the ends.",
        )
    centre_x = (length**2 * m0[1] + length * m1[3]) / volume
    centre_z = (length**2 * m0[2] + length * m1[4]) / volume
    xx, xz, zz = (
        length * (length * (length * m0[5 + i] + m1[8 + i]) + m2[11 + i]) for i in range(3)
    )
    second = np.zeros((len(length), 3, 3))
    second[:, 0, 0] = xx - volume * centre_x**2
    second[:, 1, 1] = length * side
    second[:, 2, 2] = zz - volume * centre_z**2
    second[:, 0, 2] = second[:, 2, 0] = xz - volume * centre_x * centre_z
    centre = np.stack((centre_x, np.zeros_like(centre_x), centre_z), axis=1)
    return Moments(volume_mm3=volume, centre_mm=centre, second_mm5=second)


def _arc(at: Draws, bend: float) -> tuple[Draws, Draws, Draws, Draws]:
    """Return the axis and its dorsal normal, per unit of length along the axis."""
    angle = bend * at
    if abs(bend) < 1e-9:
        return at, np.zeros_like(at), np.zeros_like(at), np.ones_like(at)
    return np.sin(angle) / bend, (1 - np.cos(angle)) / bend, -np.sin(angle), np.cos(angle)


def _refuse_sharp_bend(segment: LoftedSegment, dorsal: Draws, ventral: Draws, draws: slice) -> None:
    if not segment.bend_rad:
        return
    inner = dorsal if segment.bend_rad > 0 else ventral
    if np.any(abs(segment.bend_rad) * inner > segment.length_mm[draws, None]):
        raise OutsideRange(
            "A segment of the body is bent so sharply that it would run into itself.",
            remedy="Lessen its bend, or divide it into more segments.",
        )


def loft_mesh(
    segment: LoftedSegment, *, around: int = 32, places: int = 5
) -> tuple[Draws, NDArray[np.int32]]:
    """Lay a closed triangle mesh over a loft, one set of vertices a draw.

    Returns
    -------
    vertices : (n, n_vertices, 3) float
        mm, in the segment's own axes.
    faces : (n_faces, 3) int
        Corners of each triangle, anticlockwise seen from outside; alike for all draws.
    """
    curve = curve_through(segment.station, closed=_closed_ends(segment), places=places)
    width, dorsal, ventral = _along(segment, curve)
    _refuse_sharp_bend(segment, dorsal, ventral, slice(None))
    angle = 2 * np.pi * np.arange(around) / around
    upper = angle < np.pi
    y_up, z_up = half_outline(
        np.interp(curve.at, segment.station, segment.dorsal_exponent), angle[upper]
    )
    y_down, z_down = half_outline(
        np.interp(curve.at, segment.station, segment.ventral_exponent), angle[~upper]
    )
    y = width[:, :, None] * np.concatenate((y_up, y_down), axis=1)
    z = np.concatenate((dorsal[:, :, None] * z_up, -ventral[:, :, None] * z_down), axis=2)
    axis_x, axis_z, normal_x, normal_z = _arc(curve.at, segment.bend_rad)
    length = segment.length_mm[:, None, None]
    x = length * axis_x[:, None] + z * normal_x[:, None]
    height = length * axis_z[:, None] + z * normal_z[:, None]
    n_draws, n_rings = width.shape
    rings = np.stack((x, y, height), axis=-1)
    # Closed ends are one point; open ends get a point amid their flat cap.
    ends = np.zeros((n_draws, 2, 3))
    for place, at in ((0, 0), (1, -1)):
        ends[:, place] = rings[:, at].mean(axis=1)
    closed = _closed_ends(segment)
    kept = rings[:, int(closed[0]) : n_rings - int(closed[1])]
    vertices = np.concatenate((kept.reshape(n_draws, -1, 3), ends), axis=1)
    return vertices, _faces(kept.shape[1], around)


def _faces(n_rings: int, around: int) -> NDArray[np.int32]:
    place = np.arange(around)
    beside = (place + 1) % around
    base = around * np.arange(n_rings - 1)[:, None]
    here, next_here = base + place, base + beside
    there, next_there = here + around, next_here + around
    sides = np.concatenate(
        (
            np.stack((here, next_here, next_there), axis=-1).reshape(-1, 3),
            np.stack((here, next_there, there), axis=-1).reshape(-1, 3),
        )
    )
    first, last = n_rings * around, n_rings * around + 1
    top = (n_rings - 1) * around
    start = np.stack((np.full(around, first), beside, place), axis=-1)
    end = np.stack((np.full(around, last), top + place, top + beside), axis=-1)
    return np.concatenate((sides, start, end)).astype(np.int32)
