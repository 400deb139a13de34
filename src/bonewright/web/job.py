"""The whole job at a glance: how each step stands, what it says, and what waits there."""

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.findings import Finding
from bonewright.report.still_missing import still_missing
from bonewright.report.wording import plural, value_words
from bonewright.study.raw import RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.showing import STEP_OF_TABLE, step_of_doubt, table_of_problem
from bonewright.web.views import VIEWS, StepView
from bonewright.web.workroom import Standing

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["StepStand", "job_shown"]

# The finding that a step is asked for, the first of these that it gives.
_CHIEF = {
    "skeleton": ("skeleton.minimum_individuals", "skeleton.mean.femur.GL", "skeleton.mean."),
    "relatives": ("relatives.mass.joint", "relatives.mass."),
    "sections": ("sections.modulus.femur", "sections.modulus."),
    "body": ("body.grown.mass.mean", "body.mass.", "body.scan.mass."),
    "movement": ("movement.indicator.femur", "movement.indicator.", "movement.hip"),
    "testimony": ("testimony.effective_number", "testimony.witnesses", "testimony."),
    "judgement": ("judgement.mass",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepStand:
    """How one step stands. ``says`` is its chief finding, linked at ``finding``."""

    key: str
    title: str
    state: str
    says_title: str
    says: str
    finding: str
    rows: str
    waits: tuple[tuple[str, str], ...]
    next_step: str


def job_shown(standing: Standing) -> tuple[StepStand, ...]:
    """Return a line for each step of the job, in its order."""
    problems: Counter[str] = Counter()
    for problem in standing.problems:
        table = table_of_problem(problem, standing.raw)
        if table:
            problems[STEP_OF_TABLE[table]] += 1
    return tuple(
        _stand(view, standing, problems[view.key]) for view in VIEWS if view.key != "study"
    )


def next_by_step(run: "Run | None") -> dict[str, str]:
    """Return, for each step without an answer, what to fill in next."""
    return {} if run is None else {one.step: one.next_step for one in still_missing(run)}


def _stand(view: StepView, standing: Standing, n_problems: int) -> StepStand:
    run, stale = standing.run_for(view.key)
    chief = None if run is None else _chief(run.findings, view.key)
    doubts = 0
    if run is not None:
        doubts = sum(
            doubt.decided is None and step_of_doubt(doubt) == view.key for doubt in run.doubts
        )
    waits = []
    if n_problems:
        waits.append((f"/{view.key}#problems", plural(n_problems, "problem")))
    if doubts:
        waits.append((f"/{view.key}#doubts", plural(doubts, "doubt")))
    return StepStand(
        key=view.key,
        title=view.title,
        state=_state(view.key, standing, run, stale=stale, answered=chief is not None),
        says_title="" if chief is None else chief.title,
        says="" if chief is None else value_words(chief),
        finding="" if chief is None else chief.key,
        rows=_rows_words(view, standing.raw),
        waits=tuple(waits),
        next_step="" if chief is not None else next_by_step(standing.run).get(view.key, ""),
    )


def _state(step: str, standing: Standing, run: "Run | None", *, stale: bool, answered: bool) -> str:
    if standing.computing and step not in standing.arrived:
        return "being computed"
    if run is None:
        return "waits for mended tables" if standing.problems else "not computed"
    if not answered:
        return "no answer yet"
    return "answered, before the last changes" if stale else "answered"


def _chief(findings: tuple[Finding, ...], step: str) -> Finding | None:
    of_step = [finding for finding in findings if finding.step == step]
    for key in _CHIEF[step]:
        for finding in of_step:
            if finding.key == key or (key.endswith(".") and finding.key.startswith(key)):
                return finding
    return None


def _rows_words(view: StepView, raw: RawTables) -> str:
    told = [
        f"{TABLE_BY_NAME[name].title.lower()} {len(raw[name].rows)}"
        for name in view.tables
        if raw[name].rows
    ]
    return ", ".join(told) or ("no rows yet" if view.tables else "")
