"""The body's segments and its lost parts as tables."""

from typing import TYPE_CHECKING

import numpy as np

from bonewright.quantity import Quantity
from bonewright.report.blocks import TableBlock, TableColumn
from bonewright.report.wording import interval_words, mass_words

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["finished_models", "parts_from_relatives", "segments_of_body"]


def segments_of_body(run: "Run") -> TableBlock | None:
    """Set the segments of the grown body: mass, place, inertia, volume, skin and feathers."""
    grown = None if run.body is None else run.body.grown
    if grown is None:
        return None
    total = grown.states["mean"].mass_draws_kg
    rows = []
    for name, segment in grown.segments().items():
        mass, part = segment.mass_draws_kg, grown.plan.segments[name]
        ahead, _, above = 1000 * np.median(segment.centre_m, axis=0)
        # 1 kg m2 is 10,000 kg cm2, which suits a bird's segments.
        about_side = Quantity(draws=1e4 * segment.inertia_kg_m2[:, 1, 1], unit="kg cm2").summary()
        volume = Quantity(draws=grown.lean.volume_m3[name] * 1000, unit="L").summary()
        depth = grown.plumage_depth_mm.get(name)
        rows.append(
            (
                f"{name}, both" if part.copies == 2 else name,
                mass_words(Quantity(draws=mass, unit="kg").summary()),
                f"{100 * float(np.median(mass / total)):.1f}",
                f"{ahead:.0f}, {above:.0f}",
                mass_words(about_side),
                mass_words(volume),
                f"{10_000 * float(np.median(grown.skin_m2[name])):.0f}",
                "none" if depth is None else f"{float(np.median(depth)):.0f}",
            )
        )
    return TableBlock(
        caption="The segments of the grown body over the year. What two share is given to the"
        " first; mass with fat, volume without; centre of mass ahead of the middle of the feet"
        " and above the ground, standing; inertia about the side-to-side axis through it; feathers"
        " where they stand deepest.",
        columns=(
            TableColumn(head="Segment", share=1.2),
            TableColumn(head="Mass (kg)", share=1.8),
            TableColumn(head="Share (%)", share=0.7, align="right"),
            TableColumn(head="Centre (mm)", share=0.9, align="right"),
            TableColumn(head="Inertia (kg cm²)", share=1.8),
            TableColumn(head="Volume (L)", share=1.8),
            TableColumn(head="Skin (cm²)", share=0.7, align="right"),
            TableColumn(head="Feathers (mm)", share=0.9, align="right"),
        ),
        rows=tuple(rows),
    )


def parts_from_relatives(run: "Run") -> TableBlock | None:
    """Set the parts that do not fossilise, with what each rests on."""
    found = () if run.body is None else run.body.parts.findings
    rows = [
        (
            finding.title,
            interval_words(finding.value.summary(), finding.value.unit),
            f"{finding.n} {finding.n_of}",
        )
        for finding in found
        if isinstance(finding.value, Quantity)
    ]
    if not rows:
        return None
    return TableBlock(
        caption="Parts that do not fossilise, in the proportion they have in living relatives.",
        columns=(
            TableColumn(head="Part", share=2.4),
            TableColumn(head="Size", share=2.0),
            TableColumn(head="Rests on", share=1.0),
        ),
        rows=tuple(rows),
    )


def finished_models(run: "Run") -> TableBlock | None:
    """Set what was measured on finished models beside what they were built to."""
    checks = () if run.body is None else run.body.models
    if not checks:
        return None
    rows = []
    for check in checks:
        row = check.measurement
        low, high = check.bones_mm
        built, allowed = "", ""
        if check.figure_mm is not None:
            built = f"{check.figure_mm:.1f} ± {check.tolerance_mm:.1f}"
            allowed = f"{low:.1f} to {high:.1f}"
        rows.append(
            (
                f"{row.model_id}, 1:{row.scale_denominator:g}",
                row.measure,
                f"{row.value_mm:.1f}",
                built,
                allowed,
                check.words,
            )
        )
    return TableBlock(
        caption="Finished models, measured and held against the bones: what was found, what the"
        " figure was built to with the bench's tolerance, and what the bones leave the animal (95"
        " %), all in mm at the model's scale.",
        columns=(
            TableColumn(head="Model", share=1.0),
            TableColumn(head="Measure", share=2.0),
            TableColumn(head="Found (mm)", share=0.7, align="right"),
            TableColumn(head="Built to (mm)", share=0.9, align="right"),
            TableColumn(head="Bones allow (mm)", share=1.1),
            TableColumn(head="Verdict", share=2.2),
        ),
        rows=tuple(rows),
    )
