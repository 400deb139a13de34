"""Peak stresses in the leg bones beside the strength of bone."""

import altair as alt
import numpy as np

from bonewright.movement.legs import LegsResult
from bonewright.movement.stresses import GAITS
from bonewright.report.figures.figure import Chart, data_of, key_panel
from bonewright.report.theme import BAND, COPY, INK, LOST, OTHER, POOLED, VERDICT
from bonewright.report.wording import element_rank

__all__ = ["stresses", "stresses_caption", "stresses_words"]

_PARTS = (
    ("bending_mpa", "bending", VERDICT),
    ("bow_mpa", "bow of the shaft", POOLED),
    ("compression_mpa", "pressing", OTHER),
    ("torsion_mpa", "twisting", COPY),
)


def _elements(result: LegsResult) -> list[str]:
    return sorted({element for element, _ in result.stresses}, key=element_rank)


def stresses(result: LegsResult) -> Chart:
    """Draw medians of the parts as bars, the joined stress as a mark with its interval."""
    strength = [
        float(value)
        for value in np.quantile(
            next(iter(result.safety.values())) * next(iter(result.stresses.values())).greatest_mpa,
            [0.025, 0.5, 0.975],
        )
    ]
    most = max(
        [strength[2]]
        + [float(np.quantile(one.greatest_mpa, 0.975)) for one in result.stresses.values()]
    )
    scale = alt.Scale(domain=[0, 1.03 * most], nice=False)
    axis = alt.Axis(title="Stress (MPa)", tickCount=6)
    panels = []
    for element in _elements(result):
        bars, marks = [], []
        for gait in GAITS:
            one = result.stresses[element, gait]
            at = 0.0
            for field, words, colour in _PARTS:
                value = float(np.median(getattr(one, field)))
                bars.append(
                    {"gait": gait, "from": at, "to": at + value, "part": words, "colour": colour}
                )
                at += value
            low, middle, high = (
                float(v) for v in np.quantile(one.greatest_mpa, [0.025, 0.5, 0.975])
            )
            marks.append({"gait": gait, "low": low, "middle": middle, "high": high})
        y = alt.Y(
            "gait:N",
            sort=list(GAITS),
            title=None,
            axis=alt.Axis(ticks=False, domain=False, labelPadding=6),
        )
        x = alt.X("from:Q", scale=scale, axis=axis)
        band = data_of([{"low": strength[0], "high": strength[2], "middle": strength[1]}])
        low_x = alt.X("low:Q", scale=scale, axis=axis)
        layers = [
            alt.Chart(band).mark_rect(color=BAND).encode(x=low_x, x2="high:Q"),
            alt.Chart(band)
            .mark_rule(color=INK, strokeDash=[4, 3])
            .encode(x=alt.X("middle:Q", scale=scale, axis=axis)),
            alt.Chart(data_of(bars))
            .mark_bar(size=11, yOffset=-5)
            .encode(x=x, x2="to:Q", y=y, color=alt.Color("colour:N", scale=None)),
            alt.Chart(data_of(marks))
            .mark_rule(color=LOST, strokeWidth=1.8, yOffset=7)
            .encode(x=low_x, x2="high:Q", y=y),
            alt.Chart(data_of(marks))
            .mark_point(filled=True, shape="diamond", color=LOST, size=60, opacity=1, yOffset=7)
            .encode(x=alt.X("middle:Q", scale=scale, axis=axis), y=y),
        ]
        panels.append(
            alt.layer(*layers).properties(
                width=430, height=100, title=alt.TitleParams(element, frame="group")
            )
        )
    key = key_panel(
        (
            *((words, "square", colour, True) for _, words, colour in _PARTS),
            ("all joined, 95 %", "diamond", LOST, True),
        )
    )
    return alt.vconcat(key, *panels, spacing=8)


def stresses_caption(result: LegsResult) -> str:
    """Say what the marks of the figure mean."""
    del result
    return (
        "Peak stress on one section of each leg bone at the pooled mass. Bars: medians of its"
        " parts; diamond and rule: the joined principal stress, median and 95 % interval. Shaded:"
        " bending strength of bone, 95 %; dashed: its median. Muscles are left out, so real"
        " stresses are higher."
    )


def stresses_words(result: LegsResult) -> str:
    """Say the figure in words."""
    parts = [
        f"{element}, {gait}: about {float(np.median(one.greatest_mpa)):.0f} megapascals, safety"
        f" factor about {float(np.median(result.safety[element, gait])):.1f}"
        for (element, gait), one in result.stresses.items()
    ]
    return "Peak stresses by leg bone and gait. " + "; ".join(parts) + "."
