"""What a figure is: a chart with a title, a caption and a written alternative."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import altair as alt

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["Chart", "Figure", "FigureSpec", "Panel", "data_of"]

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
    """How a figure is made from a run. ``present`` says whether the run has what it shows."""

    key: str
    step: str
    title: str
    present: Callable[["Run"], bool]
    chart_fn: Callable[["Run"], Chart]
    caption_fn: Callable[["Run"], str]
    alt_fn: Callable[["Run"], str]

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


def data_of(rows: list[dict[str, Any]]) -> alt.InlineData:
    """Hand rows to a chart as they are, so that no table library is needed."""
    return alt.InlineData(values=rows)
