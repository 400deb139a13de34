"""A picture marked in a real browser: with the pointer, and with the keyboard alone."""

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

Rows = list[dict[str, str]]


def _rows(folder: Path, table: str) -> Rows:
    with (folder / "tables" / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _of(rows: Rows, observer: str) -> Rows:
    return [row for row in rows if row["measurementDeterminedBy"] == observer]


def _open_desk(opened: "Opened", *, observer: str, picture: str) -> Locator:
    page = opened.page
    opened.go("testimony")
    page.wait_for_selector("picture-desk[data-ready]", state="attached")
    page.locator("#desk > summary").click()
    page.get_by_label("Who marks").fill(observer)
    page.locator("picture-desk select[name=picture]").select_option(picture)
    page.get_by_role("button", name="Open", exact=True).click()
    stage = page.locator(".stage")
    expect(stage).to_be_focused()
    expect(page.locator(".stage img")).to_have_js_property("complete", True)
    return stage


def _press_at(page: Page, stage: Locator, x: float, y: float) -> None:
    """Press at a place given in px of the picture (360 by 300)."""
    box = stage.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + x / 360 * box["width"], box["y"] + y / 300 * box["height"])


def test_points_and_outline_are_set_moved_and_taken_back_with_the_pointer(
    opened: "Opened",
) -> None:
    page = opened.page
    before = _rows(opened.folder, "landmarks")
    stage = _open_desk(opened, observer="observer P", picture="pic-05")
    stage.scroll_into_view_if_needed()

    _press_at(page, stage, 100, 60)  # bill tip
    _press_at(page, stage, 120, 50)  # bill middle
    _press_at(page, stage, 200, 200)  # bill root, to be taken back
    page.locator("picture-desk button[name=undo]").click()
    assert page.locator(".stage .point").count() == 2
    _press_at(page, stage, 140, 55)  # bill root again

    box = stage.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 120 / 360 * box["width"], box["y"] + 50 / 300 * box["height"])
    page.mouse.down()
    page.mouse.move(
        box["x"] + 126 / 360 * box["width"], box["y"] + 44 / 300 * box["height"], steps=4
    )
    page.mouse.up()

    page.locator(".desk-points").get_by_role("button", name="outline", exact=True).click()
    for x, y in ((60, 220), (220, 230), (290, 120), (240, 40)):
        _press_at(page, stage, x, y)
    page.get_by_role("button", name="Save the marks").click()
    expect(page.locator(".desk-state")).to_contain_text("Marks saved")

    after = _rows(opened.folder, "landmarks")
    mine = _of(after, "observer P")
    assert after[: len(before)] == before
    assert len(mine) == 7
    placed = {row["landmark"]: (float(row["xPixel"]), float(row["yPixel"])) for row in mine}
    assert placed["bill tip"] == pytest.approx((100, 60), abs=1.5)
    assert placed["bill middle"] == pytest.approx((126, 44), abs=1.5)
    assert placed["bill root"] == pytest.approx((140, 55), abs=1.5)
    outline = [row for row in mine if row["landmark"] == "outline"]
    assert [row["pointOrder"] for row in outline] == ["1", "2", "3", "4"]
    assert len({row["pictureChecksum"] for row in mine}) == 1
    assert len(mine[0]["pictureChecksum"]) == 64
    assert opened.complaints == []


def test_a_picture_is_marked_scaled_and_scored_with_the_keyboard_alone(opened: "Opened") -> None:
    page = opened.page
    opened.go("testimony")
    page.wait_for_selector("picture-desk[data-ready]", state="attached")

    def tab_to(what: Locator) -> None:
        for _ in range(60):
            if what.evaluate("it => it === document.activeElement"):
                return
            page.keyboard.press("Tab")
        raise AssertionError("Tab does not lead there")

    page.locator("#main").focus()
    tab_to(page.locator("#desk > summary"))
    page.keyboard.press("Enter")
    tab_to(page.get_by_label("Who marks"))
    page.keyboard.type("observer K")
    tab_to(page.locator("picture-desk select[name=picture]"))
    page.keyboard.type("pic-08")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    stage = page.locator(".stage")
    expect(stage).to_be_focused()

    # The cross begins in the middle of the picture, at 180, 150.
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")  # bill tip at 170, 149
    page.keyboard.press("Alt+ArrowRight")
    page.keyboard.press("Enter")  # bill middle at 170.2, 149
    page.keyboard.press("Control+z")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")  # bill middle at 170.2, 159
    page.keyboard.press("p")
    page.keyboard.press("p")
    page.keyboard.press("n")
    page.keyboard.press("n")  # back at bill root
    expect(page.locator(".desk-state")).to_contain_text("Now: bill root")
    page.keyboard.press("o")
    for key in ("Shift+ArrowLeft", "Shift+ArrowUp", "Shift+ArrowRight"):
        page.keyboard.press(key)
        page.keyboard.press("Enter")

    # The table beside the picture takes places as numbers.
    field = page.get_by_label("crown, px from the left", exact=True)
    tab_to(field)
    page.keyboard.type("88.5")
    page.keyboard.press("Tab")
    page.keyboard.type("41")
    page.keyboard.press("Enter")
    expect(page.get_by_label("crown, px from the top", exact=True)).to_have_value("41")
    page.keyboard.press("Control+s")
    expect(page.locator(".desk-state")).to_contain_text("Marks saved")

    mine = _of(_rows(opened.folder, "landmarks"), "observer K")
    placed = {row["landmark"]: (row["xPixel"], row["yPixel"]) for row in mine}
    assert placed["bill tip"] == ("170.0", "149.0")
    assert placed["bill middle"] == ("170.2", "159.0")
    assert placed["crown"] == ("88.5", "41.0")
    assert sum(row["landmark"] == "outline" for row in mine) == 3
    assert {row["pictureID"] for row in mine} == {"pic-08"}

    tab_to(page.locator(".desk-score-list select[name=posture]"))
    page.keyboard.type("3.5")
    tab_to(page.get_by_role("button", name="Save the scores"))
    page.keyboard.press("Enter")
    expect(page.locator(".desk-state")).to_contain_text("Scores saved")
    scores = _of(_rows(opened.folder, "picture_marks"), "observer K")
    assert [(row["measurementType"], row["measurementValue"]) for row in scores] == [
        ("posture", "3.5")
    ]
    page.wait_for_selector("body[data-computing=no]")
    assert opened.complaints == []


def test_marks_saved_are_there_again_for_their_observer_and_hidden_from_others(
    reading: "Opened",
) -> None:
    page = reading.page
    _open_desk(reading, observer="observer A", picture="pic-01")
    expect(page.locator(".stage .point")).to_have_count(14)
    assert page.locator(".stage .outline-point").count() == 15
    page.get_by_label("Who marks").fill("somebody new")
    page.get_by_role("button", name="Open", exact=True).click()
    expect(page.locator(".stage .point")).to_have_count(0)
    assert reading.complaints == []
