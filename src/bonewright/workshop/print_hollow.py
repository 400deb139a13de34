"""A hollow inside a printed figure: walls of a given thickness, closed at every cut.

Each segment's hoops are drawn in by the wall, measured square to its surface, and the
shrunken solids are joined. A thin floor is left at every cut, so that each piece has a flat
face to stand and be glued on, with its sockets in solid material and one hole through it.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from bonewright.body.loft import LoftedSegment, curve_through, loft_mesh
from bonewright.body.solids import Mesh, solid_of
from bonewright.quantity import Draws
from bonewright.workshop.figure_to_build import SegmentToBuild

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["hollow_within"]

_PLACES = 12
_AROUND = 48
# A hollow narrower than this is not worth its walls.
_LEAST_RADIUS_MM = 3.0
_LEAST_HOLLOW_MM3 = 2000.0
# Flat ends stand a little farther in, since a rounded tip falls away behind its tangent.
_ENDS = 1.15


def hollow_within(segments: Sequence[SegmentToBuild], wall_mm: float) -> "Manifold":
    """Return the hollow that leaves walls of about ``wall_mm`` everywhere; it may be empty."""
    from manifold3d import Manifold, OpType

    cores = []
    for segment in segments:
        loft = _drawn_in(segment.loft, wall_mm)
        if loft is None:
            continue
        vertices, faces = loft_mesh(loft, around=_AROUND, places=2)
        placed = vertices[0] @ segment.turn.T + segment.origin_mm
        mesh = Mesh(vertices_mm=placed, faces=faces)
        if np.linalg.det(segment.turn) < 0:
            mesh = replace(mesh, faces=faces[:, ::-1])
        cores.append(solid_of(mesh))
    if not cores:
        return Manifold()
    hollow = Manifold.batch_boolean(cores, OpType.Add)
    rooms = [room for room in hollow.decompose() if room.volume() > _LEAST_HOLLOW_MM3]
    return Manifold.batch_boolean(rooms, OpType.Add) if rooms else Manifold()


def _drawn_in(loft: LoftedSegment, wall_mm: float) -> LoftedSegment | None:
    """Draw a loft's surface in by the wall; None where no hollow is left."""
    ends = tuple(
        not (loft.half_width_mm[0, at] or loft.dorsal_mm[0, at] or loft.ventral_mm[0, at])
        for at in (0, -1)
    )
    curve = curve_through(loft.station, closed=(ends[0], ends[1]), places=_PLACES)
    at, first = np.unique(curve.at, return_index=True)
    along = at * loft.length_mm[0]
    width, dorsal, ventral = (
        _inside(values[0] @ curve.hoops[first].T, along, wall_mm)
        for values in (loft.half_width_mm, loft.dorsal_mm, loft.ventral_mm)
    )
    least = np.min((width, dorsal, ventral), axis=0)
    within = (along > along[0] + _ENDS * wall_mm) & (along < along[-1] - _ENDS * wall_mm)
    run = _longest_run((least > _LEAST_RADIUS_MM) & within)
    if run.stop - run.start < 3:
        return None
    return replace(
        loft,
        station=at[run],
        dorsal_exponent=np.interp(at[run], loft.station, loft.dorsal_exponent),
        ventral_exponent=np.interp(at[run], loft.station, loft.ventral_exponent),
        half_width_mm=width[None, run],
        dorsal_mm=dorsal[None, run],
        ventral_mm=ventral[None, run],
    )


def _inside(radius: Draws, along: Draws, wall_mm: float) -> Draws:
    slope = np.gradient(radius, along)
    return np.asarray(radius - wall_mm * np.sqrt(1 + slope**2))


def _longest_run(wanted: "np.ndarray[tuple[int], np.dtype[np.bool_]]") -> slice:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], wanted.astype(int), [0]))))
    runs = edges.reshape(-1, 2)
    if not len(runs):
        return slice(0, 0)
    start, stop = max(runs.tolist(), key=lambda run: run[1] - run[0])
    return slice(start, stop)
