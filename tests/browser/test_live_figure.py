"""Figures that tell their values in the page, and are kept for print."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

AXE = next((Path(__file__).parent / "vendor").glob("axe-core-*/axe.min.js"))


def test_a_figure_tells_its_values_to_pointer_and_keyboard_and_leads_to_the_rows(
    reading: "Opened",
) -> None:
    page = reading.page
    reading.go("relatives")
    figure = page.locator("#figure-leg_bone_fits")
    before = len(reading.requests)
    assert not any("vega" in url for url in reading.requests)
    figure.get_by_role("button", name="Show its values").click()
    expect(figure).to_have_attribute("data-live", "yes", timeout=60_000)
    assert any("vega" in url for url in reading.requests[before:])
    expect(figure.locator(".figure-stage svg")).to_be_visible()
    expect(figure.locator(".drawing > img")).to_be_hidden()

    lines = (reading.folder / "tables" / "relatives.csv").read_text(encoding="utf-8")
    figure.locator(".drawing").focus()
    page.keyboard.press("ArrowRight")
    tip = page.locator("#figure-tip")
    species = tip.locator("p").first.inner_text()
    assert species in lines
    expect(tip).to_contain_text(re.compile(r"kg.*: [\d.]+"))

    page.evaluate(AXE.read_text(encoding="utf-8"))
    faults = page.evaluate(
        "axe.run('#figure-leg_bone_fits', {runOnly: ['wcag2a', 'wcag2aa', 'wcag22aa']})"
        ".then(found => found.violations.map(rule => rule.id))"
    )
    assert faults == []

    page.keyboard.press("Enter")
    rows = figure.locator(".figure-rows a")
    expect(rows.first).to_contain_text("Living relatives, row")
    page.keyboard.press("Escape")
    expect(tip).to_be_hidden()
    figure.locator(".figure-stage svg path[aria-roledescription], .mark-symbol path").last.hover(
        force=True
    )
    expect(tip).to_be_visible()
    rows.first.click()
    expect(page.locator("td:focus").locator("xpath=..")).to_contain_text(species)
    assert reading.complaints == []


def test_the_same_figure_is_kept_as_svg_pdf_and_png(reading: "Opened") -> None:
    reading.go("judgement")
    links = reading.page.locator("#figure-mass_lines .figure-tools a")
    beginnings = {"svg": b"<svg", "pdf": b"%PDF", "png": b"\x89PNG"}
    assert links.count() == len(beginnings)
    for place, (kind, beginning) in enumerate(beginnings.items()):
        answer = reading.page.request.get(
            f"{reading.address}{links.nth(place).get_attribute('href')}"
        )
        assert answer.body()[: len(beginning)] == beginning
        assert answer.headers["content-disposition"].endswith(f'.{kind}"')
