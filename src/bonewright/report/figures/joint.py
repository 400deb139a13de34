"""Relatives of known mass, foretold by the leg bones together."""

import altair as alt

from bonewright.relatives.results import Foretold, JointLine
from bonewright.report.figures.figure import Chart, Panel, data_of
from bonewright.report.figures.intervals import log_ticks, padded_log_domain
from bonewright.report.theme import INK, LOST, MUTED, VERDICT
from bonewright.report.wording import plural

__all__ = ["foretold_relatives", "foretold_relatives_caption", "foretold_relatives_words"]

_RATIOS = (0.25, 0.33, 0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0)


def _holds(one: Foretold) -> bool:
    return one.low_kg <= one.known_kg <= one.high_kg


def _panel(
    relatives: tuple[Foretold, ...], *, title: str, reach: tuple[float, float], left: bool
) -> Panel:
    rows = [
        {
            "known": one.known_kg,
            "low": max(one.low_kg / one.known_kg, reach[0]),
            "middle": min(max(one.middle_kg / one.known_kg, reach[0]), reach[1]),
            "high": min(one.high_kg / one.known_kg, reach[1]),
            "held": "held" if _holds(one) else "missed",
        }
        for one in relatives
    ]
    masses = padded_log_domain([one.known_kg for one in relatives])
    x = alt.X(
        "known:Q",
        scale=alt.Scale(type="log", domain=list(masses), nice=False),
        axis=alt.Axis(values=log_ticks(masses), title="Known body mass (kg)"),
    )
    scale = alt.Scale(type="log", domain=list(reach), nice=False)
    axis = alt.Axis(
        values=[ratio for ratio in _RATIOS if reach[0] <= ratio <= reach[1]],
        title="Foretold mass (of known mass)" if left else None,
        format="~g",
    )
    colour = alt.Color(
        "held:N", legend=None, scale=alt.Scale(domain=["held", "missed"], range=[VERDICT, LOST])
    )
    shape = alt.Shape(
        "held:N", legend=None, scale=alt.Scale(domain=["held", "missed"], range=["circle", "cross"])
    )
    base = alt.Chart(data_of(rows))
    return alt.layer(
        alt.Chart(data_of([{"one": 1.0}]))
        .mark_rule(color=MUTED, strokeDash=[4, 3])
        .encode(y=alt.Y("one:Q", scale=scale, axis=axis)),
        base.mark_rule(strokeWidth=1.2, opacity=0.75).encode(
            x=x, y=alt.Y("low:Q", scale=scale, axis=axis), y2="high:Q", color=colour
        ),
        base.mark_point(filled=True, size=30, opacity=1).encode(
            x=x, y=alt.Y("middle:Q", scale=scale, axis=axis), color=colour, shape=shape
        ),
    ).properties(
        width=258,
        height=190,
        title=alt.TitleParams(title, frame="group", color=INK, anchor="start"),
    )


def foretold_relatives(line: JointLine) -> Chart:
    """Draw foretold over known mass of each relative left out, and of the heaviest together."""
    every = (*line.each_left_out, *line.heaviest_out)
    furthest = max(
        2.0, *(max(one.high_kg / one.known_kg, one.known_kg / one.low_kg) for one in every)
    )
    reach = (1 / min(1.05 * furthest, 5.0), min(1.05 * furthest, 5.0))
    panels = [
        _panel(line.each_left_out, title="A quarter left out in turn", reach=reach, left=True)
    ]
    if line.heaviest_out:
        panels.append(
            _panel(
                line.heaviest_out,
                title="The heaviest, foretold by the lighter",
                reach=reach,
                left=False,
            )
        )
    return alt.hconcat(*panels, spacing=18)


def foretold_relatives_caption(line: JointLine) -> str:
    """Say what the marks of the figure mean."""
    text = (
        f"n = {len(line.each_left_out)} living species. Each mark is"
        " a relative of known mass foretold without it and a quarter of the others from its"
        f" {plural(len(line.bones), 'measurement')} together: median and 95 % interval over the"
        " known mass; on the dashed line it is right."
        f" The intervals hold {sum(map(_holds, line.each_left_out))} of"
        f" {len(line.each_left_out)}"
    )
    if line.heaviest_out:
        text += (
            f", and {sum(map(_holds, line.heaviest_out))} of the {len(line.heaviest_out)} heaviest"
            " when only lighter species are known, which is how a giant must be foretold"
        )
    return text + ". Crosses mark intervals that miss. Both axes are logarithmic."


def foretold_relatives_words(line: JointLine) -> str:
    """Say the figure in words."""
    return (
        f"Scatter plot of foretold over known mass: intervals hold"
        f" {sum(map(_holds, line.each_left_out))} of {len(line.each_left_out)} relatives left out"
        f" in turn and {sum(map(_holds, line.heaviest_out))} of {len(line.heaviest_out)} heaviest"
        " foretold by the lighter."
    )
