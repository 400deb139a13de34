"""Individuals around the mean of each measurement."""

import altair as alt
import numpy as np

from bonewright.report.figures.figure import Chart, Panel, data_of
from bonewright.report.theme import FAINT, INK, VERDICT
from bonewright.report.wording import element_rank, plural
from bonewright.skeleton.average import AverageSkeleton
from bonewright.skeleton.bone_mean import BoneMean

__all__ = ["skeleton_means", "skeleton_means_caption", "skeleton_means_words"]

_ROW = 13


def _by_element(skeleton: AverageSkeleton) -> dict[str, list[BoneMean]]:
    groups: dict[str, list[BoneMean]] = {}
    ordered = sorted(skeleton.means.values(), key=lambda m: (element_rank(m.element), m.code))
    for mean in ordered:
        groups.setdefault(mean.element, []).append(mean)
    return groups


def _panel(element: str, means: list[BoneMean], *, half_width: float, last: bool) -> Panel:
    labels = [f"{mean.code} (n={mean.n_individuals})" for mean in means]
    individuals = []
    intervals = []
    for label, mean in zip(labels, means, strict=True):
        individuals += [
            {
                "label": label,
                "from": 100 * (value / mean.mean_mm - 1),
                "words": f"{value:.1f} mm",
                "finding": f"skeleton.mean.{mean.element}.{mean.code}",
            }
            for value in mean.individuals_mm
        ]
        low, high = np.quantile(mean.mean_draws_mm, [0.025, 0.975]) / mean.mean_mm - 1
        intervals.append({"label": label, "from": 100 * float(low), "to": 100 * float(high)})
    x = alt.X(
        "from:Q",
        scale=alt.Scale(domain=[-half_width, half_width], nice=False),
        title="Difference from the mean (%)" if last else None,
        axis=alt.Axis(labels=last, ticks=last, domain=last, tickCount=6),
    )
    y = alt.Y(
        "label:N",
        title=None,
        sort=labels,
        scale=alt.Scale(domain=labels),
        axis=alt.Axis(
            ticks=False, domain=False, labelFontSize=10, minExtent=66, maxExtent=66, labelPadding=4
        ),
    )
    zero = alt.Chart(data_of([{"from": 0}])).mark_rule(color=FAINT).encode(x=x)
    bars = (
        alt.Chart(data_of(intervals))
        .mark_rule(strokeWidth=6, color=VERDICT, opacity=0.45, clip=True)
        .encode(x=x, x2="to:Q", y=y)
    )
    ticks = (
        alt.Chart(data_of(individuals))
        .mark_tick(thickness=1.2, size=9, color=INK, opacity=0.75)
        .encode(x=x, y=y)
    )
    return alt.layer(zero, bars, ticks).properties(
        width=225, height=_ROW * len(means), title=alt.TitleParams(element, frame="group")
    )


def skeleton_means(skeleton: AverageSkeleton) -> Chart:
    """Draw each individual as percent of the mean of its measurement, by element."""
    groups = list(_by_element(skeleton).items())
    reach = [
        abs(100 * (value / mean.mean_mm - 1))
        for mean in skeleton.means.values()
        for value in mean.individuals_mm
    ]
    half_width = 1.1 * max([2.0, *reach])
    heights = [len(means) + 2.6 for _, means in groups]
    half = sum(heights) / 2
    columns: list[list[tuple[str, list[BoneMean]]]] = [[], []]
    filled = 0.0
    for group, height in zip(groups, heights, strict=True):
        columns[0 if filled + height / 2 <= half or not columns[0] else 1].append(group)
        filled += height
    charts = [
        alt.vconcat(
            *(
                _panel(element, means, half_width=half_width, last=place == len(column) - 1)
                for place, (element, means) in enumerate(column)
            ),
            spacing=6,
        )
        for column in columns
        if column
    ]
    return alt.hconcat(*charts, spacing=18)


def skeleton_means_caption(skeleton: AverageSkeleton) -> str:
    """Say what the marks of the figure mean."""
    return (
        f"{plural(len(skeleton.means), 'measurement')} over at least"
        f" {plural(skeleton.minimum_number_of_individuals, 'individual')}. Each tick is an"
        " individual (sides and repeats first reduced to one value) as percent above or below"
        " the average; the broad bar is the average's 95 % interval, cut where it"
        " leaves the frame; n counts individuals. Codes follow von den Driesch (1976)."
    )


def skeleton_means_words(skeleton: AverageSkeleton) -> str:
    """Say the figure in words."""
    spreads = [
        100 * mean.between_sd_mm / mean.mean_mm
        for mean in skeleton.means.values()
        if mean.n_individuals > 1
    ]
    words = f"Strip chart of {plural(len(skeleton.means), 'measurement')}, grouped by element."
    if spreads:
        words += (
            f" Individuals spread by a standard deviation of {np.median(spreads):.1f} % of the"
            " mean in the middle measurement."
        )
    return words
