"""The armature drawn inside the figure's outline, its bars named."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from bonewright.workshop.armature import Armature, BarChosen
from bonewright.workshop.drawing import Drawing, Line, Words, closed_line, open_line
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.hoop_cards import Bar
from bonewright.workshop.outlines import VIEWS, lines_of_shape, shadow

__all__ = ["armature_bars", "armature_drawing", "bar_letters"]

_NAMED_ABOVE: Final = 0.04


def armature_bars(armature: Armature, *, kinds: Sequence[str] = ()) -> tuple[Bar, ...]:
    """Return the bars, or those of some kinds, as hoops and prints need them."""
    return tuple(
        Bar(points_mm=bar.course.points_mm(), diameter_mm=bar.stock.diameter_mm)
        for bar in armature.bars
        if not kinds or bar.course.kind in kinds
    )


def bar_letters(bars: Sequence[BarChosen]) -> dict[str, str]:
    """Return a letter for each bar by its name; left and right ones share it, as 'A left'."""
    letters: dict[str, str] = {}
    shared: dict[str, str] = {}
    for bar in bars:
        side, name = bar.course.side, bar.course.name
        bare = name.removeprefix(f"{side} ")
        if bare not in shared:
            number = len(shared)
            shared[bare] = chr(65 + number) if number < 26 else f"A{chr(65 + number - 26)}"
        letters[name] = shared[bare] + ("" if side == "middle" else f" {side}")
    return letters


def armature_drawing(figure: FigureToBuild, armature: Armature) -> Drawing:
    """Draw the bars from the side and the front over the figure's outline."""
    size = 0.016 * float(figure.size_mm.max())
    letters = bar_letters(armature.bars)
    drawing = Drawing(title="Armature")
    start = 0.0
    for name in ("side", "front"):
        view = VIEWS[name]
        shape = shadow(figure.whole, view)
        left, bottom, right, _ = shape.bounds
        move = start - left
        lines: list[Line] = list(lines_of_shape(shape, "body"))
        words: list[Words] = []
        low = min(0.0, bottom)
        for bar in armature.bars:
            if name == "side" and bar.course.side == "left":
                continue
            points = view.seen(bar.course.points_mm())
            low = min(low, float(points[:, 1].min()))
            lines.append(open_line(points, "bar"))
            lines += [_dot(point, 0.35 * size) for point in points]
            if np.ptp(points, axis=0).max() < _NAMED_ABOVE * float(figure.size_mm.max()):
                continue
            longest = int(np.argmax(np.hypot(*np.diff(points, axis=0).T)))
            middle = (points[longest] + points[longest + 1]) / 2
            text = letters[bar.course.name]
            words.append(
                Words(
                    text=text.split()[0] if name == "side" else text,
                    at=(float(middle[0]) + 0.7 * size + move, float(middle[1])),
                    size_mm=1.5 * size,
                    strong=True,
                )
            )
        lines.append(open_line(((left - size, 0.0), (right + size, 0.0)), "ground"))
        drawing = drawing.with_more((line.moved(move, 0.0) for line in lines), words)
        start += right - left + 6 * size
    return drawing


def _dot(point: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]", radius: float) -> Line:
    turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    return closed_line(point + radius * np.stack((np.cos(turn), np.sin(turn)), axis=1), "bar")
