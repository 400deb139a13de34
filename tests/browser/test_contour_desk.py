"""A section traced in a picture in a real browser: by pointer, and by keyboard alone."""

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

# The demo's picture of a break, 320 by 300 pixels, and the ends of its scale bar of 10 mm.
BREAK, WIDTH, BAR_ENDS = "breaks/bone-010.tif", 320, ((24, 279), (134, 279))


def _row(folder: Path, section: str) -> dict[str, str]:
    with (folder / "tables" / "sections.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["sectionID"]: row for row in csv.DictReader(file)}
    return rows.get(section, {})


def _open_picture(opened: "Opened") -> Locator:
    page = opened.page
    opened.go("sections")
    page.wait_for_selector("contour-desk[data-ready]", state="attached")
    page.locator("#contour > summary").click()
    page.locator("contour-desk select[name=file]").select_option(BREAK)
    page.get_by_role("button", name="Open", exact=True).click()
    stage = page.locator(".stage")
    expect(stage).to_be_focused()
    expect(page.locator(".stage img")).to_have_js_property("complete", True)
    return stage


def _bar_pixels(page: Page) -> float:
    return float(page.locator("contour-desk input[name=bar_pixels]").input_value())


def test_a_break_is_traced_looked_at_and_kept_as_a_row(opened: "Opened") -> None:
    page = opened.page
    stage = _open_picture(opened)
    box = stage.bounding_box()
    assert box is not None
    scale = box["width"] / WIDTH
    for x, y in BAR_ENDS:
        stage.click(position={"x": x * scale, "y": y * scale})
    assert _bar_pixels(page) == pytest.approx(110, abs=1)

    page.get_by_label("Length of the scale bar, mm").fill("10")
    page.get_by_label("What counts as bone").select_option("otsu")
    page.get_by_role("button", name="Show the contour").click()
    contour = page.get_by_alt_text("The contour found")
    expect(contour).to_be_visible()
    # Other choices ask for another look before anything can be kept.
    page.get_by_label("What counts as bone").select_option("half-maximum")
    expect(contour).to_be_hidden()
    page.get_by_role("button", name="Show the contour").click()
    expect(contour).to_be_visible()

    state = page.locator(".contour-state")
    page.get_by_label("Section", exact=True).fill("sec-01")
    page.get_by_role("button", name="Keep the contour").click()
    expect(state).to_contain_text("already")
    page.get_by_label("Section", exact=True).fill("sec-21")
    page.get_by_label("Bone", exact=True).fill("bone-010")
    page.locator(".contour-keep select[name=element]").select_option("femur")
    page.get_by_label("Position, % from the proximal end").fill("48")
    page.get_by_label("Length of the bone, mm").fill("163")
    page.get_by_role("button", name="Keep the contour").click()
    expect(state).to_contain_text("Kept as outlines/sec-21.csv, in a new row sec-21")

    row = _row(opened.folder, "sec-21")
    assert (row["materialEntityID"], row["position"], row["measurementUnit"]) == (
        "bone-010",
        "48",
        "mm",
    )
    assert (opened.folder / "files" / row["outlineFile"]).is_file()
    # The page takes the new bone in: five femora instead of four.
    expect(page.locator("main")).to_contain_text("from 5 bones")
    # The refusal that was provoked above is all the browser has to complain of.
    assert [words for words in opened.complaints if "422" not in words and "400" not in words] == []


def test_a_scale_bar_is_measured_and_a_contour_shown_with_the_keyboard_alone(
    reading: "Opened",
) -> None:
    page = reading.page
    _open_picture(reading)
    page.keyboard.press("Enter")  # one end, in the middle of the picture
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    for _ in range(4):
        page.keyboard.press("Alt+ArrowRight")
    page.keyboard.press("Enter")
    assert _bar_pixels(page) == pytest.approx(30.8, abs=0.05)
    page.keyboard.press("Control+z")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert _bar_pixels(page) == pytest.approx(31.8, abs=0.05)

    for _ in range(3):  # past the two buttons that enlarge, to the bar's length
        page.keyboard.press("Tab")
    page.keyboard.type("2.9")
    page.keyboard.press("Enter")
    expect(page.get_by_alt_text("The contour found")).to_be_visible()
    expect(page.get_by_label("Section", exact=True)).to_be_focused()
    assert reading.complaints == []
