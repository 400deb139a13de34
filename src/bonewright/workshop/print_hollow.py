"""A hollow inside a printed figure: walls of a given thickness, closed at every cut.

Each segment's hoops are drawn in by the wall, measured square to its surface, and the
shrunken solids are joined. A thin floor is left at every cut, so that each piece has a flat
face to stand and be glued on, with its sockets in solid material and one hole through it.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree
from shapely import box, maximum_inscribed_circle

from bonewright.body.hoop_curves import curve_through
from bonewright.body.loft import LoftedSegment, closed_ends, loft_mesh
from bonewright.body.solids import Mesh, mesh_of, solid_of
from bonewright.quantity import Draws
from bonewright.workshop.figure_to_build import SegmentToBuild
from bonewright.workshop.print_cutting import CutFace
from bonewright.workshop.print_pegs import Peg

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["floored", "hollow_within", "least_wall_mm"]

_PLACES = 12
_AROUND = 48
# A hollow narrower than this is not worth its walls.
_LEAST_RADIUS_MM = 3.0
_LEAST_HOLLOW_MM3 = 2000.0
# Flat ends stand a little farther in, since a rounded tip falls away behind its tangent.
_ENDS = 1.15
_HOLE_RADIUS_MM = 2.5
_SKIN_STEP_MM = 2.0
# A wall is kept where it is this share of what was asked for.
_KEPT = 0.98
_ROUNDS = 4


def hollow_within(
    segments: Sequence[SegmentToBuild], wall_mm: float, *, solid: "Manifold"
) -> "Manifold":
    """Return the hollow that leaves walls of at least ``wall_mm`` in a solid; it may be empty.

    Where hoops differ much from one to the next the walls come out thinner than they were
    drawn in; the thinnest is measured, and the hollow drawn in by so much more, until it keeps
    to its walls or the rounds are used up.
    """
    drawn_in = wall_mm
    for _ in range(_ROUNDS):
        hollow = _hollow(segments, drawn_in)
        least = least_wall_mm(solid, hollow)
        if least is None or not 0 < least < _KEPT * wall_mm:
            break
        drawn_in *= wall_mm / least
    return hollow


def _hollow(segments: Sequence[SegmentToBuild], wall_mm: float) -> "Manifold":
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
    curve = curve_through(loft.station, closed=closed_ends(loft), places=_PLACES)
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


def floored(
    hollow: "Manifold",
    joints: Sequence[tuple[CutFace, tuple[Peg, ...]]],
    *,
    solid: "Manifold",
    wall_mm: float,
) -> "Manifold":
    """Leave a floor at every cut, deep enough for its sockets, with one hole through it.

    Through the holes resin drains and a rod can be led; a hole that would come nearer to the
    skin than the wall, or lead nowhere, is left out.
    """
    from manifold3d import Manifold, OpType

    if hollow.is_empty() or not joints:
        return hollow
    depths = [max((peg.depth_mm for peg in pegs), default=0.0) + wall_mm for _, pegs in joints]
    floors = [_floor(face, depth) for (face, _), depth in zip(joints, depths, strict=True)]
    rooms = hollow - Manifold.batch_boolean(floors, OpType.Add)
    holes = [
        hole
        for (face, pegs), depth in zip(joints, depths, strict=True)
        if (hole := _hole(face, pegs, depth, rooms=rooms, solid=solid, wall_mm=wall_mm)) is not None
    ]
    return Manifold.batch_boolean([rooms, *holes], OpType.Add)


def _floor(face: CutFace, depth: float) -> "Manifold":
    from manifold3d import Manifold

    left, bottom, right, top = face.outline.bounds
    slab = Manifold.cube([right - left + 2, top - bottom + 2, 2 * depth], True)
    return _out_of_face(
        slab.translate(((left + right) / 2, (bottom + top) / 2, face.at_mm)), face.axis
    )


def _hole(
    face: CutFace,
    pegs: Sequence[Peg],
    depth: float,
    *,
    rooms: "Manifold",
    solid: "Manifold",
    wall_mm: float,
) -> "Manifold | None":
    free = face.outline.buffer(-wall_mm)
    for peg in pegs:
        x, y = (peg.at_mm[(face.axis + step) % 3] for step in (1, 2))
        half = peg.side_mm / 2 + wall_mm
        free = free.difference(box(x - half, y - half, x + half, y + half))
    if free.is_empty:
        return None
    circle = maximum_inscribed_circle(free)
    (x, y), (edge_x, edge_y) = circle.coords[0], circle.coords[-1]
    radius = min(float(np.hypot(edge_x - x, edge_y - y)), _HOLE_RADIUS_MM)
    if radius < _HOLE_RADIUS_MM / 2:
        return None

    def bore(of_radius: float, start: float, end: float) -> "Manifold":
        section = CrossSection.circle(of_radius, 24)
        lifted = Manifold.extrude(section, end - start).translate((x, y, face.at_mm + start))
        return _out_of_face(lifted, face.axis)

    from manifold3d import CrossSection, Manifold

    reach = depth + 1.0
    if not (bore(radius + wall_mm, -reach - wall_mm, reach + wall_mm) - solid).is_empty():
        return None
    if (bore(radius, 0, reach) ^ rooms).is_empty() or (bore(radius, -reach, 0) ^ rooms).is_empty():
        return None
    return bore(radius, -reach, reach)


def _out_of_face(solid: "Manifold", axis: int) -> "Manifold":
    """Turn a solid drawn with z across a cut back into the figure's axes."""
    order = ((1, 2, 0), (2, 0, 1), (0, 1, 2))[axis]
    matrix = np.zeros((3, 4))
    for row, source in enumerate(order):
        matrix[source, row] = 1.0
    return solid.transform(matrix.tolist())


def least_wall_mm(solid: "Manifold", hollow: "Manifold") -> float | None:
    """Measure the thinnest wall: the least distance from the hollow's corners to the skin."""
    if hollow.is_empty():
        return None
    skin = mesh_of(solid.refine_to_length(_SKIN_STEP_MM))
    distances, _ = cKDTree(skin.vertices_mm).query(mesh_of(hollow).vertices_mm)
    return float(np.min(distances))
