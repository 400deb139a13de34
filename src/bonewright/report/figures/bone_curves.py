"""Properties of a bone's section as curves along its length."""

from collections.abc import Sequence

import altair as alt
import numpy as np

from bonewright.report.figures.figure import Chart, data_of, key_panel
from bonewright.report.theme import INK, LOST, OTHER, VERDICT
from bonewright.report.wording import element_rank, plural
from bonewright.sections.properties import MeasuredSection, SectionsResult

__all__ = ["bone_curves", "bone_curves_caption", "bone_curves_words", "whole_bones"]

_FEWEST = 4
_PANELS = (
    ("Area of bone (mm²)", (("area_mm2", INK),)),
    (
        "Second moment (mm⁴)",
        (("greatest_moment_mm4", VERDICT), ("least_moment_mm4", LOST)),
    ),
    (
        "Section modulus (mm³)",
        (
            ("section_modulus_greatest_mm3", VERDICT),
            ("section_modulus_least_mm3", LOST),
        ),
    ),
    ("Inner over outer", (("inner_over_outer", OTHER),)),
)


def whole_bones(result: SectionsResult) -> dict[str, tuple[MeasuredSection, ...]]:
    """Return bones sectioned at four places or more: sections in order, by name."""
    bones: dict[str, list[MeasuredSection]] = {}
    for section in result.measured:
        owner = section.specimen_id or section.species
        if owner is not None:
            bones.setdefault(f"{section.element} of {owner}", []).append(section)
    found = {
        name: tuple(sorted(sections, key=lambda s: s.position_fraction))
        for name, sections in bones.items()
        if len({section.position_fraction for section in sections}) >= _FEWEST
    }
    return dict(sorted(found.items(), key=lambda item: (element_rank(item[1][0].element), item[0])))


def bone_curves(result: SectionsResult) -> Chart:
    """Draw four measures of the section against the position, a row of panels a bone."""
    rows = [_row(name, sections) for name, sections in whole_bones(result).items()]
    key = key_panel(
        (
            ("about the axis of greatest moment", "circle", VERDICT, True),
            ("about that of the least", "circle", LOST, True),
        )
    )
    return alt.vconcat(key, *rows, spacing=14)


def _row(name: str, sections: Sequence[MeasuredSection]) -> alt.HConcatChart:
    panels = []
    for title, lines in _PANELS:
        layers: list[alt.Chart] = []
        points = {field: [_point(section, field) for section in sections] for field, _ in lines}
        # Room above the highest value keeps labels out of the title.
        top = 1.12 * max(point["high"] for rows in points.values() for point in rows)
        for field, colour in lines:
            rows = points[field]
            x = alt.X(
                "position:Q",
                scale=alt.Scale(domain=[0, 100]),
                axis=alt.Axis(title="Position (%)", values=[0, 25, 50, 75, 100]),
            )
            y = alt.Y(
                "value:Q",
                title=None,
                scale=alt.Scale(domain=[0, top], nice=False),
                axis=alt.Axis(tickCount=4, labelBound=8),
            )
            data = data_of(rows)
            layers += [
                alt.Chart(data).mark_line(color=colour, strokeWidth=1.6).encode(x=x, y=y),
                alt.Chart(data).mark_rule(color=colour).encode(x=x, y="low:Q", y2="high:Q"),
                alt.Chart(data).mark_point(filled=True, color=colour, size=30).encode(x=x, y=y),
            ]
        panels.append(
            alt.layer(*layers).properties(
                width=105, height=110, title=alt.TitleParams(title, fontSize=11, frame="group")
            )
        )
    return alt.hconcat(
        *panels,
        spacing=50,
        bounds="flush",
        title=alt.TitleParams(name[:1].upper() + name[1:], fontSize=12),
    )


def _point(section: MeasuredSection, field: str) -> dict[str, float]:
    value = float(getattr(section.properties, field))
    stretch = float(np.exp(1.96 * _doubt(section, field)))
    return {
        "position": 100 * section.position_fraction,
        "value": value,
        "low": value / stretch,
        "high": value * stretch,
    }


def _doubt(section: MeasuredSection, field: str) -> float:
    """Return the standard deviation of a measure's logarithm, where it is known."""
    return section.modulus_sd_ln if field.startswith("section_modulus") else 0.0


def bone_curves_caption(result: SectionsResult) -> str:
    """Say what the marks of the figure mean."""
    bones = whole_bones(result)
    counts = ", ".join(f"{name}, n = {len(sections)}" for name, sections in bones.items())
    return (
        f"Bones sectioned all along ({counts} sections). Moments and moduli about the two"
        " principal axes of each section; position from the upper end; rules at"
        " the moduli: 95 % by the placing of the edge."
        " Lines only join the sections."
    )


def bone_curves_words(result: SectionsResult) -> str:
    """Say the figure in words."""
    parts = []
    for name, sections in whole_bones(result).items():
        moduli = [section.properties.section_modulus_least_mm3 for section in sections]
        least = sections[int(np.argmin(moduli))]
        parts.append(
            f"{name}: {plural(len(sections), 'section')}; the least section modulus,"
            f" {min(moduli):.3g} cubic millimetres, lies at"
            f" {100 * least.position_fraction:.0f} percent of the length"
        )
    return "Curves of area, moments and moduli along the bone. " + "; ".join(parts) + "."
