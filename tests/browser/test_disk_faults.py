"""The page when the disk does not take a save: what was typed stays and is saved later."""

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser


def test_what_could_not_be_saved_stays_in_the_page_and_says_so_and_is_saved_later(
    small: "Opened",
) -> None:
    page, path = small.page, small.folder / "tables" / "measurements.csv"
    small.go("skeleton")
    before = path.read_bytes()
    # A file where a folder should be: the disk refuses the version that is laid down first.
    versions = small.folder / "history" / "versions" / "tables" / "measurements.csv"
    versions.rename(versions.with_name("aside"))
    versions.write_text("in the way")
    sheet = page.locator("study-sheet[name=measurements]")
    page.evaluate("document.querySelector('study-sheet[name=measurements]').hands.go(0, 3)")
    page.keyboard.type("151.9")
    page.keyboard.press("Enter")
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_contain_text("not saved yet")
    expect(sheet.locator(".sheet-message")).to_contain_text("Every file is as it was")
    assert path.read_bytes() == before
    expect(sheet.locator("tbody tr").first.locator("td").nth(3)).to_have_text("151.9")

    versions.unlink()
    versions.with_name("aside").rename(versions)
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_contain_text("Saved")
    assert b"m-01,bone-1,GL,151.9,mm" in path.read_bytes()
    # The browser reports the refused request by itself; nothing else may have gone wrong.
    assert all("422" in complaint for complaint in small.complaints)
    small.complaints.clear()


def test_a_spreadsheet_that_has_the_table_open_is_told_of(small: "Opened") -> None:
    page = small.page
    small.go("skeleton")
    (small.folder / "tables" / ".~lock.measurements.csv#").write_text("open")
    page.evaluate("document.querySelector('study-sheet[name=measurements]').hands.go(1, 3)")
    page.keyboard.type("152.9")
    page.keyboard.press("Enter")
    page.keyboard.press("Control+s")
    message = page.locator("study-sheet[name=measurements] .sheet-message")
    expect(message).to_contain_text("open in a spreadsheet")
    (small.folder / "tables" / ".~lock.measurements.csv#").unlink()
