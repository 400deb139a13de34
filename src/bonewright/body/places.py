"""Where the segments are: a chain of joints, each turning its segment in its parent's plane.

The ground lies flat, x points forward, y to the left, z up. A joint turns its segment in
the plane of its parent, dorsally where positive, and then splays it outwards about its own
dorsal direction. Of paired segments the left one is placed; the right one is its mirror.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, sin

import numpy as np

from bonewright.body.loft import LoftedSegment
from bonewright.body.plan import BodyPlan
from bonewright.quantity import Draws

__all__ = [
    "Place",
    "Row",
    "along_row",
    "place_segments",
    "point_on",
    "rows_of_places",
    "to_world",
    "unit_point",
]

Row = tuple["Draws | float", "Draws | float", "Draws | float"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Where a segment is: ``origin_mm`` (n, 3) of its axis, ``turn`` (n, 3, 3) or (1, 3, 3)."""

    origin_mm: Draws
    turn: Draws


def unit_point(bend_rad: float, along: float, up: float = 0.0, out: float = 0.0) -> Draws:
    """Return a point of a segment of length 1 in its own axes, (3,).

    ``along`` is a fraction of the axis; ``up`` and ``out`` are fractions of the segment's
    length, towards its dorsal side there and to the left.
    """
    angle = bend_rad * along
    if abs(bend_rad) < 1e-9:
        axis_x, axis_z = along, 0.0
    else:
        axis_x, axis_z = sin(angle) / bend_rad, (1 - cos(angle)) / bend_rad
    return np.array([axis_x - up * sin(angle), out, axis_z + up * cos(angle)])


def point_on(loft: LoftedSegment, along: float, up: float = 0.0, out: float = 0.0) -> Draws:
    """Return a point of a segment in its own axes, (n, 3) mm; see :func:`unit_point`."""
    return np.asarray(loft.length_mm[:, None] * unit_point(loft.bend_rad, along, up, out))


def place_segments(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], swing_rad: Draws
) -> dict[str, Place]:
    """Place every segment, the root's axis beginning at the origin.

    ``swing_rad`` (n,) turns each joint by as much as its segment's ``balance`` says.
    """
    by_axis = [rows_of_places(plan, lofts, swing_rad, axis=axis) for axis in range(3)]
    places = {}
    for name in plan.segments:
        origins = [rows[name][0] for rows in by_axis]
        entries = [entry for rows in by_axis for entry in rows[name][1]]
        turn = np.empty((max(map(np.size, entries)), 3, 3))
        for place, entry in enumerate(entries):
            turn[:, place // 3, place % 3] = entry
        origin = np.empty((max(map(np.size, origins)), 3))
        for place, height in enumerate(origins):
            origin[:, place] = height
        places[name] = Place(origin_mm=origin, turn=turn)
    return places


def rows_of_places(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], swing_rad: Draws, *, axis: int
) -> dict[str, tuple[Draws | float, Row]]:
    """Return one row of every place: the origin along an axis of the whole body, and the turn's.

    ``axis`` is 0 (forward), 1 (to the left) or 2 (up). What does not depend on the swing is a
    number, the rest (n,). A point p of a segment in its own axes lies at origin + row . p.
    """
    found: dict[str, tuple[Draws | float, Row]] = {}
    for name, part in plan.segments.items():
        segment = part.segment
        if segment.parent is None:
            origin: Draws | float = 0.0
            row: Row = (float(axis == 0), float(axis == 1), float(axis == 2))
        else:
            loft = lofts[segment.parent]
            parent_origin, parent_row = found[segment.parent]
            spot = unit_point(
                loft.bend_rad, segment.attach_along, segment.attach_up, segment.attach_out
            )
            origin = parent_origin + along_row(parent_row, spot) * loft.length_mm
            row = _pitched(parent_row, loft.bend_rad * segment.attach_along)
        if segment.balance:
            row = _pitched(row, segment.angle_rad + segment.balance * swing_rad)
        else:
            row = _pitched(row, segment.angle_rad)
        found[name] = (origin, _splayed(row, segment.splay_rad))
    return found


def along_row(row: Row, point: Draws) -> Draws | float:
    """Multiply a row of turns with a point (3,)."""
    return row[0] * float(point[0]) + row[1] * float(point[1]) + row[2] * float(point[2])


def _pitched(row: Row, angle: Draws | float) -> Row:
    """Turn further in the plane of x and z, dorsally where positive."""
    if not np.any(angle):
        return row
    cosine, sine = np.cos(angle), np.sin(angle)
    return row[0] * cosine + row[2] * sine, row[1], row[2] * cosine - row[0] * sine


def _splayed(row: Row, angle: float) -> Row:
    if not angle:
        return row
    cosine, sine = cos(angle), sin(angle)
    return row[0] * cosine + row[1] * sine, row[1] * cosine - row[0] * sine, row[2]


def to_world(place: Place, points_mm: Draws) -> Draws:
    """Bring points (n, 3) of a segment into the axes of the whole body."""
    if len(place.turn) == 1:
        return np.asarray(place.origin_mm + points_mm @ place.turn[0].T)
    return np.asarray(place.origin_mm + np.einsum("nij,nj->ni", place.turn, points_mm))
