"""Tables of bone sections and of the stresses in leg bones."""

from typing import TYPE_CHECKING

import numpy as np

from bonewright.movement.indicator import strength_indicator
from bonewright.movement.stresses import GAITS
from bonewright.quantity import Draws, Quantity, format_amount
from bonewright.report.blocks import TableBlock, TableColumn
from bonewright.report.wording import count_words, element_rank, interval_words
from bonewright.sections.properties import MeasuredSection

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["indicators_compared", "sections_measured", "stresses_by_gait"]


def _whole(value: float) -> str:
    return count_words(round(value))


def sections_measured(run: "Run") -> TableBlock | None:
    """List the lost animal's sections with their properties."""
    if run.sections is None:
        return None
    own = sorted(
        (section for section in run.sections.measured if section.species is None),
        key=lambda s: (element_rank(s.element), s.section_id),
    )
    if not own:
        return None
    rows = []
    for section in own:
        found = section.properties
        off = 100 * (np.exp(1.96 * section.modulus_sd_ln) - 1)
        torsion = section.torsion_constant_mm4
        rows.append(
            (
                f"{section.element} {section.section_id}",
                f"{100 * section.position_fraction:.0f}",
                f"{found.area_mm2:.1f}",
                f"{_whole(found.greatest_moment_mm4)}; {_whole(found.least_moment_mm4)}",
                f"{np.rad2deg(found.axis_of_greatest_rad):.0f}",
                f"{_whole(found.section_modulus_mediolateral_mm3)} ± {off:.1f} %",
                _whole(found.section_modulus_anteroposterior_mm3),
                _whole(found.torsion_constant_thin_wall_mm4 if torsion is None else torsion),
                f"{found.inner_over_outer:.3f}",
                _indicator_words(run, section),
            )
        )
    return TableBlock(
        caption="The sections of the lost animal's bones.",
        columns=(
            TableColumn(head="Section", share=1.7),
            TableColumn(head="At (%)", share=0.5, align="right"),
            TableColumn(head="Area (mm²)", share=0.7, align="right"),
            TableColumn(head="Moments (mm⁴)", share=1.2, align="right"),
            TableColumn(head="Axis (°)", share=0.5, align="right"),
            TableColumn(head="Z (mm³)", share=1.1, align="right"),
            TableColumn(head="Z sideways", share=0.7, align="right"),
            TableColumn(head="J (mm⁴)", share=0.7, align="right"),
            TableColumn(head="K", share=0.5, align="right"),
            TableColumn(head="Indicator (GPa⁻¹)", share=1.1, align="right"),
        ),
        rows=tuple(rows),
        notes=(
            "At: from the upper end; moments: greatest and least second moment of area; axis: angle"
            " of the axis of the greatest from side to side; Z: section modulus against bending"
            " front to back, with what callipers or the traced edge leave open, 95 %; J: torsion"
            " constant; K: inner over outer diameter; indicator: strength indicator of that section"
            " in a bone of average length at the pooled mass, 95 %.",
        ),
    )


def _indicator_words(run: "Run", section: MeasuredSection) -> str:
    """Return the strength indicator of one section in a bone of average length."""
    average = None if run.sections is None else run.sections.average_bones.get(section.element)
    if average is None or run.pooled is None:
        return "–"
    weight = run.study.settings.choices.weight_on_legs.value
    modulus_over_arm = (
        section.properties.section_modulus_mediolateral_mm3 / section.distance_to_distal_end_mm
    )
    indicator = strength_indicator(
        modulus_over_arm * (average.length_mm / section.bone_length_mm) ** 2,
        run.pooled.mass_draws_kg,
        weight_fraction=np.full_like(average.length_mm, weight),
    )
    low, middle, high = np.quantile(indicator, [0.025, 0.5, 0.975])
    return f"{middle:.0f} ({low:.0f} to {high:.0f})"


def indicators_compared(run: "Run") -> TableBlock | None:
    """List the strength indicators of living animals: the study's own rows and published ones."""
    if run.movement is None:
        return None
    elements = sorted({animal.element for animal in run.movement.comparison}, key=element_rank)
    own: dict[str, dict[str, float]] = {}
    about: dict[str, tuple[str, float]] = {}
    for animal in run.movement.comparison:
        own.setdefault(animal.species, {})[animal.element] = animal.indicator_per_gpa
        about[animal.species] = (animal.locomotion, animal.body_mass_kg)
    published: dict[str, dict[str, float]] = {}
    source: dict[str, list[str]] = {}
    for one in run.movement.published:
        published.setdefault(one.animal, {})[one.element] = one.indicator_per_gpa
        read = source.setdefault(one.animal, [one.locomotion])
        words = f"{one.source}, {one.status}"
        if words not in read:
            read.append(words)

    def cells(found: dict[str, float]) -> tuple[str, ...]:
        return tuple(format_amount(found[e]) if e in found else "–" for e in elements)

    rows = [
        (name, about[name][0], f"{about[name][1]:.3g}", *cells(own[name]))
        for name in sorted(own, key=lambda name: -about[name][1])
    ]
    rows += [
        (f"{name} (published)", "; ".join(source[name]), "–", *cells(published[name]))
        for name in published
    ]
    return TableBlock(
        caption="Strength indicators of living animals (GPa⁻¹).",
        columns=(
            TableColumn(head="Animal", share=1.9),
            TableColumn(head="Way of moving", share=2.2),
            TableColumn(head="Mass (kg)", share=0.7, align="right"),
            *(
                TableColumn(head=element.capitalize(), share=1.0, align="right")
                for element in elements
            ),
        ),
        rows=tuple(rows),
        notes=(
            "Published figures were measured by others, of a mammal at the tibia for the"
            " tibiotarsus; they are "
            + ("counted" if run.movement.published_counted else "not counted")
            + " in the range compared with.",
        ),
    )


def stresses_by_gait(run: "Run") -> TableBlock | None:
    """List peak stresses and safety factors of every leg bone in every gait."""
    if run.legs is None or not run.legs.stresses:
        return None

    def middle(draws: Draws) -> str:
        return f"{float(np.median(draws)):.0f}"

    rows = []
    for element in sorted({element for element, _ in run.legs.stresses}, key=element_rank):
        for gait in GAITS:
            one = run.legs.stresses[element, gait]
            rows.append(
                (
                    element,
                    gait,
                    middle(one.bending_mpa),
                    middle(one.bow_mpa),
                    middle(one.compression_mpa),
                    middle(one.torsion_mpa),
                    interval_words(Quantity(draws=one.greatest_mpa, unit="MPa").summary(), "MPa"),
                    interval_words(
                        Quantity(draws=run.legs.safety[element, gait], unit="1").summary(), "1"
                    ),
                )
            )
    return TableBlock(
        caption="Peak stresses in the leg bones, and safety factors.",
        columns=(
            TableColumn(head="Bone", share=1.2),
            TableColumn(head="Gait", share=0.8),
            TableColumn(head="Bending (MPa)", share=0.7, align="right"),
            TableColumn(head="Bow (MPa)", share=0.6, align="right"),
            TableColumn(head="Pressing (MPa)", share=0.7, align="right"),
            TableColumn(head="Twisting (MPa)", share=0.7, align="right"),
            TableColumn(head="All joined", share=1.7),
            TableColumn(head="Safety factor", share=1.6),
        ),
        rows=tuple(rows),
        notes=(
            "Parts are medians. The safety factor is the bending strength of bone over the joined"
            " stress; muscles are left out, so it is an upper bound. Source: Biewener1982,"
            " AlexanderMaloiy1979.",
        ),
    )
