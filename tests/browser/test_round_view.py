"""The animal in the round: drawn, turned, measured, cut, and kept as an outline."""

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

# How much of the picture is drawn on, and a number that changes when what is drawn does.
LOOK = """canvas => {
  const copy = document.createElement("canvas");
  copy.width = 160; copy.height = 120;
  const pen = copy.getContext("2d");
  pen.drawImage(canvas, 0, 0, 160, 120);
  const dots = pen.getImageData(0, 0, 160, 120).data;
  let inked = 0, mark = 0;
  for (let at = 0; at < dots.length; at += 4) {
    if (dots[at + 3] > 128) { inked += 1; mark = (31 * mark + at + dots[at]) % 1000003; }
  }
  return [inked / (160 * 120), mark];
}"""


def _look(page: Page) -> tuple[float, int]:
    share, mark = page.locator("round-view canvas").evaluate(LOOK)
    return share, mark


def test_the_body_is_drawn_turned_by_keyboard_measured_cut_and_kept_as_an_outline(
    reading: "Opened",
) -> None:
    page = reading.page
    reading.go("body")
    view = page.locator("round-view")
    page.get_by_role("button", name="Show it in the round").click()
    expect(view).to_have_attribute("data-ready", "yes", timeout=90_000)
    share, before = _look(page)
    assert 0.03 < share < 0.6

    canvas = view.locator("canvas")
    expect(canvas).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(view).to_have_attribute("data-azimuth", "55.0")
    _, turned = _look(page)
    assert turned != before
    page.keyboard.press("+")
    assert _look(page)[0] > share

    view.get_by_label("From", exact=True).select_option("left hip")
    view.get_by_label("to", exact=True).select_option("left knee")
    measured = view.locator(".round-distance")
    expect(measured).to_have_attribute("data-middle", re.compile(r"\d"))
    middle = float(measured.get_attribute("data-middle") or "nan")
    link = measured.get_by_role("link")
    address = link.get_attribute("href") or ""
    assert address == "/skeleton#skeleton.mean.femur.GL"
    expect(measured.locator("strong")).to_contain_text("mm (")

    view.get_by_role("button", name="side", exact=True).click()
    _, whole = _look(page)
    view.get_by_label("Cut it", exact=True).select_option("across")
    expect(view.locator("output")).to_contain_text("mm")
    assert _look(page)[1] != whole

    kept = view.get_by_role("link", name="Keep the outline")
    svg = page.request.get(f"{reading.address}{kept.get_attribute('href')}").text()
    size = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 \1 \2"', svg)
    assert size is not None
    assert 500 < float(size[2]) < 1500

    reading.go("skeleton")
    value = page.locator("[id='skeleton.mean.femur.GL'] .finding-value").text_content() or ""
    told = re.search(r"[\d.]+", value)
    assert told is not None
    assert middle == pytest.approx(float(told[0]), rel=0.005)
    assert reading.complaints == []


def test_where_nothing_can_be_drawn_in_the_round_the_still_picture_stands(
    reading: "Opened",
) -> None:
    page = reading.page
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    reading.go("body")
    page.get_by_role("button", name="Show it in the round").click()
    view = page.locator("round-view")
    expect(view).to_have_attribute("data-ready", "still", timeout=60_000)
    expect(view).to_contain_text("shown from three sides")
    expect(view.locator("img")).to_be_visible()
