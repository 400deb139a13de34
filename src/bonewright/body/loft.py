"""Lofts: a solid drawn through hoops along an axis, and its volume, centre and inertia.

The axis of a segment is a straight line or an arc in the plane of symmetry. Half-widths and
heights run through the hoops as a smooth curve that is linear in the hoops' values, so that
the weights of the integral are the same in every imagined world and thousands of bodies cost
a few products of matrices. At an end hoop of no size the solid is closed by a round cap.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bonewright.body.hoop_curves import Curve, curve_through
from bonewright.body.superellipse import half_outline
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = [
    "LoftedSegment",
    "arc",
    "closed_ends",
    "hoop_sizes",
    "loft_mesh",
    "refuse_sharp_bend",
    "sizes_along",
]

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


def closed_ends(segment: LoftedSegment) -> tuple[bool, bool]:
    """Tell whether the first and the last hoop have no size in any draw."""
    first, last = (
        not np.any(segment.half_width_mm[:, end])
        and not np.any(segment.dorsal_mm[:, end])
        and not np.any(segment.ventral_mm[:, end])
        for end in (0, -1)
    )
    return first, last


def sizes_along(segment: LoftedSegment, curve: Curve) -> tuple[Draws, Draws, Draws]:
    """Return half-widths, dorsal and ventral heights at the places of a curve, (n, m) mm each."""
    values = tuple(
        hoops @ curve.hoops.T
        for hoops in (segment.half_width_mm, segment.dorsal_mm, segment.ventral_mm)
    )
    # The curve through hoops may dip a little below nothing beside a cap; there is no such body.
    width, dorsal, ventral = (np.maximum(value, 0.0) for value in values)
    return width, dorsal, ventral


def hoop_sizes(segment: LoftedSegment, station: float) -> tuple[float, float, float]:
    """Return half-width, dorsal and ventral height of the first draw at a place of the axis."""
    curve = curve_through(segment.station, closed=closed_ends(segment), places=_FINE)
    width, dorsal, ventral = (
        float(np.interp(station, curve.at, values[0])) for values in sizes_along(segment, curve)
    )
    return width, dorsal, ventral


def arc(at: Draws, bend: float) -> tuple[Draws, Draws, Draws, Draws]:
    """Return the axis and its dorsal normal, per unit of length along the axis."""
    angle = bend * at
    if abs(bend) < 1e-9:
        return at, np.zeros_like(at), np.zeros_like(at), np.ones_like(at)
    return np.sin(angle) / bend, (1 - np.cos(angle)) / bend, -np.sin(angle), np.cos(angle)


def refuse_sharp_bend(segment: LoftedSegment, dorsal: Draws, ventral: Draws, draws: slice) -> None:
    """Raise OutsideRange where a bent segment's inner side is thicker than the bend is wide."""
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
    curve = curve_through(segment.station, closed=closed_ends(segment), places=places)
    width, dorsal, ventral = sizes_along(segment, curve)
    refuse_sharp_bend(segment, dorsal, ventral, slice(None))
    across, up, down = _unit_rings(
        tuple(map(float, np.interp(curve.at, segment.station, segment.dorsal_exponent))),
        tuple(map(float, np.interp(curve.at, segment.station, segment.ventral_exponent))),
        around,
    )
    y = width[:, :, None] * across
    z = np.concatenate((dorsal[:, :, None] * up, -ventral[:, :, None] * down), axis=2)
    axis_x, axis_z, normal_x, normal_z = arc(curve.at, segment.bend_rad)
    length = segment.length_mm[:, None, None]
    x = length * axis_x[:, None] + z * normal_x[:, None]
    height = length * axis_z[:, None] + z * normal_z[:, None]
    n_draws, n_rings = width.shape
    rings = np.stack((x, y, height), axis=-1)
    # Closed ends are one point; open ends get a point amid their flat cap.
    ends = np.zeros((n_draws, 2, 3))
    for place, at in ((0, 0), (1, -1)):
        ends[:, place] = rings[:, at].mean(axis=1)
    closed = closed_ends(segment)
    kept = rings[:, int(closed[0]) : n_rings - int(closed[1])]
    vertices = np.concatenate((kept.reshape(n_draws, -1, 3), ends), axis=1)
    return vertices, _faces(kept.shape[1], around)


# Bodies that differ in size alone share their rings and how corners are joined.
@lru_cache(maxsize=128)
def _unit_rings(
    dorsal_exponents: tuple[float, ...], ventral_exponents: tuple[float, ...], around: int
) -> tuple[Draws, Draws, Draws]:
    """Return the rings' y for a half-width of 1, and z above and below for heights of 1."""
    angle = 2 * np.pi * np.arange(around) / around
    upper = angle < np.pi
    y_up, z_up = half_outline(np.array(dorsal_exponents), angle[upper])
    y_down, z_down = half_outline(np.array(ventral_exponents), angle[~upper])
    return np.concatenate((y_up, y_down), axis=1), z_up, z_down


@lru_cache(maxsize=128)
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
    faces = np.concatenate((sides, start, end)).astype(np.int32)
    faces.flags.writeable = False
    return faces
