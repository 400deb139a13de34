"""Columns of a table made wider and narrower by pointer and by keyboard, and kept so."""

import json
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser


def _head(page: Page, place: int) -> Locator:
    return page.locator("study-sheet[name=measurements] thead th").nth(place + 1)


def _width(page: Page, place: int) -> float:
    box = _head(page, place).bounding_box()
    assert box is not None
    return box["width"]


def _drag_edge(page: Page, place: int, by: float) -> None:
    edge = _head(page, place).locator(".column-edge")
    edge.hover()
    box = edge.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by, y, steps=4)
    page.mouse.up()


def _focus_cell(page: Page, place: int) -> None:
    page.evaluate(
        "place => document.querySelector('study-sheet[name=measurements]').hands.go(0, place)",
        place,
    )


def test_a_width_chosen_by_pointer_or_keyboard_is_kept_and_can_be_let_go_again(
    small: "Opened",
) -> None:
    page = small.page
    small.go("skeleton")
    fitted = _width(page, 0)
    beside = _width(page, 1)
    _drag_edge(page, 0, 90)
    assert _width(page, 0) == pytest.approx(fitted + 90, abs=1.5)
    assert _width(page, 1) == pytest.approx(beside, abs=0.5)
    expect(page.locator(".sheet-menu:popover-open")).to_have_count(0)
    _focus_cell(page, 1)
    with page.expect_response("**/api/column-widths/measurements"):
        page.keyboard.press("Alt+Shift+ArrowRight")
        page.keyboard.press("Alt+Shift+ArrowRight")
        page.keyboard.press("Alt+Shift+ArrowLeft")
    assert _width(page, 1) == pytest.approx(beside + 24, abs=0.5)
    kept = json.loads((small.folder / "results" / "column-widths.json").read_text("utf-8"))
    assert sorted(kept["measurements"]) == ["materialEntityID", "measurementID"]

    small.go("skeleton")
    assert _width(page, 0) == pytest.approx(fitted + 90, abs=1.5)
    with page.expect_response("**/api/column-widths/measurements"):
        _head(page, 0).locator(".column-edge").dblclick()
    assert _width(page, 0) == pytest.approx(fitted, abs=0.5)
    assert small.complaints == []


def test_the_edge_follows_the_pointer_where_lines_run_from_right_to_left(
    trying: "Opened",
) -> None:
    page = trying.page
    trying.go("skeleton")
    page.evaluate("document.documentElement.dir = 'rtl'")
    before = _width(page, 1)
    _drag_edge(page, 1, -60)
    assert _width(page, 1) == pytest.approx(before + 60, abs=1.5)


def test_a_cell_cut_off_is_read_in_full_below_the_table(trying: "Opened") -> None:
    page = trying.page
    trying.go("skeleton")
    note = page.locator("study-sheet[name=measurements] .cell-note .note-text")
    _focus_cell(page, 1)
    expect(note).to_have_count(0)
    for _ in range(20):
        page.keyboard.press("Alt+Shift+ArrowLeft")
    assert _width(page, 1) == pytest.approx(48, abs=0.5)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowLeft")
    expect(note).to_have_text("bone-1")
