"""Bones of the right length laid over the outline of the earlier mount."""

from collections.abc import Iterator
from typing import Any

import altair as alt
import numpy as np
from numpy.typing import NDArray

from bonewright.report.figures.figure import Chart, data_of, key_panel
from bonewright.report.theme import BAND, FAINT, LOST, MUTED, VERDICT
from bonewright.report.wording import plural
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.mount import MountCheck
from bonewright.testimony.picture_audit import BONE_LENGTHS, BoneLength
from bonewright.testimony.witnesses import TestimonyResult

__all__ = [
    "mount_drawing",
    "mount_drawing_caption",
    "mount_drawing_words",
    "mount_outline_mm",
    "photographs_of_mount",
]

_HEIGHT = 430
_WIDEST = 560
_Place = NDArray[np.float64]
# Leg bones from the ground up: each hangs on the upper end of the one below.
_FROM_THE_GROUND = ("tarsometatarsus", "tibiotarsus", "femur")


def photographs_of_mount(result: TestimonyResult) -> tuple[MarkedPicture, ...]:
    """Return the photographs of a mount that have an outline or checked lengths."""
    return tuple(
        one
        for one in result.marked
        if one.picture.shows_mount and result.picture_checks.get(one.picture.picture_id)
    )


def _px_to_mm(one: MarkedPicture) -> float:
    points, scale = one.points, one.picture.scale_mm
    if scale is None or not {"scale start", "scale end"} <= set(points):
        return 1.0
    return scale / float(np.hypot(*(points["scale end"] - points["scale start"])))


def mount_outline_mm(result: TestimonyResult) -> _Place | None:
    """Return the outline of the first photograph of a mount that has a scale, (n, 2) mm.

    Counted from the root of its toes, forward and upwards: a mount that faces to the left is
    mirrored. None where no photograph has an outline, a scale and that mark.
    """
    for one in photographs_of_mount(result):
        factor = _px_to_mm(one)
        if factor == 1.0 or "toe root" not in one.points or not len(one.outline):
            continue
        outline = (one.outline - one.points["toe root"]) * factor
        bill, back = one.points.get("bill tip"), one.points.get("back of head")
        if bill is not None and back is not None and bill[0] < back[0]:
            outline = outline * [-1.0, 1.0]
        return np.asarray(outline)
    return None


def _bones(
    one: MarkedPicture, checks: tuple[MountCheck, ...]
) -> Iterator[tuple[BoneLength, MountCheck, _Place, _Place]]:
    """Yield each checked length with the ends its right bone would have, in px."""
    by_place = {(check.element, check.code): check for check in checks}
    lengths = {length.element: length for length in BONE_LENGTHS if length.code != "GH"}
    points = one.points
    foot = points.get("toe root")
    for element in _FROM_THE_GROUND:
        length = lengths[element]
        check = by_place.get((element, length.code))
        if check is None or foot is None:
            break
        upper, lower = points[length.first], points[length.second]
        head = foot + (upper - lower) / check.ratio
        yield length, check, foot, head
        foot = head
    for length in BONE_LENGTHS:
        check = by_place.get((length.element, length.code))
        if length.element in _FROM_THE_GROUND or check is None:
            continue
        first, second = points[length.first], points[length.second]
        if length.code == "GH":
            middle, half = (first + second) / 2, (second - first) / 2 / check.ratio
            yield length, check, middle - half, middle + half
        else:
            yield length, check, first, first + (second - first) / check.ratio


def mount_drawing(result: TestimonyResult) -> Chart:
    """Draw the mount's outline, its own joints, and bones of the right length from the feet up."""
    one = photographs_of_mount(result)[0]
    checks = result.picture_checks[one.picture.picture_id]
    factor = _px_to_mm(one)
    origin = one.points.get("toe root", np.zeros(2))

    def at(place: _Place) -> dict[str, float]:
        x, y = (place - origin) * factor
        return {"x": float(x), "y": float(y)}

    bones: list[dict[str, Any]] = [
        {"bone": length.title, "order": order, "kind": _kind(check), **at(end)}
        for length, check, lower, upper in _bones(one, checks)
        for order, end in enumerate((lower, upper))
    ]
    own: list[dict[str, Any]] = [
        {"bone": length.title, "order": order, **at(one.points[name])}
        for length in BONE_LENGTHS
        if length.first in one.points and length.second in one.points
        for order, name in enumerate((length.first, length.second))
    ]
    outline: list[dict[str, Any]] = [
        {"order": order, **at(place)}
        for order, place in enumerate([*one.outline, *one.outline[:1]])
    ]
    every = [(float(row["x"]), float(row["y"])) for row in (*bones, *own, *outline)]
    (left, bottom), (right, top) = np.min(every, axis=0), np.max(every, axis=0)
    margin = 0.05 * (top - bottom)
    across, up = right - left + 2 * margin, top - bottom + 2 * margin
    height = min(_HEIGHT, _WIDEST * up / across)
    unit = "mm" if factor != 1.0 else "px of the picture"

    def axis(title: str, low: float, high: float) -> tuple[alt.Scale, alt.Axis]:
        return (
            alt.Scale(domain=[low - margin, high + margin], nice=False, zero=False),
            alt.Axis(title=f"{title} ({unit})", tickCount=6),
        )

    x_scale, x_axis = axis("From the toes", left, right)
    y_scale, y_axis = axis("Height above the toes", bottom, top)
    x = alt.X("x:Q", scale=x_scale, axis=x_axis)
    y = alt.Y("y:Q", scale=y_scale, axis=y_axis)
    kinds = alt.Scale(domain=["wrong", "within reason"], range=[LOST, VERDICT])
    layers: list[alt.Chart] = []
    if outline:
        layers.append(
            alt.Chart(data_of(outline))
            .mark_line(filled=True, fill=BAND, stroke=FAINT, strokeWidth=1)
            .encode(x=x, y=y, order="order:Q")
        )
    layers += [
        alt.Chart(data_of(own))
        .mark_line(color=MUTED, strokeDash=[4, 3], strokeWidth=1.5)
        .encode(x=x, y=y, detail="bone:N", order="order:Q"),
        alt.Chart(data_of(own))
        .mark_point(size=36, stroke=MUTED, fill="#ffffff", strokeWidth=1.3, opacity=1)
        .encode(x=x, y=y),
        alt.Chart(data_of(bones))
        .mark_line(strokeCap="round", opacity=0.85)
        .encode(
            x=x,
            y=y,
            detail="bone:N",
            order="order:Q",
            color=alt.Color("kind:N", scale=kinds, legend=None),
            # Thickness tells as well as colour.
            strokeWidth=alt.StrokeWidth(
                "kind:O",
                legend=None,
                sort=None,
                scale=alt.Scale(domain=["wrong", "within reason"], range=[9, 4]),
            ),
        ),
    ]
    key = (
        ("right bone, mount within reason", "stroke", VERDICT, True),
        ("right bone, mount wrong", "stroke", LOST, True),
        ("the mount's own joints", "circle", MUTED, False),
    )
    panel = alt.layer(*layers).properties(width=height * across / up, height=height)
    return alt.vconcat(key_panel(key), panel, spacing=6)


def _kind(check: MountCheck) -> str:
    return "wrong" if check.wrong else "within reason"


def mount_drawing_caption(result: TestimonyResult) -> str:
    """Say what the marks of the figure mean."""
    one = photographs_of_mount(result)[0]
    checks = result.picture_checks[one.picture.picture_id]
    scaled = _px_to_mm(one) != 1.0
    return (
        f"n = {plural(len(checks), 'length')} on the {one.picture.title}. Shaded: the mount as"
        " traced; dashed: its own joints; solid: bones of the average animal with its skin (thick"
        " where the mount is wrong), laid along the mount's limbs from the toes"
        " up, and along its head."
        + ("" if scaled else " The picture has no scale: lengths are judged against each other.")
    )


def mount_drawing_words(result: TestimonyResult) -> str:
    """Say the figure in words."""
    one = photographs_of_mount(result)[0]
    wrong = [c.words for c in result.picture_checks[one.picture.picture_id] if c.wrong]
    return "Bones of the right length over the outline of the mount. " + (
        "Contradicted: " + "; ".join(wrong) + "." if wrong else "No length is contradicted."
    )
