"""A drawing for the bench: lines and words in true millimetres, told apart by layer.

One drawing is written as SVG, as DXF and, cut into sheets, as PDF, so that the three never
differ. x runs to the right and y upwards, both in mm as they come out of the printer.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["LAYERS", "Drawing", "Layer", "Line", "Point", "Words", "closed_line", "open_line"]

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

# Breadth of a letter over its height, for keeping words on the sheet: a generous mean of the
# typeface's.
_LETTER = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """How one kind of line looks: ink, width in mm, dashes in mm, and filling ('' for none)."""

    ink: str
    width_mm: float
    dashes_mm: tuple[float, ...] = ()
    fill: str = ""
    meaning: str


# In the order in which they are laid down.
LAYERS: dict[str, Layer] = {
    "plumage": Layer(ink="#9aa1a2", width_mm=0.25, fill="#efebe0", meaning="outline in feathers"),
    "body": Layer(ink="#5d6466", width_mm=0.35, fill="#dccfb8", meaning="outline without feathers"),
    "bone": Layer(ink="#262b2c", width_mm=0.2, fill="#ffffff", meaning="bone inside"),
    "ground": Layer(ink="#262b2c", width_mm=0.5, meaning="ground"),
    "axis": Layer(
        ink="#0072B2",
        width_mm=0.3,
        dashes_mm=(3.0, 0.8, 0.6, 0.8),
        meaning="axis from joint to joint",
    ),
    "bar": Layer(ink="#0072B2", width_mm=0.9, meaning="bar of the armature"),
    "station": Layer(ink="#a33b00", width_mm=0.2, dashes_mm=(1.6, 0.8), meaning="hoop"),
    "cut": Layer(ink="#262b2c", width_mm=0.3, meaning="cut along this line"),
    "fold": Layer(ink="#5d6466", width_mm=0.15, dashes_mm=(1.0, 0.7), meaning="guide, not cut"),
    "dimension": Layer(ink="#262b2c", width_mm=0.13, meaning="dimension"),
    "joint": Layer(
        ink="#0072B2", width_mm=0.1, dashes_mm=(2.0, 1.5), meaning="where sheets are joined"
    ),
    "mark": Layer(ink="#0072B2", width_mm=0.15, meaning="mark to lay sheets on each other"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A run of straight pieces through points in mm; a closed one may have holes."""

    points: tuple[Point, ...]
    layer: str
    closed: bool = False
    holes: tuple[tuple[Point, ...], ...] = ()

    def moved(self, right_mm: float, up_mm: float) -> "Line":
        """Return the line moved."""
        points, *holes = (
            tuple((x + right_mm, y + up_mm) for x, y in loop) for loop in (self.points, *self.holes)
        )
        return replace(self, points=points, holes=tuple(holes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Words beside a point: size of the letters in mm, turned anticlockwise by degrees."""

    text: str
    at: Point
    size_mm: float
    anchor: Anchor = "start"
    turn_deg: float = 0.0
    ink: str = "#262b2c"
    strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Lines and words, in the order in which they are laid down within their layers."""

    title: str
    lines: tuple[Line, ...] = ()
    words: tuple[Words, ...] = ()

    def extent(self) -> tuple[float, float, float, float]:
        """Return left, right, bottom and top in mm, words included."""
        points = [point for line in self.lines for point in line.points]
        for words in self.words:
            points += _corners(words)
        xs, ys = zip(*points, strict=True)
        return min(xs), max(xs), min(ys), max(ys)

    def moved(self, right_mm: float, up_mm: float) -> "Drawing":
        """Return the drawing moved."""
        return replace(
            self,
            lines=tuple(line.moved(right_mm, up_mm) for line in self.lines),
            words=tuple(
                replace(words, at=(words.at[0] + right_mm, words.at[1] + up_mm))
                for words in self.words
            ),
        )

    def with_more(self, lines: Iterable[Line] = (), words: Iterable[Words] = ()) -> "Drawing":
        """Return the drawing with lines and words added."""
        return replace(self, lines=(*self.lines, *lines), words=(*self.words, *words))


def closed_line(
    points: Iterable[Point] | NDArray[np.float64],
    layer: str,
    *,
    holes: Iterable[Iterable[Point] | NDArray[np.float64]] = (),
) -> Line:
    """Return a closed line through points in mm, with the holes in what it encloses."""
    return Line(
        points=_points(points),
        layer=layer,
        closed=True,
        holes=tuple(_points(hole) for hole in holes),
    )


def open_line(points: Iterable[Point] | NDArray[np.float64], layer: str) -> Line:
    """Return an open line through points in mm."""
    return Line(points=_points(points), layer=layer)


def _points(points: Iterable[Point] | NDArray[np.float64]) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _corners(words: Words) -> list[Point]:
    length = _LETTER * words.size_mm * len(words.text)
    start = {"start": 0.0, "middle": -length / 2, "end": -length}[words.anchor]
    turn = np.radians(words.turn_deg)
    along = np.array([np.cos(turn), np.sin(turn)])
    up = np.array([-along[1], along[0]])
    return [
        tuple(np.asarray(words.at) + x * along + y * up)
        for x in (start, start + length)
        for y in (-0.3 * words.size_mm, 0.8 * words.size_mm)
    ]
