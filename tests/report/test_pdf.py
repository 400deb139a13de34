import dataclasses
import datetime

import pypdfium2
import pytest

from bonewright.pipeline import Run
from bonewright.report.blocks import Document
from bonewright.report.document import document_of
from bonewright.report.pdf import pdf_of

DAY = datetime.date(2026, 11, 25)
MARK = "INVENTED DEMONSTRATION STUDY"


def pages_of(pdf: bytes) -> list[tuple[float, float, str]]:
    with pypdfium2.PdfDocument(pdf) as document:
        pages = []
        for page in document:
            text = page.get_textpage()
            pages.append((page.get_width(), page.get_height(), text.get_text_bounded()))
            text.close()
            page.close()
    return pages


@pytest.fixture(scope="module")
def full_pdf(full_document: Document) -> bytes:
    return pdf_of(full_document)


def test_every_page_is_a4_and_marked_as_invented(full_pdf: bytes) -> None:
    pages = pages_of(full_pdf)
    assert len(pages) > 4
    for width, height, text in pages:
        assert (width, height) == pytest.approx((595.28, 841.89), abs=0.1)
        assert MARK in text


def test_the_first_page_gives_the_verdict_and_the_figure(full_pdf: bytes, full_run: Run) -> None:
    first = pages_of(full_pdf)[0][2]
    for sentence in (
        full_run.verdict.mass_sentence,
        full_run.verdict.movement_sentence,
        full_run.study.settings.study.question,
        "Figure 1. Every line of evidence on body mass.",
        "Read with this in mind",
    ):
        assert sentence in first


def test_a_study_of_a_real_animal_carries_no_such_mark(full_document: Document) -> None:
    full_document = dataclasses.replace(full_document, invented=False)
    assert not any(MARK in text for _, _, text in pages_of(pdf_of(full_document)))


def test_what_a_person_typed_is_set_as_it_stands(
    hostile_run: Run, hostile_document: Document
) -> None:
    title = hostile_run.study.settings.study.title
    first = pages_of(pdf_of(hostile_document))[0][2]
    assert title in " ".join(first.split())


def test_the_same_document_gives_the_same_bytes(full_pdf: bytes, full_document: Document) -> None:
    assert pdf_of(full_document) == full_pdf


def test_it_declares_itself_fit_for_archives(full_pdf: bytes) -> None:
    assert b"pdfaid:part>2" in full_pdf
    assert b"pdfaid:conformance>B" in full_pdf


def test_a_study_that_holds_nothing_yet_still_gets_its_report(empty_run: Run) -> None:
    text = " ".join(page[2] for page in pages_of(pdf_of(document_of(empty_run, made=DAY))))
    assert "No answer yet" in text


def test_the_first_page_stands_alone_and_the_chapters_begin_on_the_second(
    full_pdf: bytes,
) -> None:
    pages = pages_of(full_pdf)
    assert "How to read this report" not in pages[0][2]
    assert "How to read this report" in pages[1][2]
