"""Volume, centre and second moments of a loft, in every draw."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from bonewright.body.hoop_curves import curve_through
from bonewright.body.loft import LoftedSegment, arc, closed_ends, refuse_sharp_bend
from bonewright.body.superellipse import HALF_MOMENTS, moment_factors
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = ["Moments", "loft_moments"]

_CHUNK = 1000
_N_INTEGRALS = 14
# Hoops are alike where they differ by no more than rounding does.
_ALIKE = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moments:
    """Volume (n,) in mm3, centre (n, 3) in mm, and second moments about the centre.

    ``second_mm5`` (n, 3, 3) is the integral of ``r r'`` over the solid, r counted from the
    centre; axes are x along the axis at its first point, y to the left, z dorsal.
    """

    volume_mm3: Draws
    centre_mm: Draws
    second_mm5: Draws


def loft_moments(segment: LoftedSegment) -> Moments:
    """Integrate volume, centre and second moments of a loft, draw by draw.

    Notes
    -----
    With an axis of curvature k bent towards +z, the volume element is (1 - k z) dA ds. Gauss's
    rule with five points a span is exact for straight hoops of one exponent. Where the hoops
    of every draw are those of the first times one number, one integral serves them all, since
    a moment grows with a power of that number; otherwise the draws are taken in chunks that
    stay in the processor's cache.

    Raises
    ------
    OutsideRange
        If the bend is so sharp that the solid would run into itself, or it has no volume.
    """
    size = _size_of_hoops(segment)
    if size is None:
        return _moments_of_sums(_sums_of_hoops(segment), segment, np.ones(1))
    one = replace(
        segment,
        half_width_mm=segment.half_width_mm[:1],
        dorsal_mm=segment.dorsal_mm[:1],
        ventral_mm=segment.ventral_mm[:1],
        # The bend is sharpest where the hoops are largest beside the axis.
        length_mm=np.min(segment.length_mm / size, keepdims=True),
    )
    return _moments_of_sums(_sums_of_hoops(one), segment, size)


def _size_of_hoops(segment: LoftedSegment) -> Draws | None:
    """Return by what number each draw's hoops are the first draw's, (n,), if by one at all."""
    hoops = (segment.half_width_mm, segment.dorsal_mm, segment.ventral_mm)
    widest = int(np.argmax(hoops[0][0]))
    first = hoops[0][0, widest]
    if first <= 0 or len(hoops[0]) == 1:
        return None
    size = hoops[0][:, widest] / first
    off = (np.abs(of_draws - np.multiply.outer(size, of_draws[0])).max() for of_draws in hoops)
    if np.any(size <= 0) or max(off) > _ALIKE * first:
        return None
    return np.asarray(size)


def _sums_of_hoops(segment: LoftedSegment) -> Draws:
    """Return the integrals along the axis by moment of the hoops, (6, 14, n)."""
    closed = closed_ends(segment)
    curve = curve_through(segment.station, closed=closed)
    weights = _weights_of_moments(
        tuple(map(float, segment.station)),
        closed,
        tuple(map(float, segment.dorsal_exponent)),
        tuple(map(float, segment.ventral_exponent)),
        segment.bend_rad,
    )
    n_draws = len(segment.length_mm)
    sums = np.empty((len(HALF_MOMENTS), _N_INTEGRALS, n_draws))
    for start in range(0, n_draws, _CHUNK):
        chunk = slice(start, start + _CHUNK)
        width, dorsal, ventral = (
            np.maximum(hoops[chunk] @ curve.hoops.T, 0.0)
            for hoops in (segment.half_width_mm, segment.dorsal_mm, segment.ventral_mm)
        )
        refuse_sharp_bend(segment, dorsal, ventral, chunk)
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
    return sums


# Many bodies differ in the sizes of their hoops alone: they share their weights.
@lru_cache(maxsize=128)
def _weights_of_moments(
    stations: tuple[float, ...],
    closed: tuple[bool, bool],
    dorsal_exponents: tuple[float, ...],
    ventral_exponents: tuple[float, ...],
    bend_rad: float,
) -> dict[tuple[int, int], tuple[Draws, Draws]]:
    """Return, by powers of y and z, what dorsal and ventral products are weighted with.

    Each is (m, 14): the integrals of 1, of the axis' and the normal's coordinates, and of
    their products, along the axis.
    """
    curve = curve_through(np.array(stations), closed=closed)
    x, z, nx, nz = arc(curve.at, bend_rad)
    one = np.ones_like(x)
    axis = (one, x, z, nx, nz, x * x, x * z, z * z)
    crossed = (2 * x * nx, x * nz + z * nx, 2 * z * nz, nx * nx, nx * nz, nz * nz)
    along = np.stack((*axis, *crossed), axis=1)
    along = along * curve.weight[:, None]
    upper = moment_factors(np.interp(curve.at, stations, dorsal_exponents))
    lower = moment_factors(np.interp(curve.at, stations, ventral_exponents))
    return {
        (p, q): (upper[p, q][:, None] * along, (-1) ** q * lower[p, q][:, None] * along)
        for p, q in HALF_MOMENTS
    }


def _moments_of_sums(sums: Draws, segment: LoftedSegment, size: Draws) -> Moments:
    """Put the moments together; ``sums`` are those of hoops that ``size`` (n,) enlarges."""
    length = segment.length_mm
    # Slices shrink towards the inner side of a bend: m_q becomes m_q - k m_(q+1).
    curvature = segment.bend_rad / length
    power = [size**2, size**3, size**4, size**5]

    def moment(q: int, integral: int) -> Draws | float:
        if not np.any(sums[q : q + 2, integral]):
            return 0.0
        value: Draws = power[q] * sums[q, integral]
        if bent:
            value -= curvature * power[q + 1] * sums[q + 1, integral]
        return value

    bent = segment.bend_rad != 0
    volume = np.broadcast_to(length * moment(0, 0), length.shape)
    if np.any(volume <= 0):
        raise OutsideRange(
            "A segment of the body has no volume.",
            remedy="Look at its hoops: half-widths and heights must be above 0 between the ends.",
        )
    side = power[2] * sums[4, 0]
    if bent:
        side = side - curvature * power[3] * sums[5, 0]
    centre_x = (length**2 * moment(0, 1) + length * moment(1, 3)) / volume
    centre_z = (length**2 * moment(0, 2) + length * moment(1, 4)) / volume
    xx, xz, zz = (
        length * (length * (length * moment(0, 5 + i) + moment(1, 8 + i)) + moment(2, 11 + i))
        for i in range(3)
    )
    second = np.zeros((len(length), 3, 3))
    second[:, 0, 0] = xx - volume * centre_x**2
    second[:, 1, 1] = length * side
    second[:, 2, 2] = zz - volume * centre_z**2
    second[:, 0, 2] = second[:, 2, 0] = xz - volume * centre_x * centre_z
    centre = np.stack((centre_x, np.zeros_like(centre_x), centre_z), axis=1)
    return Moments(volume_mm3=volume, centre_mm=centre, second_mm5=second)
