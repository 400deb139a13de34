"""The strength of the legs beside that of living animals."""

import altair as alt
import numpy as np

from bonewright.movement.strength import StrengthResult
from bonewright.quantity import Quantity
from bonewright.report.figures.figure import Chart, data_of, key_panel
from bonewright.report.figures.intervals import log_ticks, padded_log_domain
from bonewright.report.theme import BAND, LOST, OTHER
from bonewright.report.wording import element_rank

__all__ = [
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
        reach += bone.comparison_range_per_gpa
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
                "fill": OTHER if one.locomotion == comparison else "#ffffff",
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
        f" {result.bounds}. Squares: published figures (filled: they move so too),"
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
