"""Dimensions on a drawing: heights and places counted from a datum, and distances."""

from collections.abc import Sequence
from dataclasses import dataclass

from bonewright.workshop.drawing import Line, Point, Words

__all__ = ["Measured", "distances_below", "heights_beside", "number", "places_below"]

_GAP_MM = 3.0
_TICK_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What is measured at a point of the drawing, and its value in mm."""

    name: str
    at: Point
    value_mm: float


def number(value_mm: float) -> str:
    """Write a length in mm: to 0.1 mm below 500 mm, else to the whole mm."""
    return f"{value_mm:.1f}" if abs(value_mm) < 500 else f"{value_mm:.0f}"


def heights_beside(
    items: Sequence[Measured], *, x_mm: float, size_mm: float
) -> tuple[tuple[Line, ...], tuple[Words, ...]]:
    """Write heights above the ground in a column left of ``x_mm``, a thin line to each point."""
    ordered = sorted(items, key=lambda item: item.value_mm)
    spots = _apart([item.at[1] for item in ordered], 1.25 * size_mm)
    lines, words = [], []
    for item, spot in zip(ordered, spots, strict=True):
        bend = x_mm + 2.2 * size_mm
        lines.append(
            Line(
                points=(
                    (item.at[0] - 0.5, item.at[1]),
                    (bend, item.at[1]),
                    (x_mm + size_mm, spot),
                    (x_mm, spot),
                ),
                layer="dimension",
            )
        )
        words.append(
            Words(
                text=f"{item.name} {number(item.value_mm)}",
                at=(x_mm - 0.4 * size_mm, spot - 0.33 * size_mm),
                size_mm=size_mm,
                anchor="end",
            )
        )
    return tuple(lines), tuple(words)


def places_below(
    items: Sequence[Measured], *, y_mm: float, size_mm: float
) -> tuple[tuple[Line, ...], tuple[Words, ...]]:
    """Write places counted from the datum in a row below ``y_mm``, a thin line to each point."""
    ordered = sorted(items, key=lambda item: item.value_mm)
    spots = _apart([item.at[0] for item in ordered], 1.25 * size_mm)
    lines, words = [], []
    for item, spot in zip(ordered, spots, strict=True):
        bend = y_mm + 3 * size_mm
        lines.append(
            Line(
                points=(
                    (item.at[0], item.at[1] - 0.5),
                    (item.at[0], bend),
                    (spot, y_mm + size_mm),
                    (spot, y_mm),
                ),
                layer="dimension",
            )
        )
        words.append(
            Words(
                text=f"{item.name} {_signed(item.value_mm)}",
                at=(spot + 0.33 * size_mm, y_mm - 0.4 * size_mm),
                size_mm=size_mm,
                anchor="end",
                turn_deg=90.0,
            )
        )
    return tuple(lines), tuple(words)


def _signed(value_mm: float) -> str:
    text = number(abs(value_mm))
    if text == "0.0":
        return "0"
    return f"{'+' if value_mm > 0 else '−'}{text}"


def _apart(values: Sequence[float], least: float) -> list[float]:
    """Move rising values as little as keeps them ``least`` apart, groups about their middle."""
    groups: list[tuple[float, int]] = []
    for value in values:
        middle, count = value, 1
        while groups and middle - count * least / 2 < groups[-1][0] + groups[-1][1] * least / 2:
            earlier, many = groups.pop()
            middle = (middle * count + earlier * many) / (count + many)
            count += many
        groups.append((middle, count))
    return [
        middle + (step - (count - 1) / 2) * least
        for middle, count in groups
        for step in range(count)
    ]


def distances_below(
    items: Sequence[tuple[str, Point, Point]], *, y_mm: float, size_mm: float
) -> tuple[tuple[Line, ...], tuple[Words, ...]]:
    """Draw distances to the right as dimension lines in rows below ``y_mm``, shortest first."""
    lines, words = [], []
    ordered = sorted(items, key=lambda item: abs(item[2][0] - item[1][0]))
    for row, (name, first, second) in enumerate(ordered):
        start, end = sorted((first, second))
        y = y_mm - row * 2.0 * size_mm
        length = end[0] - start[0]
        lines += [
            Line(points=((spot[0], spot[1] - 0.5), (spot[0], y - _TICK_MM)), layer="dimension")
            for spot in (start, end)
        ]
        lines.append(Line(points=((start[0], y), (end[0], y)), layer="dimension"))
        lines += [
            Line(
                points=((x - _TICK_MM, y - _TICK_MM), (x + _TICK_MM, y + _TICK_MM)),
                layer="ground",
            )
            for x in (start[0], end[0])
        ]
        text = f"{name} {number(length)}"
        fits = 0.52 * size_mm * len(text) < length - 2 * _GAP_MM
        words.append(
            Words(
                text=text,
                at=((start[0] + end[0]) / 2, y + 0.3 * size_mm)
                if fits
                else (end[0] + _GAP_MM, y - 0.33 * size_mm),
                size_mm=size_mm,
                anchor="middle" if fits else "start",
            )
        )
    return tuple(lines), tuple(words)
