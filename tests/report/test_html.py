import datetime
import re
from html.parser import HTMLParser

import pytest

from bonewright.pipeline import Run
from bonewright.report.blocks import Document
from bonewright.report.document import document_of
from bonewright.report.html import html_of

DAY = datetime.date(2026, 11, 25)
VOID = {"col", "meta", "br", "hr", "img", "link", "input"}


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def full_html(full_document: Document) -> str:
    return html_of(full_document)


def test_it_loads_nothing_and_runs_nothing(full_html: str) -> None:
    reader = read(full_html)
    names = {tag for tag, _ in reader.tags}
    assert not names & {"script", "link", "iframe", "object", "embed", "img", "base", "form"}
    for _, attributes in reader.tags:
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in {"src", "href", "xlink:href", "action"}:
                assert (value or "").startswith("#")
    assert set(re.findall(r"url\(\"?([a-z]+:)", full_html)) == {"data:"}
    assert "@import" not in full_html


def test_what_a_person_typed_comes_out_as_text(
    hostile_run: Run, hostile_document: Document
) -> None:
    html = html_of(hostile_document)
    reader = read(html)
    assert "<script>" not in html
    assert hostile_run.study.settings.study.title in "".join(reader.text)


def test_it_gives_the_verdict_and_says_that_the_study_is_invented(
    full_html: str, full_run: Run
) -> None:
    text = "".join(read(full_html).text)
    assert full_run.verdict.mass_sentence in text
    assert "Invented demonstration study" in text


def test_it_can_be_walked_by_landmarks_headings_and_table_heads(full_html: str) -> None:
    tags = read(full_html).tags
    names = [tag for tag, _ in tags]
    assert names.count("main") == names.count("h1") == names.count("nav") == 1
    assert all(attributes.get("scope") in {"col", "row"} for tag, attributes in tags if tag == "th")
    assert names.count("caption") == names.count("table") > 5
    ids = [attributes["id"] for _, attributes in tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    targets = {str(a["href"])[1:] for tag, a in tags if tag == "a"}
    assert targets <= set(ids)


def test_every_figure_has_words_for_those_who_cannot_see_it(full_html: str) -> None:
    drawings = [a for tag, a in read(full_html).tags if a.get("role") == "img"]
    assert sum(bool(a.get("aria-label")) for a in drawings) >= 12


def test_a_study_that_holds_nothing_yet_still_gets_its_report(empty_run: Run) -> None:
    assert "No answer yet" in html_of(document_of(empty_run, made=DAY))
