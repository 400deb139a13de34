"""The masses at which the legs match living animals, under every estimate of mass."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np

from bonewright.findings import Finding
from bonewright.judgement.pooling import PooledMass
from bonewright.judgement.published_lines import published_masses
from bonewright.movement.strength import StrengthResult
from bonewright.quantity import Draws
from bonewright.report.figures.figure import Chart, data_of
from bonewright.report.figures.intervals import log_ticks, padded_log_domain
from bonewright.report.figures.masses import weight_claims
from bonewright.report.theme import BAND, INK, LOST, OTHER, VERDICT
from bonewright.report.wording import element_rank, plural, range_words, short_title
from bonewright.testimony.witnesses import TestimonyResult

__all__ = ["mass_window", "mass_window_caption", "mass_window_words"]

_WIDTH, _MARGIN = 290, 300
_ONE_MEASURE = "relatives.mass."
_GROWN = "body.grown.mass."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scale:
    """The axis of mass that all panels share."""

    scale: alt.Scale
    axis: alt.Axis

    def x(self, field: str) -> alt.X:
        return alt.X(f"{field}:Q", scale=self.scale, axis=self.axis)


def mass_window(
    result: StrengthResult,
    pooled: PooledMass,
    testimony: TestimonyResult | None,
    *,
    further: Sequence[Finding] = (),
) -> Chart:
    """Draw the masses each bone allows, and every estimate of mass over the joint window.

    ``further`` holds the masses by published equations.
    """
    spans = _spans(result)
    estimates = _estimates(result, pooled)
    marks = _gathered(result, pooled, testimony, further)
    reach = [float(v) for v in np.quantile(pooled.mass_draws_kg, [0.0005, 0.9995])]
    reach += [float(row[end]) for row in (*spans, *estimates) for end in ("from", "to")]
    reach += [float(mark["middle"]) for mark in marks]
    domain = padded_log_domain(reach)
    scale = alt.Scale(type="log", domain=list(domain), nice=False)
    ticks = log_ticks(domain)
    hidden = alt.Axis(values=ticks, labels=False, ticks=False, domain=False, title=None)
    shown = alt.Axis(values=ticks, title="Body mass (kg, logarithmic scale)")
    return alt.vconcat(
        _histogram(pooled.mass_draws_kg, domain, _Scale(scale=scale, axis=hidden)),
        _over_window(spans, estimates, marks, _Scale(scale=scale, axis=hidden)),
        _windows(spans, _Scale(scale=scale, axis=shown)),
        spacing=8,
    )


def _spans(result: StrengthResult) -> list[dict[str, Any]]:
    """Return the window of each bone and of all at once, where any mass fits."""
    windows = [
        (element, bone.window_low_draws_kg, bone.window_high_draws_kg)
        for element, bone in sorted(result.bones.items(), key=lambda item: element_rank(item[0]))
    ]
    windows.append((_JOINT, result.joint_low_draws_kg, result.joint_high_draws_kg))
    spans: list[dict[str, Any]] = []
    for name, low, high in windows:
        lowest, low_middle = (float(v) for v in np.quantile(low, [0.025, 0.5]))
        high_middle, highest = (float(v) for v in np.quantile(high, [0.5, 0.975]))
        fits = low_middle <= high_middle
        spans.append(
            {
                "label": name,
                "from": lowest,
                "to": highest,
                "inner": low_middle if fits else None,
                "outer": high_middle if fits else None,
                "colour": VERDICT if name == _JOINT else OTHER,
                "words": range_words(low_middle, high_middle) if fits else "no mass fits",
            }
        )
    return spans


_JOINT = "all bones at once"


def _histogram(draws_kg: Draws, domain: tuple[float, float], on: _Scale) -> Chart:
    edges = np.geomspace(*domain, 81)
    counts, _ = np.histogram(draws_kg, bins=edges)
    bars = [
        {"from": float(a), "to": float(b), "share": float(s)}
        for a, b, s in zip(edges[:-1], edges[1:], 100 * counts / len(draws_kg), strict=True)
        if s > 0
    ]
    drawn: Chart = (
        alt.Chart(data_of(bars))
        .mark_rect(color=LOST, opacity=0.75)
        .encode(
            x=on.x("from"),
            x2="to:Q",
            y=alt.Y("share:Q", title="Draws (%)", axis=alt.Axis(tickCount=3)),
            y2=alt.datum(0),
        )
        .properties(width=_WIDTH, height=80, title=_title("The pooled mass"))
    )
    return drawn


def _title(text: str) -> alt.TitleParams:
    return alt.TitleParams(text, frame="group")


def _rows(names: list[str]) -> alt.Y:
    return alt.Y(
        "label:N",
        sort=names,
        title=None,
        scale=alt.Scale(domain=names),
        axis=alt.Axis(ticks=False, domain=False, labelPadding=6, labelLimit=290),
    )


def _words_at_right(data: list[dict[str, Any]], y: alt.Y) -> Chart:
    drawn: Chart = (
        alt.Chart(data_of(data))
        .mark_text(align="left", baseline="middle", color=INK)
        .encode(x=alt.value(_MARGIN), y=y, text="words:N")
    )
    return drawn


def _over_window(
    spans: list[dict[str, Any]],
    estimates: list[dict[str, Any]],
    marks: list[dict[str, Any]],
    on: _Scale,
) -> Chart:
    names = list(dict.fromkeys(str(row["label"]) for row in (*estimates, *marks)))
    y = _rows(names)
    colour = alt.Color("colour:N", scale=None)
    joint = [span for span in spans if span["label"] == _JOINT and span["inner"] is not None]
    last_words = {str(mark["label"]): mark for mark in marks}
    layers = [
        alt.Chart(data_of(joint)).mark_rect(color=BAND).encode(x=on.x("inner"), x2="outer:Q"),
        alt.Chart(data_of(estimates))
        .mark_rule(strokeWidth=1.6)
        .encode(x=on.x("from"), x2="to:Q", y=y, color=colour),
        alt.Chart(data_of(estimates))
        .mark_point(filled=True, size=55, opacity=1)
        .encode(x=on.x("middle"), y=y, color=colour, shape=alt.Shape("shape:N", scale=None)),
        alt.Chart(data_of(marks))
        .mark_point(size=34, strokeWidth=1.3, opacity=1)
        .encode(x=on.x("middle"), y=y, color=colour, shape=alt.Shape("shape:N", scale=None)),
        _words_at_right([*estimates, *last_words.values()], y),
    ]
    drawn: Chart = alt.layer(*layers).properties(
        width=_WIDTH,
        height=18 * len(names),
        title=_title("Every estimate of mass over the window"),
    )
    return drawn


def _windows(spans: list[dict[str, Any]], on: _Scale) -> Chart:
    y = _rows([str(span["label"]) for span in spans])
    colour = alt.Color("colour:N", scale=None)
    fitting = [span for span in spans if span["inner"] is not None]
    layers = [
        alt.Chart(data_of(fitting))
        .mark_rule(strokeWidth=1.6)
        .encode(x=on.x("from"), x2="to:Q", y=y, color=colour),
        alt.Chart(data_of(fitting))
        .mark_rule(strokeWidth=11)
        .encode(x=on.x("inner"), x2="outer:Q", y=y, color=colour),
        _words_at_right(spans, y),
    ]
    drawn: Chart = alt.layer(*layers).properties(
        width=_WIDTH,
        height=24 * len(spans),
        title=_title("Masses at which the legs match living animals'"),
    )
    return drawn


def _estimates(result: StrengthResult, pooled: PooledMass) -> list[dict[str, Any]]:
    """List the pooled mass, its lines, the states of fatness and what is not gathered."""
    named: list[tuple[str, Draws, str, str]] = [
        ("the pooled mass", pooled.mass_draws_kg, LOST, "diamond")
    ]
    named += [
        (short_title(line.title, letters=44), line.mass_draws_kg, VERDICT, "circle")
        for line in pooled.lines
        if line.pooled
    ]
    states = {state.state for state in result.states}
    named += [
        (f"{state.state} body", state.mass_draws_kg, VERDICT, "square")
        for state in result.states
        if state.state != "mean"
    ]
    named += [
        (short_title(line.title, letters=44), line.mass_draws_kg, OTHER, "circle")
        for line in pooled.lines
        if not line.pooled
        and not line.key.startswith(_ONE_MEASURE)
        and line.key.removeprefix(_GROWN) not in states
    ]
    rows: list[dict[str, Any]] = []
    for title, draws, colour, shape in named:
        low, middle, high = (float(v) for v in np.quantile(draws, [0.025, 0.5, 0.975]))
        inside = _share_inside(result, draws)
        rows.append(
            {
                "label": title,
                "from": low,
                "middle": middle,
                "to": high,
                "colour": colour,
                "shape": shape,
                "words": f"{100 * inside:.0f} % inside",
            }
        )
    return rows


def _share_inside(result: StrengthResult, mass_kg: Draws | float) -> float:
    return float(
        np.mean((mass_kg >= result.joint_low_draws_kg) & (mass_kg <= result.joint_high_draws_kg))
    )


def _gathered(
    result: StrengthResult,
    pooled: PooledMass,
    testimony: TestimonyResult | None,
    further: Sequence[Finding],
) -> list[dict[str, Any]]:
    """Gather alike estimates into a row each, a mark at each middle value."""
    rows = {
        "leg bones, one measure each": (
            [
                float(np.median(line.mass_draws_kg))
                for line in pooled.lines
                if not line.pooled and line.key.startswith(_ONE_MEASURE)
            ],
            OTHER,
            "circle",
        ),
        "published equations": (
            [summary.median for _, summary in published_masses(further)],
            OTHER,
            "circle",
        ),
        "weights claimed in accounts": (
            [claim.value for claim in weight_claims(testimony) if claim.value is not None],
            LOST,
            "diamond",
        ),
    }
    low = float(np.median(result.joint_low_draws_kg))
    high = float(np.median(result.joint_high_draws_kg))
    return [
        {
            "label": label,
            "middle": value,
            "colour": colour,
            "shape": shape,
            "words": f"{sum(low <= v <= high for v in values)} of {len(values)} inside",
        }
        for label, (values, colour, shape) in rows.items()
        for value in values
    ]


def mass_window_caption(result: StrengthResult) -> str:
    """Say what the marks of the figure mean."""
    words = (
        "Every estimate of mass, median and 95 % interval, over the shaded window of all bones at"
        " once (between its median ends), with the share of its draws inside. Hollow marks: middle"
        " values of alike estimates, a row a kind. Thick bars join the median ends of the masses"
        f" at which a bone's strength indicator lies within the {result.bounds} of the animals"
        " compared"
        " (figures at the right, kg); thin bars reach to the outer 2.5 % limits."
    )
    if result.share_without_window > 0.005:
        words += (
            f" In {100 * result.share_without_window:.0f} % of draws no mass suits all"
            f" {plural(len(result.bones), 'bone')}."
        )
    return words


def mass_window_words(result: StrengthResult) -> str:
    """Say the figure in words."""
    low = float(np.median(result.joint_low_draws_kg))
    high = float(np.median(result.joint_high_draws_kg))
    return (
        "Histogram of the pooled mass above the windows of masses each leg bone allows; together"
        f" about {range_words(low, high)} kg."
    )
