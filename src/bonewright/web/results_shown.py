"""Findings, doubtful rows, tables and figures of a run, in words for the templates.

Numbers are written by :mod:`bonewright.report.wording`, so that page and report say the
same.
"""

from collections import Counter
from dataclasses import dataclass
from string import ascii_lowercase
from typing import TYPE_CHECKING

from bonewright.findings import Caveat, Doubt, Exact, Finding, HowGot, Statement
from bonewright.literature import PUBLICATIONS, Publication
from bonewright.quantity import Quantity
from bonewright.report.wording import amount_words, rests_on_words, value_words
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.showing import step_of_doubt

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.report.blocks import TableBlock

__all__ = ["doubts_shown", "figures_shown", "findings_shown", "tables_shown", "wordy_columns"]

_SHARED_BY = 3
_SHORT_CELL = 34


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
    """A finding in words. Its caveats are its own, and ``notes`` those it shares.

    ``basis`` is what it rests on; ``uneventful`` ones are shown closed, and so are those
    ``in_table``, whose numbers stand in a table of the step.
    """

    key: str
    title: str
    value: str
    words_only: bool
    basis: str
    uneventful: bool
    in_table: bool
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
    drawing: bool


def findings_shown(run: "Run | None", step: str) -> tuple[FindingShown, ...]:
    """Write the findings of a step."""
    if run is None:
        return ()
    from bonewright.report.step_tables import TOLD_IN_TABLES

    by_key = {finding.key: finding for finding in run.findings}
    of_step = [finding for finding in run.findings if finding.step == step]
    notes = _shared_notes(of_step)
    return tuple(
        _finding(finding, by_key, notes, in_table=finding.key.startswith(TOLD_IN_TABLES))
        for finding in of_step
    )


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
    finding: Finding,
    by_key: dict[str, Finding],
    notes: dict[str, NoteShown],
    *,
    in_table: bool,
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
        basis=rests_on_words(finding),
        uneventful=_uneventful(finding),
        in_table=in_table,
        interval=interval,
        why_no_interval=value.why_no_interval if isinstance(value, Exact) else "",
        how=finding.how,
        inputs=tuple(_input(key, by_key) for key in finding.how.inputs),
        sources=tuple(PUBLICATIONS[key] for key in finding.how.sources if key in PUBLICATIONS),
        caveats=tuple(caveat for caveat in finding.caveats if caveat.text not in notes),
        notes=tuple(notes[caveat.text] for caveat in finding.caveats if caveat.text in notes),
    )


def _uneventful(finding: Finding) -> bool:
    """Say whether a finding tells only that a picture contradicts nothing."""
    return (
        finding.key.startswith("testimony.picture.")
        and isinstance(finding.value, Statement)
        and finding.value.text.startswith("None of")
    )


def _input(key: str, by_key: dict[str, Finding]) -> InputShown:
    if key in by_key:
        return InputShown(words=by_key[key].title, href=f"/{by_key[key].step}#{key}")
    if key.startswith("choices."):
        words = key.removeprefix("choices.").replace("_", " ")
        return InputShown(words=f"the choice of {words}", href="/study#choices-title")
    return InputShown(words=key, href="")


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
        if step in ("study", step_of_doubt(doubt))
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
            key=spec.key,
            title=spec.title,
            caption=spec.caption_fn(run),
            alt=spec.alt_fn(run),
            drawing=spec.drawing,
        )
        for spec in FIGURES.values()
        if (spec.key == "mass_lines" if step == "study" else spec.step == step)
        and spec.present(run)
    )


def tables_shown(run: "Run | None", step: str) -> tuple["TableBlock", ...]:
    """Return the tables of a step as the report has them."""
    if run is None:
        return ()
    from bonewright.report.step_tables import step_tables

    return step_tables(run, step)


def wordy_columns(table: "TableBlock") -> tuple[bool, ...]:
    """Say of each column whether a cell of it is a line of words, which must break to be read."""
    return tuple(
        any(len(row[place]) > _SHORT_CELL for row in table.rows)
        for place in range(len(table.columns))
    )
