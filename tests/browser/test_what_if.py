"""Choices moved by sliders: numbers at once, nothing changed until it is written."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser


def _mass(page: Page, column: int) -> str:
    row = page.locator(".what-if-table tr", has_text="All lines together")
    return row.locator("td").nth(column).inner_text()


def test_fat_is_moved_by_keyboard_seen_at_once_and_written_with_a_reason(
    opened: "Opened",
) -> None:
    page = opened.page
    opened.go("body")
    page.locator("#what-if > summary").focus()
    page.keyboard.press("Enter")
    slider = page.get_by_label("Fat over the year")
    expect(slider).to_be_visible()
    written = (opened.folder / "study.toml").read_text(encoding="utf-8")
    before = _mass(page, 0)
    slider.focus()
    page.keyboard.press("End")
    expect(page.locator("what-if.moved")).to_be_visible()
    expect(page.locator(".what-if-table thead")).to_contain_text("what if")
    grown = page.locator(".what-if-table tr", has_text="Fat of the grown body, over the year")
    expect(grown.locator("td").nth(1)).not_to_have_text(grown.locator("td").nth(0).inner_text())
    assert (opened.folder / "study.toml").read_text(encoding="utf-8") == written
    assert _mass(page, 0) == before
    expected = _mass(page, 1)
    assert page.locator("path.body-now").get_attribute("d") != page.locator(
        "path.body-was"
    ).get_attribute("d")

    page.locator(".what-if-form").get_by_label("Reason").fill("Wintering ground birds.")
    page.get_by_role("button", name="Write this choice").click()
    expect(page.locator(".what-if-said")).to_have_text("Written into study.toml.")
    page.wait_for_selector("body[data-computing=no]")
    expect(page.locator("#standing .headline a")).to_have_text(expected)
    text = (opened.folder / "study.toml").read_text(encoding="utf-8")
    assert "Wintering ground birds." in text
    expect(page.locator("what-if.moved")).to_have_count(0)
    assert opened.complaints == []


def test_the_density_of_a_tissue_is_moved_seen_at_once_and_written_as_a_row(
    opened: "Opened",
) -> None:
    page = opened.page
    opened.go("body")
    page.locator("#what-if > summary").click()
    page.locator(".what-if-tissues > summary").click()
    page.get_by_label("Density of bone").focus()
    page.keyboard.press("End")
    mass = page.locator(".what-if-table tr", has_text="Grown from the skeleton, middling")
    expect(mass.locator("td").nth(1)).not_to_have_text(mass.locator("td").nth(0).inner_text())
    lines = page.locator(".what-if-lines")
    before = lines.get_attribute("viewBox")
    # Fat by itself moves the outline, for the same mass of it takes less room.
    page.get_by_label("Density of fat").focus()
    page.keyboard.press("End")
    expect(page.locator("path.body-now")).not_to_have_attribute(
        "d", page.locator("path.body-was").get_attribute("d") or ""
    )
    assert lines.get_attribute("viewBox") == before
    page.locator(".what-if-form").get_by_label("Reason").fill("Weighed in water.")
    page.get_by_role("button", name="Write this choice").click()
    expect(page.locator(".what-if-said")).to_have_text("Written into the table of tissues.")
    page.wait_for_selector("body[data-computing=no]")
    expect(page.locator("what-if.moved")).to_have_count(0)
    text = (opened.folder / "tables" / "tissues.csv").read_text(encoding="utf-8")
    assert [line.partition(",")[0] for line in text.splitlines()[1:]] == ["muscle", "fat", "bone"]
    assert text.count("Weighed in water.") == 2
    assert opened.complaints == []


def test_legs_and_place_in_the_tree_move_their_numbers_and_can_be_put_back(
    reading: "Opened",
) -> None:
    page = reading.page
    for view, label, row in (
        ("movement", "Femur from the vertical", "Hip over the toes"),
        ("relatives", "When its line left theirs", "All lines together"),
    ):
        reading.go(view)
        page.locator("#what-if > summary").click()
        page.get_by_label(label).focus()
        page.keyboard.press("Home")
        cells = page.locator(".what-if-table tr", has_text=row).locator("td")
        expect(cells).to_have_count(2)
        page.get_by_role("button", name="Back to what is written").click()
        expect(cells).to_have_count(1)
    assert reading.complaints == []


AXE = next((Path(__file__).parent / "vendor").glob("axe-core-*/axe.min.js"))
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def test_the_pages_of_actions_and_what_ifs_break_no_rule_of_access(reading: "Opened") -> None:
    page = reading.page
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        for place in ("start", "takeaway", "study", "body#what-if", "movement#what-if"):
            page.goto(f"{reading.address}/{place}", wait_until="domcontentloaded")
            page.wait_for_selector("body[data-computing=no]", timeout=120_000)
            if "what-if" in place:
                expect(page.locator(".what-if-table")).to_be_visible()
            page.evaluate(AXE.read_text(encoding="utf-8"))
            found = page.evaluate(
                "rules => axe.run('main', {runOnly: rules}).then(result =>"
                " result.violations.map(one => [one.id, one.nodes.map(node => node.html)]))",
                RULES,
            )
            assert found == [], (scheme, place)
    page.emulate_media(color_scheme="light")
