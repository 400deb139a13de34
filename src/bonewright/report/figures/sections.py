"""Cross-sections drawn to one scale."""

from typing import Any

import altair as alt
import numpy as np

from bonewright.report.figures.figure import Chart, data_of
from bonewright.report.theme import BAND, INK, LOST, MUTED, PAGE_WIDTH_PX, VERDICT
from bonewright.report.wording import element_rank, plural
from bonewright.sections.properties import MeasuredSection, SectionsResult

__all__ = [
    "lost_sections",
    "section_outlines",
    "section_outlines_caption",
    "section_outlines_words",
]

_ACROSS = 4
# Room for the name of the bone at the left, in widths of a section.
_HEADING = 0.8
_BARS_MM = (1, 2, 5, 10, 20, 50, 100)


def lost_sections(result: SectionsResult) -> tuple[MeasuredSection, ...]:
    """Return the lost animal's sections, from hip to foot."""
    own = [section for section in result.measured if section.species is None]
    return tuple(sorted(own, key=lambda s: (element_rank(s.element), s.section_id)))


def _principal_axes(section: MeasuredSection) -> tuple[tuple[float, bool], ...]:
    """Return the angles of the two principal axes, and which has the greatest moment."""
    angle = section.properties.axis_of_greatest_rad
    return (angle, True), (angle + np.pi / 2, False)


def _extent(section: MeasuredSection) -> tuple[float, float, float, float]:
    xs = [x for x, _ in section.outline_mm[0]]
    ys = [y for _, y in section.outline_mm[0]]
    return min(xs), max(xs), min(ys), max(ys)


def section_outlines(result: SectionsResult) -> Chart:
    """Draw the lost animal's sections, one row an element, all to one scale.

    Equal lengths along x and y are equal on the page: the size of the drawing in pixels is
    its size in mm times one factor.
    """
    groups: dict[str, list[MeasuredSection]] = {}
    for section in lost_sections(result):
        groups.setdefault(section.element, []).append(section)
    rows_of = [
        (element, group[start : start + _ACROSS])
        for element, group in groups.items()
        for start in range(0, len(group), _ACROSS)
    ]
    extents = {s.section_id: _extent(s) for group in groups.values() for s in group}
    cell_x = 1.6 * max(right - left for left, right, _, _ in extents.values())
    cell_y = 1.2 * max(top - bottom for _, _, bottom, top in extents.values())
    gap = 0.5 * cell_y
    rings: list[dict[str, Any]] = []
    labels: list[dict[str, Any]] = []
    axes: list[dict[str, Any]] = []
    headings: list[dict[str, Any]] = []
    for row, (element, group) in enumerate(rows_of):
        base = -(row + 0.5) * (cell_y + gap)
        if row == 0 or rows_of[row - 1][0] != element:
            headings.append({"x": 0.04 * cell_x, "y": base, "words": element})
        for column, section in enumerate(group):
            left, right, bottom, top = extents[section.section_id]
            at_x = (column + 0.5 + _HEADING) * cell_x - (left + right) / 2
            at_y = base - (bottom + top) / 2
            for number, ring in enumerate(section.outline_mm):
                rings += [
                    {
                        "ring": f"{section.section_id}/{number}",
                        "hole": number > 0,
                        "order": order,
                        "x": at_x + x,
                        "y": at_y + y,
                    }
                    for order, (x, y) in enumerate((*ring, ring[0]))
                ]
            x0, y0 = section.properties.centroid_mm
            for angle, strong in _principal_axes(section):
                reach = 0.56 * max(right - left, top - bottom)
                step_x, step_y = reach * np.cos(angle), reach * np.sin(angle)
                axes.append(
                    {
                        "x": float(at_x + x0 - step_x),
                        "to_x": float(at_x + x0 + step_x),
                        "y": float(at_y + y0 - step_y),
                        "to_y": float(at_y + y0 + step_y),
                        "colour": VERDICT if strong else LOST,
                    }
                )
            labels += [
                {
                    "x": (column + 0.5 + _HEADING) * cell_x,
                    "y": base - 0.56 * max(right - left, top - bottom) - 0.06 * gap,
                    "words": f"{section.section_id}, {100 * section.position_fraction:.0f} %",
                },
                {
                    "x": (column + 0.5 + _HEADING) * cell_x,
                    "y": base - 0.56 * max(right - left, top - bottom) - 0.36 * gap,
                    "words": f"Z {section.properties.section_modulus_greatest_mm3:.0f},"
                    f" {section.properties.section_modulus_least_mm3:.0f} mm³",
                },
            ]
    width_mm = cell_x * (_HEADING + max(len(group) for _, group in rows_of))
    bar_mm = max((b for b in _BARS_MM if b <= 0.7 * cell_x), default=1)
    bottom_mm = -len(rows_of) * (cell_y + gap) - 0.5 * gap
    factor = min(PAGE_WIDTH_PX * 0.92 / width_mm, 700 / -bottom_mm)
    x_scale = alt.Scale(domain=[0, width_mm], nice=False)
    y_scale = alt.Scale(domain=[bottom_mm, 0], nice=False)

    def x(field: str) -> alt.X:
        return alt.X(field, scale=x_scale, axis=None)

    def y(field: str) -> alt.Y:
        return alt.Y(field, scale=y_scale, axis=None)

    def drawn(*, hole: bool, colour: str) -> alt.Chart:
        chart: alt.Chart = (
            alt.Chart(data_of([row for row in rings if row["hole"] is hole]))
            .mark_line(filled=True, fill=colour, stroke=INK, strokeWidth=0.8, fillOpacity=1)
            .encode(x=x("x:Q"), y=y("y:Q"), detail="ring:N", order="order:Q")
        )
        return chart

    layers = [drawn(hole=False, colour=BAND)]
    if any(row["hole"] for row in rings):
        layers.append(drawn(hole=True, colour="#ffffff"))
    layers.append(
        alt.Chart(data_of(axes))
        .mark_rule(strokeWidth=1.2)
        .encode(
            x=x("x:Q"),
            x2="to_x:Q",
            y=y("y:Q"),
            y2="to_y:Q",
            color=alt.Color("colour:N", scale=None),
        )
    )
    layers.append(
        alt.Chart(data_of(headings))
        .mark_text(align="left", baseline="middle", fontWeight=600)
        .encode(x=x("x:Q"), y=y("y:Q"), text="words:N")
    )
    layers.append(
        alt.Chart(data_of(labels))
        .mark_text(baseline="top")
        .encode(x=x("x:Q"), y=y("y:Q"), text="words:N")
    )
    bar = [
        {
            "x": 0.06 * cell_x,
            "to": 0.06 * cell_x + bar_mm,
            "y": bottom_mm + 0.25 * gap,
            "words": f"{bar_mm} mm",
        }
    ]
    layers.append(
        alt.Chart(data_of(bar))
        .mark_rule(strokeWidth=3, color=INK)
        .encode(x=x("x:Q"), x2="to:Q", y=y("y:Q"))
    )
    layers.append(
        alt.Chart(data_of(bar))
        .mark_text(align="left", baseline="middle", dx=8, color=MUTED)
        .encode(x=x("to:Q"), y=y("y:Q"), text="words:N")
    )
    return alt.layer(*layers).properties(width=factor * width_mm, height=-factor * bottom_mm)


def section_outlines_caption(result: SectionsResult) -> str:
    """Say what the marks of the figure mean."""
    own = lost_sections(result)
    return (
        f"{plural(len(own), 'section')} of the lost animal's bones, all to the scale of the bar"
        " (mm). Shaded: bone; white: marrow hole. Across: mediolateral; up: anteroposterior."
        " Lines: principal axes through the centroid, blue the one about which the section"
        " bears most, orange the one about which it bears least; below, the section moduli about"
        " the two. Sections taken with callipers are drawn as the ellipses they are computed as."
        f" {plural(len(result.measured) - len(own), 'section')} of living species, measured"
        " alike, are not drawn."
    )


def section_outlines_words(result: SectionsResult) -> str:
    """Say the figure in words."""
    own = lost_sections(result)
    areas = [section.properties.area_mm2 for section in own]
    return (
        f"Outlines of {plural(len(own), 'bone section')} drawn to one scale; bone areas from"
        f" {min(areas):.3g} to {max(areas):.3g} square millimetres."
    )
