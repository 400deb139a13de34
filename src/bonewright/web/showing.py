"""The frame of every view: how the study stands, and its problems placed and linked."""

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.errors import Problem
from bonewright.findings import Doubt
from bonewright.quantity import Quantity
from bonewright.report.wording import interval_words
from bonewright.study.raw import RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.views import VIEWS, StepView
from bonewright.web.workroom import Standing

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = [
    "STEP_OF_TABLE",
    "headline",
    "problems_shown",
    "standing_shown",
    "step_of_doubt",
    "table_of_problem",
]

STEP_OF_TABLE = {name: table.step for name, table in TABLE_BY_NAME.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepEntry:
    """One entry in the list of steps, with what waits there."""

    key: str
    title: str
    problems: int
    doubts: int
    unanswered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingShown:
    """The frame of every view."""

    number: int
    computing: bool
    stale: bool
    title: str
    invented: bool
    problems: int
    fault: str
    headline: str
    headline_is_old: bool
    stopped: bool
    has_results: bool
    has_report: bool
    steps: tuple[StepEntry, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemShown:
    """A problem with its place in words and the table to open."""

    place: str
    table: str | None
    row: int | None
    column: str | None
    found: str
    expected: str
    mend: str


def headline(run: "Run | None") -> str:
    """Say the pooled mass: 'about 21 kg (17 to 26)'; empty if there is none."""
    if run is None or run.pooled is None:
        return ""
    return interval_words(Quantity(draws=run.pooled.mass_draws_kg, unit="kg").summary(), "kg")


def standing_shown(standing: Standing) -> StandingShown:
    """Describe the frame of every view."""
    run, settings = standing.run, standing.settings
    mass, mass_is_old = standing.run_for("mass")
    if settings is None and run is not None:
        settings = run.study.settings
    problems: Counter[str] = Counter()
    for problem in standing.problems:
        table = table_of_problem(problem, standing.raw)
        problems[STEP_OF_TABLE[table] if table else "study"] += 1
    doubts = Counter(step_of_doubt(doubt) for doubt in _open_doubts(run))
    return StandingShown(
        number=standing.number,
        computing=standing.computing,
        stale=standing.stale and run is not None,
        title="A study" if settings is None else settings.study.title,
        invented=settings is not None and settings.study.invented,
        problems=len(standing.problems),
        fault=standing.fault,
        headline=headline(mass),
        headline_is_old=mass_is_old and mass is not None,
        stopped=standing.stopped,
        has_results=run is not None,
        has_report=run is not None and not standing.stale,
        steps=tuple(
            StepEntry(
                key=view.key,
                title=view.title,
                problems=problems[view.key],
                doubts=doubts[view.key],
                unanswered=run is not None and view.key in run.unanswered,
            )
            for view in VIEWS
        ),
    )


def table_of_problem(problem: Problem, raw: RawTables) -> str | None:
    """Name the table a problem stands in, if it stands in one."""
    tables = [name for name, table in raw.items() if table.file == problem.file]
    return tables[0] if len(tables) == 1 else None


def problems_shown(standing: Standing, view: StepView) -> tuple[ProblemShown, ...]:
    """Return the problems on disk; those of the view's own tables come first."""
    shown = [_problem(problem, standing.raw) for problem in standing.problems]
    return tuple(sorted(shown, key=lambda problem: problem.table not in view.tables))


def _problem(problem: Problem, raw: RawTables) -> ProblemShown:
    table = table_of_problem(problem, raw)
    place = TABLE_BY_NAME[table].title if table else problem.file
    column = problem.column
    if table and column:
        titles = {known.name: known.title for known in TABLE_BY_NAME[table].columns}
        column = titles.get(column, column)
    if problem.row is not None:
        place += f", {'row' if table else 'line'} {problem.row}"
    if column is not None:
        place += f", {column}"
    return ProblemShown(
        place=place,
        table=table,
        row=problem.row,
        column=problem.column,
        found=problem.found,
        expected=problem.expected,
        mend=problem.mend,
    )


def _open_doubts(run: "Run | None") -> tuple[Doubt, ...]:
    if run is None:
        return ()
    return tuple(doubt for doubt in run.doubts if doubt.decided is None)


def step_of_doubt(doubt: Doubt) -> str:
    """Return the key of the view whose table the doubtful row stands in."""
    return STEP_OF_TABLE.get(doubt.ref.table, "study")
