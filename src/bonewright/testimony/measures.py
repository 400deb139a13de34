"""Measures of a marked picture: ratios without a scale, each with its repeat error."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.testimony.marks import MarkedPicture

__all__ = ["RATIOS", "PictureRatio", "Ratio", "distance_px", "measure_pictures"]

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """A ratio that can be measured on a picture: which points, and in words."""

    key: str
    title: str
    points: tuple[str, ...]


RATIOS: tuple[Ratio, ...] = (
    Ratio(
        key="body_depth",
        title="Body depth to shank length",
        points=("back", "belly", "heel joint", "toe root"),
    ),
    Ratio(
        key="head_depth",
        title="Head depth to bill length",
        points=("crown", "throat", "bill root", "bill tip"),
    ),
    Ratio(
        key="tail_root",
        title="Tail root height to back height above the toes",
        points=("tail root", "back", "toe root"),
    ),
    Ratio(
        key="bill_curvature",
        title="Bill arch to bill length",
        points=("bill root", "bill middle", "bill tip"),
    ),
    Ratio(
        key="outline_area",
        title="Area of the outline to shank length squared",
        points=("heel joint", "toe root"),
    ),
)
"""Ratios in the order of the report. Heights take the picture's upright as plumb."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureRatio:
    """A ratio of one picture. ``error`` is its standard deviation from repeated marks."""

    picture_id: str
    key: str
    value: float
    error: float | None


def distance_px(points: Mapping[str, _Array], first: str, second: str) -> float:
    """Return the distance of two marked points in px."""
    return float(np.hypot(*(points[first] - points[second])))


def measure_pictures(marked: Sequence[MarkedPicture]) -> tuple[PictureRatio, ...]:
    """Measure every ratio whose points are marked.

    The repeat error is carried to the ratio by its derivatives, taken numerically: each
    coordinate is moved by the standard deviation of its mean over repeats.
    """
    return tuple(
        PictureRatio(
            picture_id=one.picture.picture_id,
            key=ratio.key,
            value=value,
            error=_error(one, ratio) if one.n_repeats else None,
        )
        for one in marked
        for ratio in RATIOS
        if (value := _value(ratio.key, one.points, one.outline)) is not None
    )


def _error(one: MarkedPicture, ratio: Ratio) -> float:
    middle = _value(ratio.key, one.points, one.outline) or 0.0
    # Every point was marked about as often: its mean scatters less by the root of that.
    marks = one.n_repeats / max(len(one.points), 1) + 1
    step = one.error_px / math.sqrt(marks)
    squares = 0.0
    for name in ratio.points:
        for axis in (0, 1):
            moved = {**one.points, name: one.points[name] + step * np.eye(2)[axis]}
            squares += ((_value(ratio.key, moved, one.outline) or 0.0) - middle) ** 2
    return math.sqrt(squares)


def _value(key: str, points: Mapping[str, _Array], outline: _Array) -> float | None:
    needed = next(ratio.points for ratio in RATIOS if ratio.key == key)
    if any(name not in points for name in needed):
        return None
    if key == "tail_root":
        toe, tail, back = (points[name][1] for name in ("toe root", "tail root", "back"))
        return float((tail - toe) / (back - toe)) if back != toe else None
    if key == "bill_curvature":
        chord = points["bill tip"] - points["bill root"]
        arch = points["bill middle"] - points["bill root"]
        square = float(chord @ chord)
        return abs(float(chord[0] * arch[1] - chord[1] * arch[0])) / square if square else None
    if key == "outline_area":
        shank = distance_px(points, "heel joint", "toe root")
        if len(outline) < 3 or shank == 0:
            return None
        x, y = outline.T
        return abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))) / 2 / shank**2
    above, below = distance_px(points, *needed[:2]), distance_px(points, *needed[2:])
    return above / below if below else None
