"""What the views show."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx

from bonewright.pipeline import STEPS
from bonewright.study.schemas import TABLES
from bonewright.web.views import VIEW_BY_KEY, VIEWS

Settled = Callable[[], dict[str, Any]]


def test_every_step_has_a_view_and_every_table_a_place() -> None:
    assert [view.key for view in VIEWS] == ["study", *STEPS]
    shown = [name for view in VIEW_BY_KEY.values() for name in view.tables]
    assert sorted(shown) == sorted(table.name for table in TABLES)


def test_every_view_is_served_and_marked_as_invented(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    for view in (*VIEWS, VIEW_BY_KEY["workshop"]):
        answer = insider.get(f"/{view.key}")
        assert answer.status_code == 200
        assert "invented study" in answer.text
        assert view.title in answer.text


def test_what_the_person_typed_is_shown_as_text(insider: httpx.Client) -> None:
    text = insider.get("/").text
    assert "A &lt;small&gt; study" in text
    assert "<small>" not in text


def test_a_finding_says_how_it_was_got(insider: httpx.Client, settled: Settled) -> None:
    settled()
    text = insider.get("/skeleton").text
    assert "How it was got" in text
    assert "#measurements:2" in text
    assert "19 in 20 between" in text


def test_a_step_without_an_answer_says_what_would_help(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    text = insider.get("/body").text
    assert "No answer yet" in text
    assert "What would help" in text


def test_a_study_without_settings_is_told_and_not_a_fault(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    (folder / "study.toml").unlink()
    assert settled()["problems"] >= 1
    answer = insider.get("/")
    assert answer.status_code == 200
    assert "study.toml" in answer.text


def test_dangers_are_named_where_they_arise(insider: httpx.Client) -> None:
    assert "arsenic" in insider.get("/testimony").text
    assert "licensed structural engineer" in insider.get("/body").text
    assert "conservator" in insider.get("/skeleton").text
