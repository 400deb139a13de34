"""Square pegs by which printed pieces are joined, and the sockets that take them.

Pegs are separate: both faces of a joint then lie flat on the bed, and a peg can as well be
sawn from square stock. A square one cannot turn in its socket.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely import Point, maximum_inscribed_circle

from bonewright.workshop.print_cutting import CutFace, Piece

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = [
    "CLEARANCE_MM",
    "SIDES_MM",
    "Peg",
    "peg_solid",
    "pegs_of_face",
    "takes_peg",
    "with_sockets",
]

# Sides of square stock sold as strip wood and as metal rod (common practice).
SIDES_MM = (16.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.0)
# A socket is wider than its peg by this on every side, and deeper by as much at its end, for
# filament printers and a thin film of glue (common practice).
CLEARANCE_MM = 0.2
# What is left standing around a socket, and how deep it goes, by the side of the peg.
_STANDING, _LEAST_STANDING_MM, _DEPTH = 0.35, 1.0, 1.25
_MOST_PEGS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """A peg: its side, the axis it runs along, its middle (3,) and its length, mm."""

    side_mm: float
    axis: int
    at_mm: tuple[float, float, float]

    @property
    def depth_mm(self) -> float:
        """How deep it sits in either piece."""
        return _DEPTH * self.side_mm

    @property
    def length_mm(self) -> float:
        """Length over all."""
        return 2 * self.depth_mm


def pegs_of_face(
    face: CutFace,
    pieces: Sequence[Piece],
    *,
    taken: Sequence[Peg] = (),
    at_most_mm: float = SIDES_MM[0],
) -> tuple[Peg, ...]:
    """Choose the largest pegs that a face and the pieces on both sides of it can take.

    Two where the face is long, one otherwise; none where even the smallest would break
    through, or into a peg that is ``taken``, so that the face is glued alone.
    """
    pegs: list[Peg] = []
    free = face.outline
    beside = [piece for piece in pieces if _touches(piece, face)]
    while len(pegs) < _MOST_PEGS and not free.is_empty:
        circle = maximum_inscribed_circle(free)
        (x, y), (edge_x, edge_y) = circle.coords[0], circle.coords[-1]
        radius = float(np.hypot(edge_x - x, edge_y - y))
        peg = _largest(
            face, beside, taken, (x, y), radius, at_most=pegs[0].side_mm if pegs else at_most_mm
        )
        if peg is None or (pegs and peg.side_mm < 0.5 * pegs[0].side_mm):
            break
        pegs.append(peg)
        free = free.difference(Point(x, y).buffer(max(radius, 4 * peg.side_mm)))
        if free.geom_type != "Polygon":
            free = max(getattr(free, "geoms", [free]), key=lambda part: part.area)
    return tuple(pegs)


def _touches(piece: Piece, face: CutFace) -> bool:
    if not piece.at_face(face.axis, face.at_mm):
        return False
    bounds = np.asarray(piece.solid.bounding_box(), dtype=np.float64)
    spot = face.outline.representative_point()
    others = ((face.axis + 1) % 3, (face.axis + 2) % 3)
    return all(
        bounds[axis] <= at <= bounds[3 + axis]
        for axis, at in zip(others, (spot.x, spot.y), strict=True)
    )


def _largest(
    face: CutFace,
    beside: Sequence[Piece],
    taken: Sequence[Peg],
    at: tuple[float, float],
    radius: float,
    *,
    at_most: float,
) -> Peg | None:
    place = [0.0, 0.0, 0.0]
    place[face.axis] = face.at_mm
    place[(face.axis + 1) % 3], place[(face.axis + 2) % 3] = at
    for side in SIDES_MM:
        # Half of the diagonal, with what has to stay standing around it.
        around = (side / 2 + CLEARANCE_MM) * np.sqrt(2) + max(_STANDING * side, _LEAST_STANDING_MM)
        if side > at_most or around > radius:
            continue
        peg = Peg(side_mm=side, axis=face.axis, at_mm=(place[0], place[1], place[2]))
        if not any(_meet(peg, other) for other in taken) and _sits_within(peg, beside):
            return peg
    return None


def _meet(peg: Peg, other: Peg) -> bool:
    """Say whether two sockets come nearer to each other than what has to stand between them."""
    reach = np.full(3, peg.side_mm / 2)
    reach[peg.axis] = peg.depth_mm
    other_reach = np.full(3, other.side_mm / 2)
    other_reach[other.axis] = other.depth_mm
    apart = np.abs(np.asarray(peg.at_mm) - other.at_mm) - reach - other_reach
    return bool(np.all(apart < _LEAST_STANDING_MM + 2 * CLEARANCE_MM))


def _sits_within(peg: Peg, beside: Sequence[Piece]) -> bool:
    """Say whether a socket with its walls lies within the pieces on both sides."""
    walls = max(_STANDING * peg.side_mm, _LEAST_STANDING_MM)
    outer = _block(peg, grown=walls)
    left = outer.volume()
    for piece in beside:
        left -= (outer ^ piece.solid).volume()
    return bool(left < 1e-3 * outer.volume())


def _block(peg: Peg, *, grown: float) -> "Manifold":
    from manifold3d import Manifold

    size = np.full(3, peg.side_mm + 2 * grown)
    size[peg.axis] = peg.length_mm + 2 * grown
    return Manifold.cube(size.tolist(), True).translate(peg.at_mm)


def with_sockets(solid: "Manifold", pegs: Sequence[Peg]) -> "Manifold":
    """Cut the sockets of the pegs that a piece takes."""
    from manifold3d import Manifold, OpType

    if not pegs:
        return solid
    sockets = [_block(peg, grown=CLEARANCE_MM) for peg in pegs]
    return Manifold.batch_boolean([solid, *sockets], OpType.Subtract)


def takes_peg(piece: Piece, peg: Peg) -> bool:
    """Say whether a peg's socket lies in a piece, on one side of its joint."""
    if not piece.at_face(peg.axis, peg.at_mm[peg.axis]):
        return False
    return not (_block(peg, grown=0.0) ^ piece.solid).is_empty()


def peg_solid(side_mm: float) -> "Manifold":
    """Return one peg lying on the bed."""
    from manifold3d import Manifold

    length = 2 * _DEPTH * side_mm
    return Manifold.cube([length, side_mm, side_mm], False)
