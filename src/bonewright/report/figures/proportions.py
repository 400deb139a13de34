"""Log size index by element, and limb proportions beside living relatives."""

import altair as alt
import numpy as np

from bonewright.report.figures.figure import Chart, Panel, data_of, key_panel
from bonewright.report.theme import FAINT, INK, LOST, OTHER, VERDICT
from bonewright.report.wording import plural
from bonewright.skeleton.proportions import LimbRatio, Proportions

__all__ = [
    "limb_proportions",
    "limb_proportions_caption",
    "limb_proportions_words",
    "size_index",
    "size_index_caption",
    "size_index_words",
]

_WIDTH = 440
_ROW = 26


def size_index(proportions: Proportions) -> Chart:
    """Draw individuals and the average of each element as log size index."""
    order = [index.element for index in proportions.indices]
    points, bars = [], []
    for index in proportions.indices:
        points += [{"element": index.element, "value": value} for value in index.individuals]
        low, high = np.quantile(index.draws, [0.025, 0.975])
        bars.append({"element": index.element, "low": float(low), "high": float(high)})
    y = alt.Y(
        "element:N",
        sort=order,
        scale=alt.Scale(domain=order),
        title=None,
        axis=alt.Axis(ticks=False, domain=False),
    )
    title = f"log10(length / {proportions.standard})"
    zero = alt.Chart(data_of([{"value": 0}])).mark_rule(color=FAINT).encode(x="value:Q")
    broad = (
        alt.Chart(data_of(bars))
        .mark_rule(strokeWidth=9, color=VERDICT, opacity=0.5)
        .encode(x=alt.X("low:Q", title=title), x2="high:Q", y=y)
    )
    ticks = (
        alt.Chart(data_of(points))
        .mark_tick(thickness=1.2, size=13, color=INK, opacity=0.6)
        .encode(x=alt.X("value:Q", title=title, scale=alt.Scale(zero=False)), y=y)
    )
    return alt.layer(zero, broad, ticks).properties(width=_WIDTH, height=_ROW * len(order))


def size_index_caption(proportions: Proportions) -> str:
    """Say what the marks of the figure mean."""
    return (
        f"0 is the size of {proportions.standard}; 0.1 is 26 % longer. Each tick is one"
        " measurement of one individual, the broad bar the 95 % interval of the average"
        " skeleton's mean over the element's codes. Elements to the left of the others are small"
        " for the animal, by the standard's proportions (Meadow 1999)."
    )


def size_index_words(proportions: Proportions) -> str:
    """Say the figure in words."""
    parts = ", ".join(
        f"{index.element} {float(np.median(index.draws)):.2f}".replace("-", "−")
        for index in proportions.indices
    )
    return f"Strip chart of the log size index by element: {parts}."


def _panel(ratio: LimbRatio, *, last: bool) -> Panel:
    low, middle, high = np.quantile(ratio.draws, [0.025, 0.5, 0.975])
    rows = [
        {
            "value": value / float(middle),
            "flies": "flying" if flies else "flightless",
            "name": species,
        }
        for species, value, flies in ratio.relatives
    ]
    x = alt.X(
        "value:Q",
        scale=alt.Scale(type="log", nice=False),
        title="Ratio, as multiple of the average animal's (log scale)" if last else None,
        axis=alt.Axis(labels=last, ticks=last, tickCount=6),
    )
    base = alt.Chart(data_of(rows))
    living = base.mark_point(size=34, strokeWidth=1.2, opacity=0.75).encode(
        x=x,
        shape=alt.Shape(
            "flies:N",
            scale=alt.Scale(domain=["flying", "flightless"], range=["circle", "square"]),
            legend=None,
        ),
        stroke=alt.Stroke(
            "flies:N",
            scale=alt.Scale(domain=["flying", "flightless"], range=[OTHER, VERDICT]),
            legend=None,
        ),
        fill=alt.value("#ffffff"),
    )
    span = [{"value": float(low / middle), "high": float(high / middle)}]
    lost = (
        alt.Chart(data_of(span))
        .mark_rule(strokeWidth=7, color=LOST, opacity=0.8)
        .encode(x=x, x2="high:Q")
    )
    title = alt.TitleParams(f"{ratio.title}: {middle:.3g}", frame="group")
    return alt.layer(living, lost).properties(width=_WIDTH, height=18, title=title)


def limb_proportions(proportions: Proportions) -> Chart:
    """Draw each ratio of the average animal among living relatives, on one scale."""
    ratios = proportions.ratios
    key = key_panel(
        (
            ("average animal, 95 %", "square", LOST, True),
            ("flying relative", "circle", OTHER, False),
            ("flightless relative", "square", VERDICT, False),
        )
    )
    panels = [_panel(ratio, last=ratio is ratios[-1]) for ratio in ratios]
    return alt.vconcat(key, alt.vconcat(*panels, spacing=4).resolve_scale(x="shared"), spacing=8)


def limb_proportions_caption(proportions: Proportions) -> str:
    """Say what the marks of the figure mean."""
    n = max(len(ratio.relatives) for ratio in proportions.ratios)
    return (
        "Ratios of lengths in the average animal (bar: 95 % interval, its value in the heading)"
        f" beside {plural(n, 'living relative')}, each divided by the average animal's, so that 1"
        " is its own build. Relatives to the left have less of it, to the right more."
    )


def limb_proportions_words(proportions: Proportions) -> str:
    """Say the figure in words."""
    parts = []
    for ratio in proportions.ratios:
        values = np.array([value for _, value, _ in ratio.relatives])
        below = int(np.sum(values < np.median(ratio.draws)))
        parts.append(f"{ratio.title}: {below} of {len(values)} relatives have less")
    return "; ".join(parts) + "."
