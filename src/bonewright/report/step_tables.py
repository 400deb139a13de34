"""Tables that show one step's results better than a list of findings does.

Each names the findings it stands for, so that no number is printed twice.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING

from bonewright.quantity import Quantity, format_amount
from bonewright.relatives.joint_describing import trial_words
from bonewright.report.blocks import TableBlock, TableColumn
from bonewright.report.body_tables import finished_models, parts_from_relatives, segments_of_body
from bonewright.report.judgement_tables import (
    hypotheses,
    next_evidence,
    overturns,
    pooling_options,
    standings,
)
from bonewright.report.leg_tables import indicators_compared, sections_measured, stresses_by_gait
from bonewright.report.skeleton_tables import (
    average_table,
    fragments_table,
    from_relatives_table,
    individuals_table,
    measure_next_table,
    measuring_error_table,
    proportions_table,
)
from bonewright.report.tables import letter_of
from bonewright.report.testimony_tables import (
    audit_of_mount,
    claims_of_accounts,
    likelihoods_entered,
    pictures_against_bones,
    register_of_pictures,
)
from bonewright.report.wording import (
    bone_words,
    element_rank,
    interval_words,
    mass_words,
)

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["TOLD_IN_TABLES", "step_tables"]

TOLD_IN_TABLES = (
    "skeleton.mean.",
    "skeleton.from_relatives.",
    "skeleton.fragment.",
    "skeleton.proportion.",
    "relatives.mass.",
    "relatives.mass_mean.",
    "relatives.error.",
    "body.part.",
    "body.model.",
    "body.plumage.depth.",
    "movement.stress.",
    "movement.safety.",
    "testimony.claim.",
    "testimony.mount.",
    "testimony.picture.",
    "testimony.likelihood.",
    "judgement.weight.",
    "judgement.verdict.",
    "judgement.option.",
    "judgement.stand.",
    "judgement.overturn.",
    "judgement.hypothesis.",
    "judgement.odds.",
)
"""Beginnings of the keys of findings that a table here, or the first page, already shows."""


def _fits(run: "Run") -> TableBlock | None:
    if run.relatives is None or not run.relatives.fits:
        return None
    sources = dict.fromkeys(
        key
        for finding in run.findings
        if finding.key.startswith(("relatives.mass.", "relatives.mass_mean.", "relatives.error."))
        for key in finding.how.sources
    )
    fits = sorted(
        run.relatives.fits.items(), key=lambda item: (element_rank(item[0][0]), item[0][1])
    )
    rows = []
    for bone, fit in fits:
        mass = Quantity(draws=fit.mass_draws_kg, unit="kg").summary()
        chosen = bone == run.relatives.chosen
        where = "within" if fit.outside_percent == 0 else f"{fit.outside_percent:.0f} % beyond"
        rows.append(
            (
                bone_words(bone) + (" (best alone)" if chosen else ""),
                str(len(fit.species)),
                f"{fit.intercept_ln:.2f} + {fit.slope:.2f} ln x".replace("-", "−"),
                f"{fit.r_squared:.3f}",
                f"{fit.residual_sd_ln:.3f}",
                f"{fit.leave_one_out_error_percent:.0f}",
                where,
                mass_words(mass),
                format_amount(fit.mean_mass_kg),
            )
        )
    return TableBlock(
        caption="The line of each single leg-bone measurement and the mass by it.",
        columns=(
            TableColumn(head="Bone", share=1.7),
            TableColumn(head="n", share=0.4, align="right"),
            TableColumn(head="ln(mass/kg), x in mm", share=1.5),
            TableColumn(head="R²", share=0.6, align="right"),
            TableColumn(head="Scatter (ln)", share=0.7, align="right"),
            TableColumn(head="Left-out error (%)", share=0.8, align="right"),
            TableColumn(head="Range of relatives", share=0.9),
            TableColumn(head="Mass (kg)", share=1.2),
            TableColumn(head="Best mean (kg)", share=0.8),
        ),
        rows=tuple(rows),
        notes=(
            "n: living species; scatter: standard deviation of single species around the line, in"
            " natural logarithms; left-out error: middle error of species left out; the interval"
            " holds the mass of one animal with the average bone; the best mean carries the"
            " correction for the logarithm and has its interval, 95 %, beside it."
            + (f" Sources: {', '.join(sources)}." if sources else ""),
        ),
    )


def _joint_candidates(run: "Run") -> TableBlock | None:
    if run.relatives is None or run.relatives.joint is None:
        return None
    joint = run.relatives.joint
    tests = dict.fromkeys(test.name for trial in joint.trials for test in trial.tests)
    rows = []
    for trial in sorted(joint.trials, key=lambda trial: -trial.score):
        chosen = " (chosen)" if trial is joint.trial else ""
        by_name = {test.name: test for test in trial.tests}
        cells = [
            f"{by_name[name].error_percent:.0f} %; {by_name[name].mean_ratio:.2f};"
            f" {by_name[name].coverage_percent:.0f} %"
            if name in by_name
            else "too few"
            for name in tests
        ]
        rows.append(
            (
                trial_words(trial).capitalize() + chosen,
                str(len(trial.bones)),
                *cells,
                f"{trial.score:.2f}".replace("-", "−"),
            )
        )
    return TableBlock(
        caption="Bones fitted together: each candidate tried on relatives of known mass.",
        columns=(
            TableColumn(head="Bones together", share=1.8),
            TableColumn(head="Bones", share=0.5, align="right"),
            *(TableColumn(head=name.capitalize(), share=1.2) for name in tests),
            TableColumn(head="Mean log score", share=0.7, align="right"),
        ),
        rows=tuple(rows),
        notes=(
            "Each test: median error; predicted over known mass (geometric mean); share of known"
            " masses inside the 95 % intervals. Mean log score: mean log density that the"
            " predictions gave to the known masses, over the tests; the highest is chosen.",
        ),
    )


def _lines(run: "Run") -> TableBlock | None:
    if run.pooled is None:
        return None
    rows = []
    reasons: dict[str, str] = {}
    for line in sorted(run.pooled.lines, key=lambda line: not line.pooled):
        summary = Quantity(draws=line.mass_draws_kg, unit="kg").summary()
        weight = run.pooled.weights_percent.get(line.key)
        reason = f"{line.reason} Rests on: {', '.join(line.rests_on)}."
        rows.append(
            (
                line.title,
                interval_words(summary, "kg"),
                f"{weight:.0f} %" if line.pooled and weight is not None else "not pooled",
                reasons.setdefault(reason, letter_of(len(reasons))),
            )
        )
    return TableBlock(
        caption="The estimates of mass, which of them enter the verdict, and why.",
        columns=(
            TableColumn(head="Estimate", share=2.2),
            TableColumn(head="Mass", share=1.8),
            TableColumn(head="Weight", share=0.9),
            TableColumn(head="Why", share=0.5),
        ),
        rows=tuple(rows),
        notes=tuple(f"{letter}: {reason}" for reason, letter in reasons.items()),
    )


_TABLES: dict[str, tuple[Callable[["Run"], TableBlock | None], ...]] = {
    "skeleton": (
        average_table,
        from_relatives_table,
        fragments_table,
        individuals_table,
        measuring_error_table,
        proportions_table,
        measure_next_table,
    ),
    "relatives": (_joint_candidates, _fits),
    "testimony": (
        register_of_pictures,
        claims_of_accounts,
        likelihoods_entered,
        audit_of_mount,
        pictures_against_bones,
    ),
    "sections": (sections_measured,),
    "body": (segments_of_body, parts_from_relatives, finished_models),
    "movement": (indicators_compared, stresses_by_gait),
    "judgement": (_lines, pooling_options, standings, overturns, next_evidence, hypotheses),
}


def step_tables(run: "Run", step: str) -> tuple[TableBlock, ...]:
    """Return the tables of a step that its results allow."""
    tables = (make(run) for make in _TABLES.get(step, ()))
    return tuple(table for table in tables if table is not None)
