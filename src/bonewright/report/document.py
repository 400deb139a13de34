"""The content of the report, made once from a run and set as PDF and as HTML alike."""

import datetime
import hashlib
import json
from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np
import scipy

from bonewright import __version__
from bonewright.findings import Doubt
from bonewright.pipeline import STEPS
from bonewright.report.as_json import findings_json
from bonewright.report.blocks import (
    Block,
    Chapter,
    Document,
    FigureBlock,
    Notice,
    Paragraph,
)
from bonewright.report.figures import FIGURES, Figure, figures_for
from bonewright.report.label import label_blocks
from bonewright.report.methods import before_building, cautions, method, to_the_bench
from bonewright.report.step_tables import TOLD_IN_TABLES, step_tables
from bonewright.report.tables import (
    caveat_words,
    choices_table,
    decisions_table,
    doubts_table,
    findings_table,
    grouped_caveats,
    publications_table,
    sources_table,
    statements,
    warnings_notice,
)
from bonewright.report.wording import (
    STEP_TITLES,
    plural,
)

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["FIRST_FIGURE", "INVENTED", "document_of"]

INVENTED = "Invented demonstration study"
FIRST_FIGURE = "mass_lines"

_MOST_WARNINGS = 3
_MOST_ROWS = 3


def document_of(run: "Run", *, made: datetime.date) -> Document:
    """Make the content of the report of ``run``, dated ``made``."""
    settings = run.study.settings
    figures = {figure.key: figure for figure in figures_for(run)}
    animal = settings.animal.name
    if settings.animal.scientific_name:
        animal += f", {settings.animal.scientific_name}"
    if settings.animal.place:
        animal += f", of {settings.animal.place}"
    verdict = run.verdict
    sentences = (
        verdict.mass_sentence,
        verdict.agreement_sentence,
        verdict.movement_sentence,
        verdict.testimony_sentence,
    )
    return Document(
        title=settings.study.title,
        animal=animal,
        question=settings.study.question,
        invented=settings.study.invented,
        made=made,
        made_with=f"Bonewright {__version__}, seed {settings.draws.seed}, {made.day} {made:%B %Y}",
        verdict=tuple(sentence for sentence in sentences if sentence),
        first_page=_first_page(run, figures.pop(FIRST_FIGURE, None)),
        chapters=(
            _reading(run),
            *(_step_chapter(run, step, figures) for step in STEPS),
            _choices_chapter(run),
            _sources_chapter(run),
            _again_chapter(run),
        ),
    )


def _first_page(run: "Run", figure: Figure | None) -> tuple[Block, ...]:
    blocks: list[Block] = []
    if figure is not None:
        blocks.append(FigureBlock(figure=figure))
    warnings: list[str] = []
    held = [doubt for doubt in run.doubts if doubt.held_out and doubt.decided is None]
    if held:
        named = "; ".join(f"{doubt.ref.words()}: {doubt.kind}" for doubt in held[:_MOST_ROWS])
        left = len(held) - _MOST_ROWS
        more = f"; and {left} more (listed in findings.json)" if left > 0 else ""
        warnings.append(
            f"{plural(len(held), 'doubtful row')} held out of all results until decided: {named}"
            f"{more}."
        )
    gathered = [
        caveat_words(group)
        for group in grouped_caveats(run.verdict.caveats)
        if group.code != "held out"
    ]
    warnings += gathered[:_MOST_WARNINGS]
    if len(gathered) > _MOST_WARNINGS:
        more = plural(len(gathered) - _MOST_WARNINGS, "further kind")
        warnings.append(f"{more} of warning: each stands in its chapter, beside its numbers.")
    if run.unanswered:
        steps = "; ".join(STEP_TITLES[step].lower() for step in run.unanswered)
        warnings.append(f"No answer yet on: {steps}.")
    if warnings:
        blocks.append(Notice(kind="warning", title="Read with this in mind", items=tuple(warnings)))
    return tuple(blocks)


def _reading(run: "Run") -> Chapter:
    blocks: list[Block] = [
        Paragraph(
            text="Numbers are written like 'about 21 kg (17 to 26)': the middle value, and the"
            " interval that holds the truth 19 times in 20 if the study's rows and choices are"
            f" right. They come from {plural(run.study.settings.draws.count, 'imagined world')},"
            " in each of which everything uncertain takes one value; what two lines of evidence"
            " share stays shared. 'n' counts what a number rests on. Rows of the study's tables"
            " are named as a spreadsheet counts them."
        )
    ]
    if run.study.settings.study.invented:
        blocks.insert(
            0,
            Notice(
                kind="gap",
                title="An invented study",
                items=(
                    "The animal, its island, the collections, pictures, accounts and living"
                    " relatives in this report are made up to show the method. Nothing in it says"
                    " anything about a real animal, place or collection.",
                ),
            ),
        )
    return Chapter(key="reading", title="How to read this report", blocks=tuple(blocks))


def _doubts_of(run: "Run", step: str) -> tuple[Doubt, ...]:
    results = {
        "skeleton": run.skeleton,
        "relatives": run.relatives,
        "sections": run.sections,
        "body": run.body,
        "testimony": run.testimony,
    }
    result = results.get(step)
    return () if result is None else result.doubts


def _step_chapter(run: "Run", step: str, figures: dict[str, Figure]) -> Chapter:
    findings = tuple(finding for finding in run.findings if finding.step == step)
    untold = tuple(f for f in findings if not f.key.startswith(TOLD_IN_TABLES))
    # What can harm stands before the numbers, where the work begins.
    blocks: list[Block | None] = [*method(step, run.study.settings), cautions(step)]
    if step in run.unanswered:
        blocks.append(Notice(kind="gap", title="No answer yet", items=(run.unanswered[step],)))
    blocks += statements(untold)
    drawn = [
        FigureBlock(figure=figures[spec.key])
        for spec in FIGURES.values()
        if spec.step == step and spec.key in figures
    ]
    title = STEP_TITLES[step]
    # In turn, so that figures that float in print do not pile up on one page.
    blocks += [
        block
        for pair in zip_longest(drawn, step_tables(run, step))
        for block in pair
        if block is not None
    ]
    blocks += [
        findings_table(untold, caption=f"{title}: numbers, and how they were got."),
        warnings_notice(findings),
        doubts_table(_doubts_of(run, step), caption=f"{title}: doubtful rows."),
    ]
    if step == "judgement":
        blocks += [*label_blocks(run), to_the_bench(), before_building()]
    return Chapter(
        key=step, title=title, blocks=tuple(block for block in blocks if block is not None)
    )


def _choices_chapter(run: "Run") -> Chapter:
    blocks: list[Block | None] = [
        Paragraph(
            text="Every number above follows from the study's rows and from these choices."
            " Change one in study.toml and run again to see what it moves."
        ),
        choices_table(run.study.settings),
        decisions_table(run.study.decisions),
        doubts_table(
            tuple(doubt for doubt in run.doubts if doubt.held_out and doubt.decided != "keep"),
            caption="Rows that no result in this report uses.",
        ),
    ]
    return Chapter(
        key="choices",
        title="Choices and decisions",
        blocks=tuple(block for block in blocks if block is not None),
    )


def _sources_chapter(run: "Run") -> Chapter:
    publications = publications_table(run.findings)
    checked = Paragraph(
        text="'From memory' means that the makers of Bonewright recalled the formula or number and"
        " could not open the publication to compare it: look it up before resting a decision on"
        " it. Anything else says what was seen of the publication."
    )
    blocks = (
        None if publications is None else checked,
        publications,
        sources_table(run.study.sources),
    )
    found = tuple(block for block in blocks if block is not None)
    return Chapter(
        key="sources",
        title="Sources",
        blocks=found or (Paragraph(text="The study names no sources yet."),),
    )


def _again_chapter(run: "Run") -> Chapter:
    draws = run.study.settings.draws
    text = json.dumps(findings_json(run), sort_keys=True, ensure_ascii=False)
    mark = hashlib.sha256(text.encode()).hexdigest()[:16]
    return Chapter(
        key="again",
        title="How to get the same numbers again",
        blocks=(
            Paragraph(
                text=f"Bonewright {__version__}, NumPy {np.__version__}, SciPy"
                f" {scipy.__version__}; seed {draws.seed}; {plural(draws.count, 'draw')} a"
                " quantity. The same study folder with the same seed and versions gives the same"
                " findings. They are kept, with every row each rests on, in"
                f" results/findings.json; their fingerprint (SHA-256) begins {mark}."
            ),
        ),
    )
