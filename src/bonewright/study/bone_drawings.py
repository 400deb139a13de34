"""A small drawing of each bone that shows where the callipers go.

Outlines are our own, stylised, drawn by code from a few points: they show which ends and
edges are meant, not what a species looks like. A line with jaws at its ends is a calliper
opening; a broken ring is a strip of paper round the shaft.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from bonewright.study.bone_codes import CODES_OF_ELEMENT, code_meaning
from bonewright.study.bone_outlines import VIEWS, Mark, Point, View

__all__ = ["bone_drawing", "drawing_words"]

_JAW = 3.5
_GAP = 24.0
_TOP = 26.0
_LINE = "#0072B2"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A view with the x at which it begins."""

    view: View
    x: float


def bone_drawing(element: str) -> str:
    """Return the SVG drawing of an element, as text that can stand in a page.

    Parameters
    ----------
    element : str
        One of the elements of the specimens table.
    """
    x = 6.0
    placed = []
    for view in VIEWS[element]:
        placed.append(_Placed(view=view, x=x))
        x += view.width + _GAP
    height = max(view.height for view in VIEWS[element]) + _TOP + 8
    parts = [_view(one) for one in placed]
    width = x - _GAP + 6
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}"'
        f' width="{1.6 * width:g}" height="{1.6 * height:g}" role="img"'
        f' aria-label="{escape(drawing_words(element))}"'
        ' font-family="sans-serif" font-size="9">'
        f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>' + "".join(parts) + "</svg>"
    )


def drawing_words(element: str) -> str:
    """Say in words what the drawing of an element shows."""
    codes = "; ".join(f"{code}, {code_meaning(element, code)}" for code in _drawn(element))
    return f"Where the callipers go on the {element}: {codes}."


def _drawn(element: str) -> list[str]:
    drawn = {mark.code for view in VIEWS[element] for mark in view.marks}
    return [code for code in CODES_OF_ELEMENT[element] if code in drawn]


def _view(placed: _Placed) -> str:
    view = placed.view
    shapes = "".join(
        f'<path d="{_smooth(outline)}" fill="#f3ecd9" stroke="#5d6466" stroke-width="1"/>'
        for outline in view.outlines
    )
    marks = "".join(_mark(mark) for mark in view.marks)
    return (
        f'<g transform="translate({placed.x:g} {_TOP:g})">'
        f'<text x="{view.width / 2:g}" y="-14" text-anchor="middle" fill="#5d6466"'
        f' font-size="8">{escape(view.title)}</text>{shapes}{marks}</g>'
    )


def _mark(mark: Mark) -> str:
    (x1, y1), (x2, y2) = mark.start, mark.end
    label_x, label_y = mark.label or ((x1 + x2) / 2, (y1 + y2) / 2 - 2.5)
    text = (
        f'<text x="{label_x:g}" y="{label_y:g}" text-anchor="middle" fill="{_LINE}"'
        f' font-weight="bold" stroke="#ffffff" stroke-width="2.2" paint-order="stroke">'
        f"{escape(mark.code)}</text>"
    )
    if mark.around:
        return (
            f'<ellipse cx="{(x1 + x2) / 2:g}" cy="{y1:g}" rx="{abs(x2 - x1) / 2 + 2:g}" ry="3.2"'
            f' fill="none" stroke="{_LINE}" stroke-width="1.1" stroke-dasharray="2.4 1.8"/>{text}'
        )
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    across, down = -(y2 - y1) / length * _JAW, (x2 - x1) / length * _JAW
    jaws = "".join(
        f'<line x1="{x - across:g}" y1="{y - down:g}" x2="{x + across:g}" y2="{y + down:g}"/>'
        for x, y in (mark.start, mark.end)
    )
    return (
        f'<g stroke="{_LINE}" stroke-width="1.1"><line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}"'
        f' y2="{y2:g}"/>{jaws}</g>{text}'
    )


def _smooth(points: Sequence[Point]) -> str:
    """Return a closed curve through the points (Catmull-Rom splines as Bezier curves)."""
    n = len(points)
    parts = [f"M{points[0][0]:g},{points[0][1]:g}"]
    for number in range(n):
        before, start, end, after = (points[(number + step) % n] for step in (-1, 0, 1, 2))
        first = (start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6)
        second = (end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6)
        parts.append(
            f"C{first[0]:.4g},{first[1]:.4g} {second[0]:.4g},{second[1]:.4g}"
            f" {end[0]:.4g},{end[1]:.4g}"
        )
    return "".join(parts) + "Z"
