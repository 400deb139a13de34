"""A solid cut into pieces that fit a printer's bed."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely import MultiPolygon, Polygon, box, unary_union

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["Bed", "CutFace", "Piece", "cut_faces", "cut_places", "cut_to_bed", "section_at"]

# Left free at each edge of the bed, for the edge on which a print holds (common practice).
EDGE_MM = 4.0
_TRIES = 7
# Less than this is dust of rounding, no piece.
_DUST_MM3 = 1e-3
_LEAST_BED_MM, _MOST_BED_MM = 50.0, 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """What a printer can print: width, depth and height in mm."""

    width_mm: float
    depth_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if not all(_LEAST_BED_MM <= size <= _MOST_BED_MM for size in self.sizes):
            raise OutsideRange(
                f"A printer's bed of {self.words} is no bed to print on.",
                remedy=f"Give width, depth and height in mm, each from {_LEAST_BED_MM:g} to"
                f" {_MOST_BED_MM:g}.",
            )

    @property
    def sizes(self) -> tuple[float, float, float]:
        """Width, depth and height, mm."""
        return self.width_mm, self.depth_mm, self.height_mm

    @property
    def usable(self) -> tuple[float, float, float]:
        """What is left of it within its edges, mm."""
        return (
            self.width_mm - 2 * EDGE_MM,
            self.depth_mm - 2 * EDGE_MM,
            self.height_mm - EDGE_MM,
        )

    @property
    def words(self) -> str:
        """The sizes as written."""
        return " × ".join(f"{size:g}" for size in self.sizes) + " mm"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One piece of a cut solid, where it stands in the figure.

    ``low_mm`` and ``high_mm`` (3,) are the corners of the box it was cut within; infinite
    where no cut bounds it.
    """

    solid: "Manifold"
    low_mm: Draws
    high_mm: Draws

    def at_face(self, axis: int, place: float) -> bool:
        """Say whether a cut across an axis bounds this piece."""
        return bool(place in (self.low_mm[axis], self.high_mm[axis]))


@dataclass(frozen=True, slots=True, kw_only=True)
class CutFace:
    """A face two pieces share: across which axis, where, and its outline in the other two.

    The outline's coordinates are those of the two following axes in turn (y, z for x; z, x
    for y; x, y for z).
    """

    axis: int
    at_mm: float
    outline: Polygon


def cut_places(solid: "Manifold", bed: Bed) -> tuple[tuple[float, ...], ...]:
    """Return where a solid is cut across x, y and z, in mm.

    The fewest boxes are taken, whichever way they lie on the bed. Each cut is then moved, as
    far as the bed allows, to where it meets fewest separate parts and the thinnest of them
    is thickest, so that there is something to join by.
    """
    low, high = _bounds(solid)
    size = high - low
    counts, room = min(
        (
            ([math.ceil(s / r - 1e-9) for s, r in zip(size, order, strict=True)], order)
            for order in dict.fromkeys(itertools.permutations(bed.usable))
        ),
        key=lambda choice: math.prod(choice[0]),
    )
    places = []
    for axis in range(3):
        cell = size[axis] / counts[axis]
        slack = min((room[axis] - cell) / 2, 0.2 * cell)
        places.append(
            tuple(
                _best_place(solid, axis, float(low[axis] + step * cell), float(slack))
                for step in range(1, counts[axis])
            )
        )
    return tuple(places)


def _bounds(solid: "Manifold") -> tuple[Draws, Draws]:
    box_of = np.asarray(solid.bounding_box(), dtype=np.float64)
    return box_of[:3], box_of[3:]


def _best_place(solid: "Manifold", axis: int, middle: float, slack: float) -> float:
    def worth(place: float) -> tuple[float, float]:
        parts = section_at(solid, axis, place)
        if not parts:
            return (math.inf, 0.0)
        return (len(parts), -min(part.area for part in parts))

    steps = sorted(np.linspace(-slack, slack, _TRIES), key=abs)
    return min((middle + float(step) for step in steps), key=worth)


def section_at(solid: "Manifold", axis: int, place: float) -> list[Polygon]:
    """Return the separate parts of a solid's section across an axis."""
    # A cyclic turn of the axes brings the one that is cut across to z.
    turned = solid.transform(_cycled(axis))
    loops = [Polygon(loop) for loop in turned.slice(place).to_polygons() if len(loop) > 2]
    shape = Polygon()
    for loop in sorted(loops, key=lambda loop: -loop.area):
        shape = shape.symmetric_difference(loop.buffer(0))
    return _polygons(shape)


def _cycled(axis: int) -> list[list[float]]:
    order = ((1, 2, 0), (2, 0, 1), (0, 1, 2))[axis]
    return [[1.0 if column == source else 0.0 for column in range(3)] + [0.0] for source in order]


def _polygons(shape: object) -> list[Polygon]:
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    return [part for part in parts if isinstance(part, Polygon) and part.area > 1e-3]


def cut_to_bed(solid: "Manifold", places: Sequence[Sequence[float]]) -> tuple[Piece, ...]:
    """Cut a solid at its places; parts that do not hang together become pieces of their own."""
    cells = [(solid, np.full(3, -np.inf), np.full(3, np.inf))]
    for axis in range(3):
        for place in places[axis]:
            cells = [half for cell in cells for half in _halves(*cell, axis, place)]
    return tuple(
        Piece(solid=part, low_mm=low, high_mm=high)
        for cell, low, high in cells
        for part in cell.decompose()
        if part.volume() > _DUST_MM3
    )


def _halves(
    solid: "Manifold", low: Draws, high: Draws, axis: int, place: float
) -> list[tuple["Manifold", Draws, Draws]]:
    if not low[axis] < place < high[axis]:
        return [(solid, low, high)]
    normal = [1.0 if axis == other else 0.0 for other in range(3)]
    above, below = solid.split_by_plane(normal, place)
    floor, roof = low.copy(), high.copy()
    floor[axis], roof[axis] = place, place
    return [
        half for half in ((below, low, roof), (above, floor, high)) if half[0].volume() > _DUST_MM3
    ]


def cut_faces(solid: "Manifold", places: Sequence[Sequence[float]]) -> tuple[CutFace, ...]:
    """Return every face along which two pieces meet."""
    faces = []
    low, high = _bounds(solid)
    for axis in range(3):
        first, second = (axis + 1) % 3, (axis + 2) % 3
        edges = [[low[other] - 1, *places[other], high[other] + 1] for other in (first, second)]
        for place in places[axis]:
            section = unary_union(section_at(solid, axis, place))
            for left, right in itertools.pairwise(edges[0]):
                for bottom, top in itertools.pairwise(edges[1]):
                    within = section.intersection(box(left, bottom, right, top))
                    faces += [
                        CutFace(axis=axis, at_mm=place, outline=part) for part in _polygons(within)
                    ]
    return tuple(faces)
