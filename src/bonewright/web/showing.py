"""What the templates show: the workroom's state in words, placed and linked.

Nothing is computed here; numbers are written by :mod:`bonewright.report.wording`, so that
page and report say the same.
"""

from collections import Counter
from dataclasses import dataclass
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any

from bonewright.errors import Problem
from bonewright.findings import Caveat, Doubt, Exact, Finding, HowGot
from bonewright.literature import PUBLICATIONS, Publication
from bonewright.quantity import Quantity
from bonewright.report.wording import amount_words, interval_words, unit_words, value_words
from bonewright.study.raw import RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import RangeChoice, Settings
from bonewright.web.views import VIEWS, StepView
from bonewright.web.workroom import Standing

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = [
    "STEP_OF_TABLE",
    "doubts_shown",
    "figures_shown",
    "findings_shown",
    "headline",
    "overview_shown",
    "problems_shown",
    "standing_shown",
    "table_of_problem",
]

_SHARED_BY = 3

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


@dataclass(frozen=True, slots=True, kw_only=True)
class InputShown:
    """What a finding was computed from: another finding, or a choice."""

    words: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteShown:
    """A caveat that many findings of a step share, written once under a letter."""

    letter: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingShown:
    """A finding in words. Its caveats are its own, and ``notes`` those it shares."""

    key: str
    title: str
    value: str
    words_only: bool
    n: int | None
    n_of: str
    interval: str
    why_no_interval: str
    how: HowGot
    inputs: tuple[InputShown, ...]
    sources: tuple[Publication, ...]
    caveats: tuple[Caveat, ...]
    notes: tuple[NoteShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtShown:
    """A doubtful row in words."""

    table: str
    row: int
    row_id: str
    column: str
    words: str
    kind: str
    found: str
    expected: str
    mend: str
    held_out: bool
    decided: str | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureShown:
    """A figure without its drawing, which the page fetches by key."""

    key: str
    title: str
    caption: str
    alt: str


def headline(run: "Run | None") -> str:
    """Say the pooled mass: 'about 21 kg (17 to 26)'; empty if there is none."""
    if run is None or run.pooled is None:
        return ""
    return interval_words(Quantity(draws=run.pooled.mass_draws_kg, unit="kg").summary(), "kg")


def standing_shown(standing: Standing) -> StandingShown:
    """Describe the frame of every view."""
    run, settings = standing.run, standing.settings
    if settings is None and run is not None:
        settings = run.study.settings
    problems: Counter[str] = Counter()
    for problem in standing.problems:
        table = table_of_problem(problem, standing.raw)
        problems[STEP_OF_TABLE[table] if table else "study"] += 1
    doubts = Counter(_step_of_doubt(doubt) for doubt in _open_doubts(run))
    return StandingShown(
        number=standing.number,
        computing=standing.computing,
        stale=standing.stale and run is not None,
        title="A study" if settings is None else settings.study.title,
        invented=settings is not None and settings.study.invented,
        problems=len(standing.problems),
        fault=standing.fault,
        headline=headline(run),
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


def findings_shown(run: "Run | None", step: str) -> tuple[FindingShown, ...]:
    """Write the findings of a step."""
    if run is None:
        return ()
    by_key = {finding.key: finding for finding in run.findings}
    of_step = [finding for finding in run.findings if finding.step == step]
    notes = _shared_notes(of_step)
    return tuple(_finding(finding, by_key, notes) for finding in of_step)


def _shared_notes(findings: list[Finding]) -> dict[str, NoteShown]:
    """Give a letter to each caveat that three findings or more share word for word."""
    count = Counter(
        text for finding in findings for text in {caveat.text for caveat in finding.caveats}
    )
    shared = [text for text in dict.fromkeys(_caveat_texts(findings)) if count[text] >= _SHARED_BY]
    return {
        text: NoteShown(letter=letter, text=text)
        for text, letter in zip(shared, ascii_lowercase, strict=False)
    }


def _caveat_texts(findings: list[Finding]) -> list[str]:
    return [caveat.text for finding in findings for caveat in finding.caveats]


def _finding(
    finding: Finding, by_key: dict[str, Finding], notes: dict[str, NoteShown]
) -> FindingShown:
    value = finding.value
    interval = ""
    if isinstance(value, Quantity):
        summary = value.summary()
        half, most = summary.interval50, summary.interval95
        unit = value.unit
        interval = (
            f"half the draws lie between {amount_words(half[0], '')} and"
            f" {amount_words(half[1], unit)}; 19 in 20 between"
            f" {amount_words(most[0], '')} and {amount_words(most[1], unit)}"
        )
    return FindingShown(
        key=finding.key,
        title=finding.title,
        value=value_words(finding),
        words_only=not isinstance(value, Quantity | Exact),
        n=finding.n,
        n_of=finding.n_of,
        interval=interval,
        why_no_interval=value.why_no_interval if isinstance(value, Exact) else "",
        how=finding.how,
        inputs=tuple(_input(key, by_key) for key in finding.how.inputs),
        sources=tuple(PUBLICATIONS[key] for key in finding.how.sources if key in PUBLICATIONS),
        caveats=tuple(caveat for caveat in finding.caveats if caveat.text not in notes),
        notes=tuple(notes[caveat.text] for caveat in finding.caveats if caveat.text in notes),
    )


def _input(key: str, by_key: dict[str, Finding]) -> InputShown:
    if key in by_key:
        return InputShown(words=by_key[key].title, href=f"/{by_key[key].step}#{key}")
    if key.startswith("choices."):
        words = key.removeprefix("choices.").replace("_", " ")
        return InputShown(words=f"the choice of {words}", href="/study#choices-title")
    return InputShown(words=key, href="")


def _open_doubts(run: "Run | None") -> tuple[Doubt, ...]:
    if run is None:
        return ()
    return tuple(doubt for doubt in run.doubts if doubt.decided is None)


def _step_of_doubt(doubt: Doubt) -> str:
    return STEP_OF_TABLE.get(doubt.ref.table, "study")


def doubts_shown(run: "Run | None", step: str) -> tuple[DoubtShown, ...]:
    """Write the doubtful rows of a step's tables (all of them for the study's view)."""
    if run is None:
        return ()
    reasons = {(made.table, made.row_id): made.reason for made in run.study.decisions}
    shown = [
        DoubtShown(
            table=doubt.ref.table,
            row=doubt.ref.row,
            row_id=doubt.ref.row_id,
            column=doubt.column,
            words=_doubt_place(doubt),
            kind=doubt.kind,
            found=doubt.found,
            expected=doubt.expected,
            mend=doubt.mend,
            held_out=doubt.held_out,
            decided=doubt.decided,
            reason=reasons.get((doubt.ref.table, doubt.ref.row_id), ""),
        )
        for doubt in run.doubts
        if step in ("study", _step_of_doubt(doubt))
    ]
    return tuple(sorted(shown, key=lambda doubt: doubt.decided is not None))


def _doubt_place(doubt: Doubt) -> str:
    table = TABLE_BY_NAME[doubt.ref.table]
    titles = {column.name: column.title for column in table.columns}
    column = titles.get(doubt.column, doubt.column)
    return f"{table.title}, row {doubt.ref.row} ({doubt.ref.row_id}), {column}"


def figures_shown(run: "Run | None", step: str) -> tuple[FigureShown, ...]:
    """Describe the figures of a step; the study's view shows the one of the verdict."""
    if run is None:
        return ()
    from bonewright.report.figures import FIGURES

    return tuple(
        FigureShown(
            key=spec.key, title=spec.title, caption=spec.caption_fn(run), alt=spec.alt_fn(run)
        )
        for spec in FIGURES.values()
        if (spec.key == "mass_lines" if step == "study" else spec.step == step)
        and spec.present(run)
    )


def overview_shown(standing: Standing) -> dict[str, Any]:
    """Collect what the study's view shows beside problems, doubts and figures."""
    run, settings = standing.run, standing.settings
    if settings is None and run is not None:
        settings = run.study.settings
    titles = {view.key: view.title for view in VIEWS}
    shown: dict[str, Any] = dict.fromkeys(
        ("question", "animal", "scientific_name", "place"), ""
    ) | dict.fromkeys(("verdict", "caveats", "unanswered", "choices"), ())
    if settings is not None:
        shown |= {
            "question": settings.study.question,
            "animal": settings.animal.name,
            "scientific_name": settings.animal.scientific_name,
            "place": settings.animal.place,
            "choices": _choices(settings),
        }
    if run is not None:
        verdict = run.verdict
        sentences = (
            verdict.mass_sentence,
            verdict.agreement_sentence,
            verdict.movement_sentence,
            verdict.testimony_sentence,
        )
        shown |= {
            "verdict": tuple(sentence for sentence in sentences if sentence),
            "caveats": tuple(dict.fromkeys(caveat.text for caveat in verdict.caveats)),
            "unanswered": tuple(
                {"key": key, "title": titles[key], "why": why}
                for key, why in run.unanswered.items()
            ),
        }
    return shown


def _choices(settings: Settings) -> list[dict[str, str]]:
    choices = settings.choices
    shown = [
        ("Retransformation correction", choices.retransformation, choices.retransformation_reason),
        ("Body density", _range(choices.body_density), choices.body_density.reason),
        (
            "Maquette's possible error in volume",
            _range(choices.maquette_shape_percent),
            choices.maquette_shape_percent.reason,
        ),
        (
            "Share of weight on the legs",
            _range(choices.weight_on_legs),
            choices.weight_on_legs.reason,
        ),
        ("Compared with living", choices.comparison + "s", choices.comparison_reason),
        (
            "Scale of disagreement between methods",
            f"{choices.heterogeneity_scale:g} (natural logarithm)",
            choices.heterogeneity_reason,
        ),
    ]
    if settings.blind_proof is not None:
        shown.append(("Blind proof", settings.blind_proof.species, settings.blind_proof.reason))
    shown.append(
        (
            "Draws",
            f"{settings.draws.count} from seed {settings.draws.seed}",
            "The same seed gives the same numbers.",
        )
    )
    return [{"title": title, "value": value, "reason": reason} for title, value, reason in shown]


def _range(choice: RangeChoice) -> str:
    unit = unit_words(choice.unit)
    value = f"{choice.value:g} {unit}".strip()
    return value if choice.low == choice.high else f"{value} ({choice.low:g} to {choice.high:g})"
