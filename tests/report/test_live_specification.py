"""Figures handed to the page: fields are named as the axes name them."""

import altair as alt

from bonewright.report.figures.figure import data_of
from bonewright.report.rendering import live_spec


def _panel(title: str, *, mass: str | None) -> alt.Chart:
    return (
        alt.Chart(data_of([{"bone": 1.0, "mass": 2.0}]))
        .mark_point()
        .encode(x=alt.X("bone:Q", title=title), y=alt.Y("mass:Q", title=mass))
    )


def test_a_title_written_once_serves_all_panels_and_differing_ones_leave_their_unit() -> None:
    chart = alt.hconcat(
        _panel("femur CD (mm)", mass="Body mass (kg)"), _panel("ulna GL (mm)", mass=None)
    )
    titles = live_spec(chart)["usermeta"]["titles"]
    assert titles == {"bone": "bone (mm)", "mass": "Body mass (kg)"}
