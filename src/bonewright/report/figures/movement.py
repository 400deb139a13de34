"""The strength of the legs beside that of living animals, and the masses it allows."""

from typing import Any

import altair as alt
import numpy as np

from bonewright.judgement.pooling import PooledMass
from bonewright.movement.strength import StrengthResult
from bonewright.quantity import Quantity
from bonewright.report.figures.figure import Chart, data_of, key_panel
from bonewright.report.figures.intervals import log_ticks, padded_log_domain
from bonewright.report.theme import BAND, INK, LOST, OTHER, VERDICT
from bonewright.report.wording import element_rank, plural, range_words, short_title

__all__ = [
    "mass_window",
    "mass_window_caption",
    "mass_window_words",
    "strength",
    "strength_caption",
    "strength_words",
]

_LOST = "the lost animal"


def _elements(result: StrengthResult) -> list[str]:
    return sorted(result.bones, key=element_rank)


def strength(result: StrengthResult, *, comparison: str) -> Chart:
    """Draw the indicator of each living animal and of the lost one, a panel a bone.

    ``comparison`` is the class of movement whose range counts; others are drawn hollow.
    """
    by_mass = {animal.species: animal.body_mass_kg for animal in result.comparison}
    species = [_LOST, *sorted(by_mass, key=lambda name: -by_mass[name])]
    labels = [name if name == _LOST else f"{name}, {by_mass[name]:.3g} kg" for name in species]
    label_of = dict(zip(species, labels, strict=True))
    labels += sorted({f"{one.animal} (published)" for one in result.published})
    reach = [animal.indicator_per_gpa for animal in result.comparison]
    reach += [one.indicator_per_gpa for one in result.published]
    for bone in result.bones.values():
        reach += [float(end) for end in np.quantile(bone.indicator_draws_per_gpa, [0.025, 0.975])]
    domain = padded_log_domain(reach)
    panels = []
    for place, element in enumerate(_elements(result)):
        bone = result.bones[element]
        summary = Quantity(draws=bone.indicator_draws_per_gpa, unit="GPa^-1").summary()
        scale = alt.Scale(type="log", domain=list(domain), nice=False)
        axis = alt.Axis(values=log_ticks(domain), title="Strength indicator (GPa⁻¹)")
        x = alt.X("from:Q", scale=scale, axis=axis)
        y = alt.Y(
            "label:N",
            sort=labels,
            title=None,
            scale=alt.Scale(domain=labels),
            axis=alt.Axis(ticks=False, domain=False, labelPadding=6) if place == 0 else None,
        )
        low, high = bone.comparison_range_per_gpa
        points = [
            {
                "label": label_of[a.species],
                "from": a.indicator_per_gpa,
                "fill": OTHER if a.locomotion == comparison else "#ffffff",
            }
            for a in result.comparison
            if a.element == element
        ]
        published = [
            {
                "label": f"{one.animal} (published)",
                "from": one.indicator_per_gpa,
                "fill": OTHER if one.runs else "#ffffff",
            }
            for one in result.published
            if one.element == element
        ]
        lost = [
            {
                "label": labels[0],
                "from": summary.interval95[0],
                "to": summary.interval95[1],
                "inner": summary.interval50[0],
                "outer": summary.interval50[1],
                "middle": summary.median,
            }
        ]
        layers = [
            alt.Chart(data_of([{"from": low, "to": high}]))
            .mark_rect(color=BAND, opacity=0.8)
            .encode(x=x, x2="to:Q"),
            alt.Chart(data_of(points))
            .mark_point(stroke=OTHER, strokeWidth=1.3, size=40, opacity=1)
            .encode(x=x, y=y, fill=alt.Fill("fill:N", scale=None)),
            alt.Chart(data_of(published))
            .mark_point(stroke=OTHER, strokeWidth=1.3, shape="square", size=40, opacity=1)
            .encode(x=x, y=y, fill=alt.Fill("fill:N", scale=None)),
            alt.Chart(data_of(lost))
            .mark_rule(color=LOST, strokeWidth=1.6)
            .encode(x=x, x2="to:Q", y=y),
            alt.Chart(data_of(lost))
            .mark_rule(color=LOST, strokeWidth=5)
            .encode(x=alt.X("inner:Q", scale=scale, axis=axis), x2="outer:Q", y=y),
            alt.Chart(data_of(lost))
            .mark_point(filled=True, color=LOST, shape="diamond", size=70, opacity=1)
            .encode(x=alt.X("middle:Q", scale=scale, axis=axis), y=y),
        ]
        panels.append(
            alt.layer(*layers).properties(
                width=132,
                height=17 * len(labels),
                title=alt.TitleParams(element, frame="group"),
            )
        )
    key = [("the lost animal", "diamond", LOST, True), (comparison, "circle", OTHER, True)]
    if any(animal.locomotion != comparison for animal in result.comparison):
        key.append(("moves otherwise, not in the range", "circle", OTHER, False))
    return alt.vconcat(
        key_panel(tuple(key)), alt.hconcat(*panels, spacing=26, bounds="flush"), spacing=6
    )


def strength_caption(result: StrengthResult) -> str:
    """Say what the marks of the figure mean."""
    counts = ", ".join(
        f"{element} n = {result.bones[element].n_comparison}" for element in _elements(result)
    )
    return (
        f"Filled dots: living species compared with ({counts}), heaviest first; shaded: their"
        " range. Squares: published figures (filled: runs fast),"
        f" {'counted' if result.published_counted else 'not counted'} in the range."
        f" Diamond, thick and thin bar: {_LOST} at the pooled mass, median, 50 and 95 %"
        " intervals. Higher is stronger for the weight carried. Logarithmic scale."
    )


def strength_words(result: StrengthResult) -> str:
    """Say the figure in words."""
    return "Strength indicators by leg bone. " + "; ".join(
        f"{element}: lost animal about"
        f" {float(np.median(bone.indicator_draws_per_gpa)):.3g}, living animals"
        f" {bone.comparison_range_per_gpa[0]:.3g} to {bone.comparison_range_per_gpa[1]:.3g} per"
        " gigapascal"
        for element, bone in ((e, result.bones[e]) for e in _elements(result))
    )


def mass_window(result: StrengthResult, pooled: PooledMass) -> Chart:
    """Draw the masses each bone allows, and every estimate of mass over the joint window."""
    mass_draws_kg = pooled.mass_draws_kg
    windows = [
        (
            element,
            result.bones[element].window_low_draws_kg,
            result.bones[element].window_high_draws_kg,
        )
        for element in _elements(result)
    ]
    windows.append(("all bones at once", result.joint_low_draws_kg, result.joint_high_draws_kg))
    labels = [name for name, _, _ in windows]
    spans = []
    for name, low, high in windows:
        lowest, low_middle = (float(v) for v in np.quantile(low, [0.025, 0.5]))
        high_middle, highest = (float(v) for v in np.quantile(high, [0.5, 0.975]))
        if low_middle <= high_middle:
            spans.append(
                {
                    "label": name,
                    "from": lowest,
                    "to": highest,
                    "inner": low_middle,
                    "outer": high_middle,
                    "colour": VERDICT if name == labels[-1] else OTHER,
                    "words": range_words(low_middle, high_middle),
                }
            )
    reach = [float(v) for v in np.quantile(mass_draws_kg, [0.0005, 0.9995])]
    reach += [float(span[end]) for span in spans for end in ("from", "to")]  # type: ignore[arg-type]
    reach += [float(row[end]) for row in _estimates(result, pooled) for end in ("from", "to")]
    domain = padded_log_domain(reach)
    edges = np.geomspace(*domain, 81)
    counts, _ = np.histogram(mass_draws_kg, bins=edges)
    share = 100 * counts / len(mass_draws_kg)
    bars = [
        {"from": float(a), "to": float(b), "share": float(s)}
        for a, b, s in zip(edges[:-1], edges[1:], share, strict=True)
        if s > 0
    ]
    scale = alt.Scale(type="log", domain=list(domain), nice=False)
    hidden = alt.Axis(values=log_ticks(domain), labels=False, ticks=False, domain=False, title=None)
    top = (
        alt.Chart(data_of(bars))
        .mark_rect(color=LOST, opacity=0.75)
        .encode(
            x=alt.X("from:Q", scale=scale, axis=hidden),
            x2="to:Q",
            y=alt.Y("share:Q", title="Draws (%)", axis=alt.Axis(tickCount=3)),
            y2=alt.datum(0),
        )
        .properties(width=290, height=90, title=alt.TitleParams("The pooled mass", frame="group"))
    )
    axis = alt.Axis(values=log_ticks(domain), title="Body mass (kg, logarithmic scale)")
    x = alt.X("from:Q", scale=scale, axis=axis)
    y = alt.Y(
        "label:N",
        sort=labels,
        title=None,
        scale=alt.Scale(domain=labels),
        axis=alt.Axis(ticks=False, domain=False, labelPadding=6),
    )
    colour = alt.Color("colour:N", scale=None)
    layers: list[alt.Chart] = [
        alt.Chart(data_of(spans))
        .mark_rule(strokeWidth=1.6)
        .encode(x=x, x2="to:Q", y=y, color=colour),
        alt.Chart(data_of(spans))
        .mark_rule(strokeWidth=11)
        .encode(x=alt.X("inner:Q", scale=scale, axis=axis), x2="outer:Q", y=y, color=colour),
        alt.Chart(data_of(spans))
        .mark_text(align="left", baseline="middle", color=INK)
        .encode(x=alt.value(300), y=y, text="words:N"),
    ]
    estimates = _estimates(result, pooled)
    names = [str(row["label"]) for row in estimates]
    estimate_y = alt.Y(
        "label:N",
        sort=names,
        title=None,
        scale=alt.Scale(domain=names),
        axis=alt.Axis(ticks=False, domain=False, labelPadding=6, labelLimit=290),
    )
    joint = [span for span in spans if span["label"] == labels[-1]]
    estimate_x = alt.X("from:Q", scale=scale, axis=hidden)
    over: list[alt.Chart] = [
        alt.Chart(data_of(joint))
        .mark_rect(color=BAND)
        .encode(x=alt.X("inner:Q", scale=scale, axis=hidden), x2="outer:Q"),
        alt.Chart(data_of(estimates))
        .mark_rule(strokeWidth=1.6)
        .encode(x=estimate_x, x2="to:Q", y=estimate_y, color=colour),
        alt.Chart(data_of(estimates))
        .mark_point(filled=True, size=55, opacity=1)
        .encode(
            x=alt.X("middle:Q", scale=scale, axis=hidden),
            y=estimate_y,
            color=colour,
            shape=alt.Shape("shape:N", scale=None),
        ),
        alt.Chart(data_of(estimates))
        .mark_text(align="left", baseline="middle", color=INK)
        .encode(x=alt.value(300), y=estimate_y, text="words:N"),
    ]
    between = alt.layer(*over).properties(
        width=290,
        height=20 * len(names),
        title=alt.TitleParams("Every estimate of mass over the window", frame="group"),
    )
    bottom = alt.layer(*layers).properties(
        width=290,
        height=24 * len(labels),
        title=alt.TitleParams("Masses at which the legs match living animals'", frame="group"),
    )
    return alt.vconcat(top, between, bottom, spacing=8)


def _estimates(result: StrengthResult, pooled: PooledMass) -> list[dict[str, Any]]:
    """List every estimate of mass with its interval: lines, states and the pooled mass."""
    named = [
        (
            short_title(line.title, letters=44),
            line.mass_draws_kg,
            OTHER,
            "circle" if line.pooled else "stroke",
        )
        for line in pooled.lines
        if line.pooled
    ]
    named += [
        (f"{state.state} body", state.mass_draws_kg, VERDICT, "square")
        for state in result.states
        if state.state != "mean"
    ]
    named.append(("the pooled mass", pooled.mass_draws_kg, LOST, "diamond"))
    rows: list[dict[str, Any]] = []
    for title, draws, colour, shape in named:
        low, middle, high = (float(v) for v in np.quantile(draws, [0.025, 0.5, 0.975]))
        inside = np.mean(
            (draws >= result.joint_low_draws_kg) & (draws <= result.joint_high_draws_kg)
        )
        rows.append(
            {
                "label": title,
                "from": low,
                "middle": middle,
                "to": high,
                "colour": colour,
                "shape": shape,
                "words": f"{100 * float(inside):.0f} % inside",
            }
        )
    return rows


def mass_window_caption(result: StrengthResult) -> str:
    """Say what the marks of the figure mean."""
    words = (
        "Every estimate of mass, median and 95 % interval, over the shaded window of all bones at"
        " once, with the share of its draws inside. Thick bars join the median ends of the masses"
        " at which a bone's strength indicator lies within the range of the comparison animals"
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
