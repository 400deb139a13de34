"""Rows of intervals against one common axis: the form most findings are compared in."""

from dataclasses import dataclass

import altair as alt
import numpy as np

from bonewright.quantity import Summary
from bonewright.report.figures.figure import Panel, data_of
from bonewright.report.theme import BAND, INK

__all__ = [
    "IntervalRow",
    "interval_panel",
    "log_ticks",
    "padded_log_domain",
    "ratio_ticks",
    "row_of_summary",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalRow:
    """One row: a label, a middle with up to two intervals, and the words in the margin.

    ``inner`` and ``outer`` are 50 and 95 % intervals; either may be missing. ``shape`` is a
    Vega symbol name; ``filled`` False draws it hollow.
    """

    label: str
    middle: float
    inner: tuple[float, float] | None = None
    outer: tuple[float, float] | None = None
    colour: str = INK
    margin: str = ""
    shape: str = "circle"
    filled: bool = True
    weight: float = 1.0


def row_of_summary(
    label: str, summary: Summary, *, colour: str = INK, margin: str = "", weight: float = 1.0
) -> IntervalRow:
    """Make a row from a summary of draws."""
    return IntervalRow(
        label=label,
        middle=summary.median,
        inner=summary.interval50,
        outer=summary.interval95,
        colour=colour,
        margin=margin,
        weight=weight,
    )


def padded_log_domain(values: list[float]) -> tuple[float, float]:
    """Return a logarithmic axis' ends with a margin of 6 % of its length on either side."""
    low, high = float(np.log(min(values))), float(np.log(max(values)))
    margin = max(0.06 * (high - low), 0.05)
    return float(np.exp(low - margin)), float(np.exp(high + margin))


def ratio_ticks(domain: tuple[float, float]) -> list[float]:
    """Return round ratios from one end of an axis to the other, 1 always among them."""
    low, high = domain
    near = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.4, 1.6, 1.8)
    finer = tuple(round(0.7 + 0.05 * step, 2) for step in range(15))
    coarser = tuple(factor * 10.0**power for power in range(-3, 4) for factor in (1, 2, 5))
    for ticks in (coarser, (0.2, 0.3, 0.4, *near, 2.0, 2.5, 3.0, 4.0, 5.0), near, finer):
        inside = [tick for tick in ticks if low <= tick <= high]
        if len(inside) >= 5:
            break
    return sorted({*inside, 1.0}) if low <= 1 <= high else inside


def log_ticks(domain: tuple[float, float]) -> list[float]:
    """Return round values inside a logarithmic axis, about four to nine of them."""
    low, high = domain
    decades = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    for steps in ((1,), (1, 3), (1, 2, 5), (1, 1.5, 2, 3, 4, 5, 7)):
        ticks = [step * 10.0**decade for decade in decades for step in steps]
        inside = [float(f"{tick:.6g}") for tick in ticks if low <= tick <= high]
        if len(inside) >= 4:
            return inside
    # Over a short stretch equal steps read better than steps that grow.
    size = 10.0 ** np.floor(np.log10((high - low) / 4))
    step = next(size * factor for factor in (10, 5, 2, 1) if (high - low) / (size * factor) >= 3)
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return [float(f"{step * place:.6g}") for place in range(first, last + 1)]


def interval_panel(
    rows: tuple[IntervalRow, ...],
    *,
    x_title: str | None,
    domain: tuple[float, float],
    log: bool,
    width: float,
    step: float = 19,
    title: str = "",
    band: tuple[float, float] | None = None,
    line: float | None = None,
    label_width: float = 190,
    label_size: float = 11,
) -> Panel:
    """Draw rows of intervals.

    ``band`` is shaded behind all rows and ``line`` drawn through them, both in the unit of
    the axis. The x axis is drawn only where ``x_title`` is given, so that panels stack; the
    labels only where ``label_width`` leaves them room.
    """
    labels = [row.label for row in rows]
    axis = (
        alt.Axis(values=log_ticks(domain) if log else alt.Undefined, tickCount=6, title=x_title)
        if x_title
        else alt.Axis(
            values=log_ticks(domain) if log else alt.Undefined,
            tickCount=6,
            labels=False,
            ticks=False,
            domain=False,
            title=None,
        )
    )
    scale = alt.Scale(type="log" if log else "linear", domain=list(domain), nice=False)
    x = alt.X("from:Q", scale=scale, axis=axis)
    y = alt.Y(
        "label:N",
        sort=labels,
        title=None,
        scale=alt.Scale(domain=labels),
        axis=alt.Axis(
            labels=label_width > 0,
            ticks=False,
            domain=False,
            labelLimit=label_width,
            labelFontSize=label_size,
            labelPadding=8,
            minExtent=label_width,
            maxExtent=label_width,
        ),
    )
    layers: list[alt.Chart] = []
    if band is not None:
        layers.append(
            alt.Chart(data_of([{"from": band[0], "to": band[1]}]))
            .mark_rect(color=BAND, opacity=0.7)
            .encode(x=x, x2="to:Q")
        )
    if line is not None:
        layers.append(
            alt.Chart(data_of([{"from": line}]))
            .mark_rule(color=INK, strokeDash=[3, 3], strokeWidth=1)
            .encode(x=x)
        )
    for thickness, which in ((1.6, "outer"), (5.0, "inner")):
        spans = [
            {
                "label": row.label,
                "from": ends[0],
                "to": ends[1],
                "colour": row.colour,
                "thick": thickness * row.weight,
            }
            for row in rows
            if (ends := getattr(row, which)) is not None
        ]
        if spans:
            layers.append(
                alt.Chart(data_of(spans))
                .mark_rule()
                .encode(
                    x=x,
                    x2="to:Q",
                    y=y,
                    color=alt.Color("colour:N", scale=None),
                    strokeWidth=alt.StrokeWidth("thick:Q", scale=None, legend=None),
                )
            )
    points = [
        {
            "label": row.label,
            "from": row.middle,
            "colour": row.colour,
            "fill": row.colour if row.filled else "#ffffff",
            "shape": row.shape,
            "margin": row.margin,
            "size": 54 * row.weight**2,
        }
        for row in rows
    ]
    layers.append(
        alt.Chart(data_of(points))
        .mark_point(strokeWidth=1.4, opacity=1)
        .encode(
            x=x,
            y=y,
            stroke=alt.Stroke("colour:N", scale=None),
            fill=alt.Fill("fill:N", scale=None),
            shape=alt.Shape("shape:N", scale=None),
            size=alt.Size("size:Q", scale=None, legend=None),
        )
    )
    if any(row.margin for row in rows):
        layers.append(
            alt.Chart(data_of(points))
            .mark_text(align="left", baseline="middle", fontSize=label_size)
            .encode(x=alt.value(width + 10), y=y, text="margin:N")
        )
    panel = alt.layer(*layers).properties(width=width, height=step * len(rows))
    return panel.properties(title=alt.TitleParams(title, frame="group")) if title else panel
