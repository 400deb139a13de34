import dataclasses
import datetime
import re
from collections.abc import Iterator

from bonewright.findings import Caveat, RowRef
from bonewright.pipeline import STEPS, Run
from bonewright.report.blocks import Block, Chapter, Document, FigureBlock, Notice, TableBlock
from bonewright.report.document import document_of
from bonewright.report.figures import figures_for
from bonewright.report.step_tables import TOLD_IN_TABLES
from bonewright.report.tables import grouped_caveats
from bonewright.report.wording import value_words

DAY = datetime.date(2026, 11, 25)


def blocks(document: Document) -> Iterator[Block]:
    yield from document.first_page
    for chapter in document.chapters:
        yield from chapter.blocks


def chapter_of(document: Document, key: str) -> Chapter:
    return next(chapter for chapter in document.chapters if chapter.key == key)


def words_of(chapter: Chapter) -> str:
    return " ".join(repr(block) for block in chapter.blocks)


def test_the_first_page_holds_the_verdict_the_one_figure_and_the_warnings(
    full_run: Run, full_document: Document
) -> None:
    assert full_document.verdict[0] == full_run.verdict.mass_sentence
    figure, notice = full_document.first_page
    assert isinstance(figure, FigureBlock)
    assert figure.figure.key == "mass_lines"
    assert isinstance(notice, Notice)
    assert "tables/measurements.csv, row 41 (m-040)" in " ".join(notice.items)
    assert full_run.verdict.caveats[0].text in " ".join(notice.items)


def test_every_step_has_a_chapter_and_every_figure_stands_once(
    full_run: Run, full_document: Document
) -> None:
    keys = [chapter.key for chapter in full_document.chapters]
    assert [key for key in keys if key in STEPS] == list(STEPS)
    figures = [
        block.figure.key for block in blocks(full_document) if isinstance(block, FigureBlock)
    ]
    assert len(figures) == len(set(figures))
    assert set(figures) == {figure.key for figure in figures_for(full_run)}


def test_every_number_of_every_finding_is_set_with_its_interval(full_document: Document) -> None:
    words = words_of(chapter_of(full_document, "body"))
    assert re.search(r"'Mass of maquette-1', 'about 15 kg \(1\d to 1\d\)', '3 readings'", words)
    assert "Mean over individuals. Source: Driesch1976." in words_of(
        chapter_of(full_document, "skeleton")
    )


def test_a_warning_stands_with_its_finding_and_names_its_rows(full_document: Document) -> None:
    words = words_of(chapter_of(full_document, "skeleton"))
    assert "One doubtful row was held out. Concerns: Mean femur GL." in words
    assert "row 41 (m-040)" in words


def test_doubts_decisions_choices_and_sources_are_printed_with_reasons(
    full_run: Run, full_document: Document
) -> None:
    words = words_of(chapter_of(full_document, "choices"))
    assert "Measured twice, it is that long." in words
    assert full_run.study.settings.choices.body_density.reason in words
    assert "held out until decided" in words
    assert "An invented monograph on <rails> & #others." in words_of(
        chapter_of(full_document, "sources")
    )


def test_cautions_stand_where_they_arise(full_document: Document) -> None:
    for key, word in {
        "testimony": "arsenic",
        "body": "resins",
        "sections": "dust",
        "relatives": "protected species",
        "judgement": "licensed structural engineer",
    }.items():
        notices = [b for b in chapter_of(full_document, key).blocks if isinstance(b, Notice)]
        assert any(word in " ".join(n.items) for n in notices if n.kind == "caution"), key


def test_an_unanswered_step_says_why_and_what_would_help(empty_run: Run) -> None:
    document = document_of(empty_run, made=DAY)
    for step in STEPS:
        notices = [b for b in chapter_of(document, step).blocks if isinstance(b, Notice)]
        assert any("What would help" in " ".join(n.items) for n in notices if n.kind == "gap")


def test_every_row_of_a_table_has_a_cell_for_every_column(full_document: Document) -> None:
    for block in blocks(full_document):
        if isinstance(block, TableBlock):
            assert all(len(row) == len(block.columns) for row in block.rows)


def test_a_row_set_aside_is_listed_as_used_by_nothing_and_a_kept_one_is_not(
    full_run: Run,
) -> None:
    doubt = full_run.doubts[0]
    for decided, listed in (("set aside", True), ("keep", False)):
        run = dataclasses.replace(full_run, doubts=(dataclasses.replace(doubt, decided=decided),))
        captions = [
            block.caption
            for block in chapter_of(document_of(run, made=DAY), "choices").blocks
            if isinstance(block, TableBlock)
        ]
        assert ("Rows that no result in this report uses." in captions) is listed


def test_no_finding_is_lost(full_run: Run, full_document: Document) -> None:
    for finding in full_run.findings:
        if not finding.key.startswith(TOLD_IN_TABLES):
            words = words_of(chapter_of(full_document, finding.step))
            assert finding.title in words
            assert value_words(finding) in words


def test_each_line_of_the_leg_bones_and_each_claim_and_measure_is_told_in_a_table(
    full_run: Run, full_document: Document
) -> None:
    assert full_run.relatives is not None
    assert full_run.testimony is not None
    relatives = words_of(chapter_of(full_document, "relatives"))
    for element, code in full_run.relatives.fits:
        assert f"{element} {code}" in relatives
    testimony = words_of(chapter_of(full_document, "testimony"))
    for claim in full_run.testimony.claims:
        assert claim.statement in testimony
    for check in full_run.testimony.mount:
        assert check.words in testimony


def test_caveats_of_one_code_are_told_once_with_the_rows_of_all() -> None:
    rows = tuple(RowRef(table="specimens", row=place, row_id=f"b-{place}") for place in (2, 3))
    caveats = (
        Caveat(code="loose", text="4 of 9 are loose.", rows=rows[:1]),
        Caveat(code="other", text="Another."),
        Caveat(code="loose", text="5 of 8 are loose.", rows=rows[1:]),
    )
    grouped = grouped_caveats(caveats)
    assert [caveat.code for caveat in grouped] == ["loose", "other"]
    assert grouped[0].text.startswith("4 of 9 are loose.")
    assert "1 other case" in grouped[0].text
    assert grouped[0].rows == rows
