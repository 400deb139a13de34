"""What a figure is: a chart with a title, a caption and a written alternative."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import altair as alt

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["Chart", "Figure", "FigureSpec", "Panel", "data_of", "key_panel"]

Panel = alt.LayerChart | alt.FacetChart
"""What layering charts gives, by Altair's types."""

Chart = (
    alt.Chart
    | alt.LayerChart
    | alt.HConcatChart
    | alt.VConcatChart
    | alt.ConcatChart
    | alt.FacetChart
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figure:
    """One figure of one run. ``caption`` says what the marks mean and on what n they rest."""

    key: str
    step: str
    title: str
    caption: str
    alt: str
    chart: Chart


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureSpec:
    """How a figure is made from a run. ``present`` says whether the run has what it shows.

    ``drawing`` marks one that shows shapes to scale and has no values to be asked for.
    """

    key: str
    step: str
    title: str
    present: Callable[["Run"], bool]
    chart_fn: Callable[["Run"], Chart]
    caption_fn: Callable[["Run"], str]
    alt_fn: Callable[["Run"], str]
    drawing: bool = False

    def of(self, run: "Run") -> Figure:
        """Make the figure of ``run``."""
        return Figure(
            key=self.key,
            step=self.step,
            title=self.title,
            caption=self.caption_fn(run),
            alt=self.alt_fn(run),
            chart=self.chart_fn(run),
        )


def key_panel(entries: tuple[tuple[str, str, str, bool], ...]) -> Panel:
    """Draw the key of a figure in one line: (words, Vega shape, colour, filled) each.

    A key of its own keeps its width out of the layout of the panels below it.
    """
    rows = []
    at = 0.0
    for words, shape, colour, filled in entries:
        fill = colour if filled else "#ffffff"
        rows.append({"x": at + 6, "words": words, "shape": shape, "line": colour, "fill": fill})
        at += 34 + 6.2 * len(words)
    x = alt.X("x:Q", scale=alt.Scale(domain=[0, at], range=[0, at], nice=False), axis=None)
    base = alt.Chart(data_of(rows))
    points = base.mark_point(size=56, strokeWidth=1.5, opacity=1).encode(
        x=x,
        shape=alt.Shape("shape:N", scale=None),
        stroke=alt.Stroke("line:N", scale=None),
        fill=alt.Fill("fill:N", scale=None),
    )
    words_beside = base.mark_text(align="left", baseline="middle", dx=9).encode(x=x, text="words:N")
    return alt.layer(points, words_beside).properties(width=at, height=16)


def data_of(rows: list[dict[str, Any]]) -> alt.InlineData:
    """Hand rows to a chart as they are, so that no table library is needed."""
    return alt.InlineData(values=rows)
