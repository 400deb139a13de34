"""The body grown from the skeleton, drawn to scale: three views, and its states of fatness."""

from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np

from bonewright.body.bones_inside import standing_bones
from bonewright.body.grown import GrownBody
from bonewright.body.silhouettes import (
    VIEWS,
    Outline,
    state_mesh,
    view_outlines,
)
from bonewright.quantity import Quantity
from bonewright.report.figures.figure import Chart, data_of
from bonewright.report.theme import BAND, FAINT, INK, MUTED, PAGE_WIDTH_PX
from bonewright.report.wording import interval_words

__all__ = [
    "fat_states",
    "fat_states_caption",
    "fat_states_words",
    "standing_body",
    "standing_body_caption",
    "standing_body_words",
]

_FLESH = "#cdbfa7"
_BARS_MM = (20, 50, 100, 200, 500, 1000, 2000)
_MOST_HIGH_PX = 460
_STATES = ("lean", "mean", "fat")
_STATE_TITLES = {"lean": "When lean", "mean": "Over the year", "fat": "When fat"}


@dataclass(frozen=True, slots=True)
class _Shape:
    """One outline in the drawing's own mm, with how it is filled and edged."""

    outline: Outline
    fill: str
    stroke: str
    width: float
    dashed: bool = False


def _moved(outline: Outline, right: float, up: float) -> Outline:
    return tuple((x + right, y + up) for x, y in outline)


def _extent(outlines: tuple[Outline, ...]) -> tuple[float, float, float, float]:
    points = np.concatenate([np.array(outline) for outline in outlines])
    (left, low), (right, high) = points.min(axis=0), points.max(axis=0)
    return float(left), float(right), float(low), float(high)


def _drawing(
    shapes: list[_Shape],
    *,
    labels: list[tuple[float, float, str]],
    ground: list[tuple[float, float]],
) -> Chart:
    """Set shapes, in the order given, on one scale along and up, with a bar in mm."""
    left, right, low, high = _extent(tuple(shape.outline for shape in shapes))
    margin = 0.04 * (right - left)
    left, right, high = left - margin, right + margin, high + 2.2 * margin
    bar_mm = max((bar for bar in _BARS_MM if bar <= 0.25 * (right - left)), default=_BARS_MM[0])
    low -= 3.0 * margin
    factor = min(PAGE_WIDTH_PX * 0.98 / (right - left), _MOST_HIGH_PX / (high - low))
    x_scale = alt.Scale(domain=[left, right], nice=False, zero=False)
    y_scale = alt.Scale(domain=[low, high], nice=False, zero=False)

    def x(field: str) -> alt.X:
        return alt.X(field, scale=x_scale, axis=None)

    def y(field: str) -> alt.Y:
        return alt.Y(field, scale=y_scale, axis=None)

    layers: list[Any] = []
    for number, shape in enumerate(shapes):
        rows = [
            {"x": round(px, 2), "y": round(py, 2), "order": order, "shape": number}
            for order, (px, py) in enumerate((*shape.outline, shape.outline[0]))
        ]
        mark: dict[str, Any] = {"strokeWidth": shape.width, "stroke": shape.stroke, "opacity": 1}
        mark |= {"strokeDash": [4, 3]} if shape.dashed else {}
        mark |= (
            {"filled": True, "fill": shape.fill, "fillOpacity": 1}
            if shape.fill
            else {"filled": False}
        )
        layers.append(
            alt.Chart(data_of(rows))
            .mark_line(**mark)
            .encode(x=x("x:Q"), y=y("y:Q"), order="order:Q", detail="shape:N")
        )
    words = [{"x": at_x, "y": at_y, "words": text} for at_x, at_y, text in labels]
    layers.append(
        alt.Chart(data_of(words))
        .mark_text(baseline="bottom", fontWeight=600)
        .encode(x=x("x:Q"), y=y("y:Q"), text="words:N")
    )
    lines = [{"x": start, "to": end, "y": 0.0} for start, end in ground]
    layers.append(
        alt.Chart(data_of(lines))
        .mark_rule(color=MUTED, strokeWidth=1)
        .encode(x=x("x:Q"), x2="to:Q", y=y("y:Q"))
    )
    bar = [
        {
            "x": left + margin,
            "to": left + margin + bar_mm,
            "y": low + 0.8 * margin,
            "words": f"{bar_mm} mm",
        }
    ]
    layers.append(
        alt.Chart(data_of(bar))
        .mark_rule(strokeWidth=3, color=INK)
        .encode(x=x("x:Q"), x2="to:Q", y=y("y:Q"))
    )
    layers.append(
        alt.Chart(data_of(bar))
        .mark_text(align="left", baseline="middle", dx=8, color=MUTED)
        .encode(x=x("to:Q"), y=y("y:Q"), text="words:N")
    )
    return alt.layer(*layers).properties(
        width=factor * (right - left), height=factor * (high - low)
    )


def standing_body(body: GrownBody) -> Chart:
    """Draw the body from the side, the front and above, plumage, flesh and bones."""
    plumed, flesh = state_mesh(body, "mean", plumage=True), state_mesh(body, "mean")
    outer = {view: view_outlines(plumed, view) for view in VIEWS}
    sizes = {view: _extent(outlines) for view, outlines in outer.items()}
    gap = 0.08 * (sizes["side"][1] - sizes["side"][0])
    at = {
        "side": (0.0, 0.0),
        "front": (sizes["side"][1] + gap - sizes["front"][0], 0.0),
        # The view from above hangs below the ground of the others.
        "top": (0.0, -gap * 1.6 - sizes["top"][3]),
    }
    names = {"side": "From the side", "front": "From the front", "top": "From above"}
    shapes: list[_Shape] = []
    labels, ground = [], []
    for view in VIEWS:
        right, up = at[view]
        for outlines, fill, stroke in (
            (outer[view], BAND, FAINT),
            (view_outlines(flesh, view), _FLESH, MUTED),
        ):
            shapes += [
                _Shape(_moved(outline, right, up), fill, stroke, 0.8) for outline in outlines
            ]
        shapes += [
            _Shape(_moved(piece.outline, right, up), "#ffffff", INK, 0.7)
            for piece in standing_bones(body, view)
        ]
        left_end, right_end, _, top = sizes[view]
        labels.append((right + (left_end + right_end) / 2, up + top + 0.15 * gap, names[view]))
        if view != "top":
            ground.append((right + left_end, right + right_end))
    return _drawing(shapes, labels=labels, ground=ground)


def standing_body_caption(body: GrownBody) -> str:
    """Say what the shapes of the figure mean."""
    own = body.plan.replaced
    plan = (
        f"the study's own plan for {', '.join(own)}, this program's for the rest"
        if own
        else "this program's plan of a ground bird"
    )
    return (
        f"The average body standing, {float(np.median(body.height_m)):.2g} m high, its centre of"
        " mass over the middle of its feet, to the scale of the bar. Palest: plumage;"
        f" darker: body over the year; white: bones. Drawn through the hoops of {plan}. Long"
        " bones have their measured lengths and breadths; pelvis, breastbone, shoulder blade and"
        " skull their measured extents, with simple shapes; bones not measured are not drawn."
    )


def standing_body_words(body: GrownBody) -> str:
    """Say the figure in words."""
    height = Quantity(draws=body.height_m, unit="m").summary()
    hip = Quantity(draws=body.stance.hip_height_mm / 1000, unit="m").summary()
    return (
        "Outlines of the standing body from the side, the front and above with the skeleton"
        f" inside. Height {interval_words(height, 'm')}, hip {interval_words(hip, 'm')} above the"
        " ground."
    )


def fat_states(body: GrownBody) -> Chart:
    """Draw the three states from the side, the lean outline dashed over each."""
    meshes = {state: state_mesh(body, state) for state in _STATES}
    views = {
        (state, view): view_outlines(mesh, view)
        for state, mesh in meshes.items()
        for view in ("side", "front")
    }
    shapes: list[_Shape] = []
    labels, ground = [], []
    start = 0.0
    for state in _STATES:
        first = start
        for view in ("side", "front"):
            left, right = _extent(views["fat", view])[:2]
            gap = 0.06 * (right - left) + 20
            move = start - left
            shapes += [
                _Shape(_moved(outline, move, 0.0), _FLESH, MUTED, 0.8)
                for outline in views[state, view]
            ]
            if state != "lean":
                shapes += [
                    _Shape(_moved(outline, move, 0.0), "", INK, 0.8, dashed=True)
                    for outline in views["lean", view]
                ]
            start += right - left + gap
        ground.append((first, start - gap))
        mass = Quantity(draws=body.states[state].mass_draws_kg, unit="kg").summary()
        tallest = _extent(views["fat", "side"])[3]
        labels.append(
            (
                (first + start - gap) / 2,
                tallest + 30,
                f"{_STATE_TITLES[state]}: {interval_words(mass, 'kg')}",
            )
        )
        start += gap * 1.5
    return _drawing(shapes, labels=labels, ground=ground)


def fat_states_caption(body: GrownBody) -> str:
    """Say what the shapes of the figure mean."""
    shares = {state: float(np.median(body.states[state].fatness.share)) * 100 for state in _STATES}
    return (
        f"The body with {shares['lean']:.0f}, {shares['mean']:.0f} and {shares['fat']:.0f} % of"
        " its mass as fat, without plumage, from the side and the front, all to the scale of the"
        " bar. Dashed: the lean outline. Fat lies under the skin and in the belly in the shares"
        " that study.toml states; the skin of the head follows the bone."
    )


def fat_states_words(body: GrownBody) -> str:
    """Say the figure in words."""
    return "Side and front outlines of three states of fatness. " + "; ".join(
        f"{_STATE_TITLES[state].lower()}: mass"
        f" {interval_words(Quantity(draws=grown.mass_draws_kg, unit='kg').summary(), 'kg')}"
        for state, grown in body.states.items()
    )
