"""A finished model held against the bones: where a hand left what they allow."""

import difflib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.measures import FigureMeasure, figure_measures
from bonewright.body.silhouettes import feathered_lofts
from bonewright.body.standing_figure import filled_lofts
from bonewright.findings import Caveat, Finding, HowGot, Statement
from bonewright.quantity import Draws, Quantity
from bonewright.study.workshop_rows import ModelMeasurement

__all__ = ["ModelCheck", "Workmanship", "check_models", "measures_of"]

Judgement = Literal["met", "within the bones", "off the figure", "left the bones", "unknown"]
# Beyond this a slip of the tape is likelier than a slip of the hand.
_SLIP_FROM: Final = 1.5
_WORDS: Final = {
    "met": "as built to",
    "within the bones": "off the figure, but within what the bones allow",
    "off the figure": "off the figure by more than the bench allows",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Workmanship:
    """How exactly a measure is met on the bench: a share of it, and mm on the model at least."""

    share: float
    least_mm: float

    def tolerance_mm(self, value_mm: float) -> float:
        """Return how far a measure of that size may be off."""
        return max(self.share * value_mm, self.least_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelCheck:
    """One measure of a finished model, at its scale.

    ``bones_mm`` is the 95 % range that the bones leave the animal, ``tolerance_mm`` what the
    bench allows about the figure. ``beyond_mm`` is how far outside both it lies.
    """

    measurement: ModelMeasurement
    judgement: Judgement
    figure_mm: float | None
    tolerance_mm: float
    bones_mm: tuple[float, float]
    beyond_mm: float
    words: str


# The checks of a run, and of the next one where the body stays, ask for the same figures.
@lru_cache(maxsize=4)
def measures_of(grown: GrownBody, *, state: str, layer: str) -> dict[str, FigureMeasure]:
    """Return the measures that can be taken on a figure, at life size, by name."""
    lofts = filled_lofts(grown, state)
    if layer == "feathered":
        lofts = feathered_lofts(grown, lofts)
    found = figure_measures(grown, lofts, surface=layer != "skeleton")
    return {measure.name: measure for measure in found}


def check_models(
    grown: GrownBody,
    rows: Sequence[ModelMeasurement],
    *,
    workmanship: Workmanship,
    set_aside: frozenset[tuple[str, str]],
) -> tuple[tuple[ModelCheck, ...], tuple[Finding, ...]]:
    """Hold every measure of finished models against the figure and the bones.

    Returns
    -------
    checks : tuple of ModelCheck
    findings : tuple of Finding
        One a model in words, then for each measure what was expected and how it came out.
    """
    used = [row for row in rows if (row.ref.table, row.ref.row_id) not in set_aside]
    known: dict[tuple[str, str], dict[str, FigureMeasure]] = {}
    scales: dict[str, Counter[float]] = {}
    for row in used:
        scales.setdefault(row.model_id, Counter())[row.scale_denominator] += 1
    checks, findings = [], []
    for row in used:
        key = (row.state, row.layer)
        if key not in known:
            known[key] = measures_of(grown, state=row.state, layer=row.layer)
        measure = known[key].get(row.measure)
        if measure is None:
            checks.append(_unknown(row, known[key]))
            findings.append(_verdict(checks[-1], (), caveats=()))
            continue
        expected = measure.draws_mm / row.scale_denominator
        checks.append(_checked(row, measure, expected, workmanship))
        caveats = _caveats(checks[-1], scales[row.model_id])
        findings += _findings(checks[-1], measure, expected, caveats=caveats)
    return tuple(checks), (*_summaries(checks), *findings)


def _unknown(row: ModelMeasurement, known: dict[str, FigureMeasure]) -> ModelCheck:
    near = difflib.get_close_matches(row.measure, known, n=1)
    hint = f"; did you mean '{near[0]}'?" if near else "; the check card lists the measures"
    return ModelCheck(
        measurement=row,
        judgement="unknown",
        figure_mm=None,
        tolerance_mm=0.0,
        bones_mm=(0.0, 0.0),
        beyond_mm=0.0,
        words=f"Cannot be judged: a {row.layer} figure has no measure of that name{hint}",
    )


def _checked(
    row: ModelMeasurement, measure: FigureMeasure, expected: Draws, workmanship: Workmanship
) -> ModelCheck:
    figure = measure.figure_mm / row.scale_denominator
    low, high = (float(end) for end in np.quantile(expected, [0.025, 0.975]))
    tolerance = workmanship.tolerance_mm(figure)
    found = row.value_mm
    # What the bones allow is widened by what no hand can keep.
    beyond = max(found - (high + tolerance), (low - tolerance) - found, 0.0)
    judgement: Judgement
    if abs(found - figure) <= tolerance:
        judgement = "met"
    elif low <= found <= high:
        judgement = "within the bones"
    else:
        judgement = "left the bones" if beyond > 0 else "off the figure"
    return ModelCheck(
        measurement=row,
        judgement=judgement,
        figure_mm=figure,
        tolerance_mm=tolerance,
        bones_mm=(low, high),
        beyond_mm=beyond,
        words=_words(judgement, found / figure, beyond),
    )


def _words(judgement: Judgement, ratio: float, beyond: float) -> str:
    if judgement != "left the bones":
        return _WORDS[judgement]
    size = "large" if ratio > 1 else "small"
    off = f"{100 * abs(ratio - 1):.0f} % too {size}, {beyond:.1f} mm beyond what the bones allow"
    if _slipped(ratio):
        off += "; so far off that the tape, the unit or the scale is the first suspect"
    return off


def _slipped(ratio: float) -> bool:
    return not 1 / _SLIP_FROM < ratio < _SLIP_FROM


def _caveats(check: ModelCheck, scales: Mapping[float, int]) -> tuple[Caveat, ...]:
    """Say what in a row is likelier a slip than a fault of the model."""
    row = check.measurement
    caveats = []
    usual = max(scales, key=lambda scale: scales[scale])
    if row.scale_denominator != usual:
        caveats.append(
            Caveat(
                code="another scale",
                text=f"Entered at 1:{row.scale_denominator:g}, while most measures of model"
                f" {row.model_id} are at 1:{usual:g}: a model has one scale.",
                rows=(row.ref,),
            )
        )
    if check.figure_mm and _slipped(row.value_mm / check.figure_mm):
        caveats.append(
            Caveat(
                code="slip suspected",
                text=f"Found {row.value_mm:.4g} mm where {check.figure_mm:.4g} mm was built to:"
                " look at the tape, the unit and the scale before the model.",
                rows=(row.ref,),
            )
        )
    return tuple(caveats)


def _findings(
    check: ModelCheck,
    measure: FigureMeasure,
    expected: Draws,
    *,
    caveats: tuple[Caveat, ...],
) -> tuple[Finding, Finding]:
    row = check.measurement
    shown = Finding(
        key=f"body.model.{row.ref.row_id}.expected",
        step="body",
        title=f"Model {row.model_id}, {row.measure}: what the bones allow at"
        f" 1:{row.scale_denominator:g}",
        value=Quantity(draws=expected, unit="mm"),
        how=HowGot(
            formula=f"{measure.kind} of the {row.layer} figure, {row.state} state, over"
            f" {row.scale_denominator:g}; spread as the bones leave it",
            inputs=(f"body.grown.mass.{row.state}",),
            rows=(row.ref,),
        ),
        caveats=caveats,
    )
    return _verdict(check, (shown.key,), caveats=caveats), shown


def _verdict(check: ModelCheck, inputs: tuple[str, ...], *, caveats: tuple[Caveat, ...]) -> Finding:
    row = check.measurement
    built = "" if check.figure_mm is None else f", built to {check.figure_mm:.4g} mm"
    return Finding(
        key=f"body.model.{row.ref.row_id}",
        step="body",
        title=f"Model {row.model_id}, {row.measure}",
        value=Statement(text=f"{check.words} (found {row.value_mm:.4g} mm{built})."),
        how=HowGot(
            formula="met within the bench's tolerance of the figure; left the bones beyond their"
            " 95 % range and that tolerance",
            inputs=inputs,
            rows=(row.ref,),
        ),
        caveats=caveats,
    )


def _summaries(checks: Sequence[ModelCheck]) -> list[Finding]:
    findings = []
    for model in dict.fromkeys(check.measurement.model_id for check in checks):
        of_model = [check for check in checks if check.measurement.model_id == model]
        left = [check for check in of_model if check.judgement == "left the bones"]
        judged = [check for check in of_model if check.judgement != "unknown"]
        met = sum(check.judgement == "met" for check in judged)
        text = f"{met} of {len(judged)} measures are as built to."
        if left:
            text += " It left the bones at: " + "; ".join(
                f"{check.measurement.measure} ({check.words})" for check in left
            )
            text += "."
        else:
            text += " Nowhere did it leave what the bones allow."
        findings.append(
            Finding(
                key=f"body.models.{model.replace(' ', '_')}",
                step="body",
                title=f"Finished model {model} against the bones",
                value=Statement(text=text),
                how=HowGot(
                    formula="each measure against the figure and the 95 % range of the bones",
                    rows=tuple(check.measurement.ref for check in of_model),
                ),
                n=len(judged),
                n_of="measures",
            )
        )
    return findings
