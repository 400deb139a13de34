"""The check card: what to measure on the finished model, and what should come out.

Its rows are those of the table ``model_measurements``: filled in and entered there, they are
held against the bones by the next run.
"""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.body.measures import FigureMeasure
from bonewright.study.spreadsheet_text import harmless
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild, Interval

__all__ = ["CheckLine", "check_card", "check_card_csv"]

_COLUMNS = (
    "measurementID",
    "modelID",
    "modelMeasure",
    "bodyState",
    "modelLayer",
    "scaleDenominator",
    "measurementValue",
    "measurementUnit",
    "measurementRemarks",
)
_WHEN = {
    "between joints": "armature",
    "joint height": "armature, from the base",
    "height": "finished figure, from the base",
    "girth": "finished figure",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLine:
    """One measure of the card, mm at scale: what the figure is built to and its tolerance.

    ``when`` says on what it is taken: joints on the armature, before anything covers them, the
    rest on the finished figure; heights count from the top of the base. ``bones95_mm`` is what
    the bones leave the animal.
    """

    number: int
    measure: str
    when: str
    expected_mm: float
    tolerance_mm: float
    bones95_mm: Interval


def check_card(
    figure: FigureToBuild, measures: Sequence[FigureMeasure], rules: BuildRules
) -> tuple[CheckLine, ...]:
    """List the measures to take on a figure, those of pairs on both sides."""
    lines = []
    for number, measure in enumerate(measures, start=1):
        expected = measure.figure_mm / figure.scale_denominator
        low, high = np.quantile(measure.draws_mm, [0.025, 0.975]) / figure.scale_denominator
        lines.append(
            CheckLine(
                number=number,
                measure=measure.name,
                when=_WHEN[measure.kind],
                expected_mm=expected,
                tolerance_mm=max(
                    rules.limit("workmanship (%)") / 100 * expected,
                    rules.limit("least workmanship (mm)"),
                ),
                bones95_mm=(float(low), float(high)),
            )
        )
    return tuple(lines)


def check_card_csv(figure: FigureToBuild, lines: tuple[CheckLine, ...], model_id: str) -> bytes:
    """Return the card as a table to fill in: the value is left empty, the rest is there.

    Its columns are those of ``model_measurements``; what was not measured is deleted before
    the rows are imported.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for line in lines:
        writer.writerow(
            (
                harmless(f"{model_id}-{line.number:02d}"),
                harmless(model_id),
                line.measure,
                figure.state,
                figure.layer,
                f"{figure.scale_denominator:g}",
                "",
                "mm",
                f"expected {line.expected_mm:.1f} mm, within {line.tolerance_mm:.1f}",
            )
        )
    return out.getvalue().encode("utf-8-sig")
