"""What the estimates rest on, the ways to pool, and the rival hypotheses."""

import altair as alt

from bonewright.judgement.case import CaseResult
from bonewright.judgement.options import PoolingOption
from bonewright.judgement.pooling import PooledMass
from bonewright.quantity import Quantity, format_amount
from bonewright.report.figures.figure import Chart, data_of
from bonewright.report.figures.intervals import (
    IntervalRow,
    interval_panel,
    padded_log_domain,
    row_of_summary,
)
from bonewright.report.theme import INK, LOST, OTHER, PALETTE, POOLED, VERDICT
from bonewright.report.wording import mass_words, range_words

__all__ = [
    "ground",
    "ground_caption",
    "ground_words",
    "hypotheses",
    "hypotheses_caption",
    "hypotheses_words",
    "options",
    "options_caption",
    "options_words",
]

_STEP = 21
_COLOURS = {"pooled": VERDICT, "beside": OTHER, "bound": "#009E73", "claim": LOST}
_SHAPES = {"pooled": "circle", "beside": "circle", "bound": "square", "claim": "diamond"}
_BEARINGS = {
    "pooled": "enters the verdict",
    "beside": "stands beside it",
    "bound": "bounds it",
    "claim": "is claimed",
}
_LEFT, _RIGHT = 330.0, 480.0


def ground(case: CaseResult) -> Chart:
    """Draw the estimates at the left, what they rest on at the right, joined by lines."""
    nodes = sorted(
        case.nodes,
        key=lambda node: (
            ("mass", "height", "condition").index(node.about),
            tuple(_COLOURS).index(node.bearing),
        ),
    )
    things = list(dict.fromkeys(thing for node in nodes for thing in node.rests_on))
    height = _STEP * max(len(nodes), len(things))
    left = {node.key: (place + 0.5) * height / len(nodes) for place, node in enumerate(nodes)}
    # Each thing stands level with the middle of those that rest on it, then evenly spread.
    level = {
        thing: sum(left[node.key] for node in nodes if thing in node.rests_on)
        / sum(thing in node.rests_on for node in nodes)
        for thing in things
    }
    ordered = sorted(things, key=lambda thing: level[thing])
    right = {thing: (i + 0.5) * height / len(ordered) for i, thing in enumerate(ordered)}
    scale_x = alt.Scale(domain=[0, 640], range=[0, 640], nice=False)
    scale_y = alt.Scale(domain=[0, height], range=[0, height], nice=False)
    x = alt.X("x:Q", scale=scale_x, axis=None)
    y = alt.Y("y:Q", scale=scale_y, axis=None)
    links = [
        {
            "x": _LEFT + 8,
            "y": left[node.key],
            "x2": _RIGHT - 8,
            "y2": right[thing],
            "colour": _COLOURS[node.bearing],
            "width": 2.2 if node.bearing == "pooled" else 1.0,
        }
        for node in nodes
        for thing in node.rests_on
    ]
    lines = (
        alt.Chart(data_of(links))
        .mark_rule(opacity=0.75)
        .encode(
            x=x,
            y=y,
            x2="x2:Q",
            y2="y2:Q",
            color=alt.Color("colour:N", scale=None),
            strokeWidth=alt.StrokeWidth("width:Q", scale=None),
        )
    )
    marks = [
        {
            "x": _LEFT,
            "y": left[node.key],
            "words": f"{node.title}" + ("" if node.about == "mass" else f" ({node.about})"),
            "colour": _COLOURS[node.bearing],
            "shape": _SHAPES[node.bearing],
        }
        for node in nodes
    ]
    points = (
        alt.Chart(data_of(marks))
        .mark_point(size=54, filled=True, opacity=1)
        .encode(
            x=x,
            y=y,
            shape=alt.Shape("shape:N", scale=None),
            color=alt.Color("colour:N", scale=None),
        )
    )
    words = (
        alt.Chart(data_of(marks))
        .mark_text(align="right", dx=-9, fontSize=11, limit=320)
        .encode(x=x, y=y, text="words:N")
    )
    grounds = [{"x": _RIGHT, "y": right[thing], "words": thing} for thing in ordered]
    squares = (
        alt.Chart(data_of(grounds))
        .mark_point(shape="square", size=54, filled=True, opacity=1, color=INK)
        .encode(x=x, y=y)
    )
    names = (
        alt.Chart(data_of(grounds))
        .mark_text(align="left", dx=9, fontSize=11, limit=150)
        .encode(x=x, y=y, text="words:N")
    )
    drawn: Chart = alt.layer(lines, points, words, squares, names).properties(
        width=640, height=height
    )
    return drawn


def ground_caption(case: CaseResult) -> str:
    """Say what the marks of the figure mean."""
    count = sum(node.count for node in case.nodes)
    return (
        f"Left: {count} estimates of mass, and of height and condition where marked so; alike ones"
        " are gathered. Right: what they rest on. Blue dots and thick lines: enters the verdict;"
        " grey: stands beside it; green square: bounds it; orange diamond: claimed. Two"
        " estimates joined to one thing at the right share it."
    )


def ground_words(case: CaseResult) -> str:
    """Say the figure in words."""
    return "What each estimate rests on: " + "; ".join(
        f"{node.title} ({_BEARINGS[node.bearing]}): {', '.join(node.rests_on)}"
        for node in case.nodes
    )


def options(given: tuple[PoolingOption, ...]) -> Chart:
    """Draw the pooled mass under every way to pool."""
    verdict = next(option for option in given if option.default)
    rows = tuple(
        IntervalRow(
            label=option.title,
            middle=option.middle_kg,
            outer=(_near(option.low_kg, verdict), _near(option.high_kg, verdict)),
            colour=VERDICT if option.default else POOLED,
            margin=_ends(option, verdict),
        )
        for option in given
    )
    reach = [end for row in rows for end in (row.outer or ())]
    return interval_panel(
        rows,
        x_title="Pooled body mass (kg, logarithmic scale)",
        domain=padded_log_domain(reach),
        log=True,
        width=220,
        step=20,
        band=(verdict.low_kg, verdict.high_kg),
        label_width=320,
    )


def _ends(option: PoolingOption, verdict: PoolingOption) -> str:
    if _near(option.high_kg, verdict) != option.high_kg:
        return "off the scale"
    # All with the digits that the verdict deserves, so that none looks surer than it is.
    spread = verdict.high_kg - verdict.low_kg
    low, high = (format_amount(end, spread=spread) for end in (option.low_kg, option.high_kg))
    return f"{low} to {high}"


def _near(value: float, verdict: PoolingOption) -> float:
    # An interval on one degree of freedom would press all others together.
    return min(max(value, verdict.low_kg / 4), verdict.high_kg * 4)


def options_caption(pooled: PooledMass) -> str:
    """Say what the marks of the figure mean."""
    return (
        f"The {len(pooled.weights_percent)} lines pooled in every way: middles and 95 % intervals;"
        " shaded: the verdict's interval. Bars end at a quarter and four times of it."
    )


def options_words(given: tuple[PoolingOption, ...]) -> str:
    """Say the figure in words."""
    return "Pooled mass by way of pooling: " + "; ".join(
        f"{option.title}, {range_words(option.low_kg, option.high_kg)} kg" for option in given
    )


def hypotheses(case: CaseResult, pooled: PooledMass) -> Chart:
    """Draw the masses that each hypothesis entails beside the verdict."""
    verdict = Quantity(draws=pooled.mass_draws_kg, unit="kg").summary()
    rows = [
        row_of_summary(
            "verdict, over the year", verdict, colour=VERDICT, margin=mass_words(verdict)
        )
    ]
    for place, item in enumerate(case.hypotheses):
        rows += [
            row_of_summary(
                f"{item.title}: {state}",
                summary,
                colour=PALETTE[(place + 1) % len(PALETTE)],
                margin=mass_words(summary),
            )
            for state, summary in item.masses_kg.items()
        ]
    reach = [end for row in rows for end in (row.outer or (row.middle,))]
    return interval_panel(
        tuple(rows),
        x_title="Body mass (kg, logarithmic scale)",
        domain=padded_log_domain(reach),
        log=True,
        width=215,
        step=22,
        band=verdict.interval95,
        label_width=290,
    )


def hypotheses_caption(case: CaseResult) -> str:
    """Say what the marks of the figure mean."""
    shares = "; ".join(
        f"{item.title}: explains {len(item.explains)} of"
        f" {len(item.explains) + len(item.contradicts)} witnesses"
        for item in case.hypotheses
    )
    return (
        "Mass in each season by each hypothesis: medians with 50 and 95 % intervals; shaded: the"
        f" verdict's. {shares}."
    )


def hypotheses_words(case: CaseResult) -> str:
    """Say the figure in words."""
    return "Mass by hypothesis: " + "; ".join(
        f"{item.title}, {state}, {mass_words(summary)} kg"
        for item in case.hypotheses
        for state, summary in item.masses_kg.items()
    )
