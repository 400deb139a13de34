"""Sheets of paper: how a drawing at true scale is spread over them and joined again."""

import math
from dataclasses import dataclass

from shapely import LineString, Polygon, box
from shapely.prepared import prep

from bonewright.errors import OutsideRange
from bonewright.workshop.drawing import Drawing, Line, Point

__all__ = ["PAPERS", "Paper", "Tile", "Tiling", "joint_lines", "roll", "tiling_of"]

# What an office printer leaves blank at the edges, with room to spare (common practice).
MARGIN_MM = 10.0
# The strip at the foot of each sheet: title, where the sheet belongs, a bar to check the scale.
STRIP_MM = 19.0
OVERLAP_MM = 12.0
_MARK_MM = 3.0
# Longest page that readers of PDF agree on: 14 400 points.
_LONGEST_MM = 5080.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet, or a roll of a width from which a sheet of any length is cut."""

    name: str
    width_mm: float
    height_mm: float
    rolled: bool = False


# Sizes: ISO 216 for A3 and A4; ANSI/ASME Y14.1 size A for letter, 8.5 by 11 inches.
PAPERS = {
    "A4": Paper(name="A4", width_mm=210.0, height_mm=297.0),
    "A3": Paper(name="A3", width_mm=297.0, height_mm=420.0),
    "letter": Paper(name="letter", width_mm=215.9, height_mm=279.4),
}


def roll(width_mm: float) -> Paper:
    """Return a roll of paper of a width, such as 610 or 914 mm."""
    return Paper(name=f"{width_mm:g} mm roll", width_mm=width_mm, height_mm=0.0, rolled=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One sheet: its name (row letter from the top, column number), what it shows, in mm."""

    name: str
    row: int
    column: int
    left_mm: float
    bottom_mm: float
    blank: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """A drawing spread over sheets of one size.

    ``window_mm`` is the width and height of what a sheet shows; neighbours show the same
    along a band of ``overlap_mm``, in whose middle they are joined.
    """

    page_mm: tuple[float, float]
    window_mm: tuple[float, float]
    rows: int
    columns: int
    overlap_mm: float
    tiles: tuple[Tile, ...]

    @property
    def printed(self) -> tuple[Tile, ...]:
        """The sheets that show anything of the drawing."""
        return tuple(tile for tile in self.tiles if not tile.blank)


def tiling_of(drawing: Drawing, paper: Paper, *, overlap_mm: float = OVERLAP_MM) -> Tiling:
    """Spread a drawing over as few sheets as it needs, upright or lying.

    Raises
    ------
    OutsideRange
        If a sheet is too small to carry the bar of 100 mm.
    """
    left, right, bottom, top = drawing.extent()
    wide, high = right - left, top - bottom
    if paper.rolled:
        pages = _pages_of_roll(wide, high, paper)
    else:
        pages = [(paper.width_mm, paper.height_mm), (paper.height_mm, paper.width_mm)]
    page = min(pages, key=lambda page: math.prod(_counts(wide, high, page, overlap_mm)))
    if page[0] - 2 * MARGIN_MM < 150.0:
        raise OutsideRange(
            f"Paper {page[0]:g} mm wide is too narrow for a drawing at true scale.",
            remedy="Take paper at least 170 mm wide.",
        )
    columns, rows = _counts(wide, high, page, overlap_mm)
    window = _window(page)
    step = (window[0] - overlap_mm, window[1] - overlap_mm)
    # The drawing lies amid its sheets.
    start = left - (columns * step[0] + overlap_mm - wide) / 2
    floor = bottom - (rows * step[1] + overlap_mm - high) / 2
    shapes = [_shape(line) for line in drawing.lines]
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x = start + column * step[0]
            y = floor + (rows - 1 - row) * step[1]
            shown = prep(box(x, y, x + window[0], y + window[1]))
            tiles.append(
                Tile(
                    name=f"{_letters(row)}{column + 1}",
                    row=row,
                    column=column,
                    left_mm=x,
                    bottom_mm=y,
                    blank=rows * columns > 1 and not any(shown.intersects(s) for s in shapes),
                )
            )
    return Tiling(
        page_mm=page,
        window_mm=window,
        rows=rows,
        columns=columns,
        overlap_mm=overlap_mm,
        tiles=tuple(tiles),
    )


def _window(page: tuple[float, float]) -> tuple[float, float]:
    return page[0] - 2 * MARGIN_MM, page[1] - 2 * MARGIN_MM - STRIP_MM


def _counts(wide: float, high: float, page: tuple[float, float], overlap: float) -> tuple[int, int]:
    counts = [
        1 if size <= window else math.ceil((size - overlap) / (window - overlap))
        for size, window in zip((wide, high), _window(page), strict=True)
    ]
    return counts[0], counts[1]


def _pages_of_roll(wide: float, high: float, paper: Paper) -> list[tuple[float, float]]:
    """Return sheets cut from a roll: the drawing along the roll, or across it."""
    across = paper.width_mm
    least = MARGIN_MM * 2 + 150.0
    along_x = min(max(wide + 2 * MARGIN_MM, least), _LONGEST_MM)
    along_y = min(high + 2 * MARGIN_MM + STRIP_MM, _LONGEST_MM)
    return [(across, along_y), (along_x, across)]


def _letters(row: int) -> str:
    first, second = divmod(row, 26)
    return (chr(64 + first) if first else "") + chr(65 + second)


def _shape(line: Line) -> LineString | Polygon:
    if line.closed and len(line.points) > 2:
        return LineString((*line.points, line.points[0]))
    return LineString(line.points)


def joint_lines(tiling: Tiling) -> tuple[Line, ...]:
    """Return the lines along which sheets are joined, and marks that two sheets both show."""
    lines: list[Line] = []
    at = {(tile.row, tile.column): tile for tile in tiling.printed}
    width, height = tiling.window_mm
    half = tiling.overlap_mm / 2
    for (row, column), tile in at.items():
        if (row, column + 1) in at:
            x = tile.left_mm + width - half
            y = tile.bottom_mm
            lines += _joint((x, y), (x, y + height))
        if (row + 1, column) in at:
            x = tile.left_mm
            y = tile.bottom_mm + half
            lines += _joint((x, y), (x + width, y))
    return tuple(lines)


def _joint(start: Point, end: Point) -> list[Line]:
    lines = [Line(points=(start, end), layer="joint")]
    for share in (0.2, 0.8):
        x, y = (a + share * (b - a) for a, b in zip(start, end, strict=True))
        lines += [
            Line(points=((x - _MARK_MM, y), (x + _MARK_MM, y)), layer="mark"),
            Line(points=((x, y - _MARK_MM), (x, y + _MARK_MM)), layer="mark"),
            Line(points=_circle((x, y), _MARK_MM / 2), layer="mark", closed=True),
        ]
    return lines


def _circle(centre: Point, radius: float) -> tuple[Point, ...]:
    turns = [2 * math.pi * step / 24 for step in range(24)]
    return tuple(
        (centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)) for turn in turns
    )
