"""Spreadsheets and files brought into a study in the page."""

from pathlib import Path
from typing import TYPE_CHECKING

import PIL.Image
import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

AXE = next((Path(__file__).parent / "vendor").glob("axe-core-*/axe.min.js"))
SHEET = "Inv.-Nr.;Knochen;Seite;größte Länge;Kiste\nA 12;Femur;li;171,5;7\nA 13;Femur;re;168,9;7\n"


def test_a_museums_spreadsheet_is_corrected_column_by_column_and_imported_by_keyboard(
    small: "Opened", tmp_path: Path
) -> None:
    page = small.page
    sheet = tmp_path / "Sammlung.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    small.go("skeleton")
    page.get_by_role("button", name="Bring in a spreadsheet or files").press("Enter")
    page.get_by_label("Choose files").set_input_files(sheet)
    panel = page.locator(".import-panel")
    expect(panel.get_by_role("heading", name="Import Sammlung.csv")).to_be_focused()
    length = panel.get_by_label("größte Länge is taken for")
    expect(length).to_have_value("code GL")
    box = panel.get_by_label("Kiste is taken for")
    expect(panel.locator("tr.not-understood")).to_have_count(1)
    box.focus()
    box.select_option("organismID")
    expect(panel.locator("tr.not-understood")).to_have_count(0)
    expect(page.locator(":focus")).to_have_attribute("aria-label", "Kiste is taken for")
    panel.get_by_label("Collection, where none is named").fill("CCC")
    page.keyboard.press("Tab")
    expect(panel).to_contain_text("Specimens: 2 rows would be added")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    assert (
        page.evaluate(
            "axe.run('.intake', {runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']})"
            ".then(result => result.violations.map(found => found.id))"
        )
        == []
    )
    panel.get_by_role("button", name="Import these rows").press("Enter")
    expect(panel).to_contain_text("Measurements: 2 rows added")
    page.keyboard.press("Escape")
    expect(page.locator("study-sheet[name=specimens] table")).to_have_attribute(
        "aria-rowcount", "15"
    )
    text = (small.folder / "tables" / "specimens.csv").read_text(encoding="utf-8")
    assert "CCC,A 12" in text
    assert small.complaints == []


def _drop(page: Page, name: str, content: bytes) -> None:
    page.evaluate(
        """([name, bytes]) => {
          const data = new DataTransfer();
          data.items.add(new File([new Uint8Array(bytes)], name));
          document.body.dispatchEvent(
            new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
        }""",
        [name, list(content)],
    )


def test_a_dropped_picture_goes_into_the_study_and_begins_its_row_on_the_page_of_pictures(
    small: "Opened", tmp_path: Path
) -> None:
    page = small.page
    path = tmp_path / "plate.png"
    PIL.Image.new("RGB", (12, 8), (90, 0, 0)).save(path)
    small.go("skeleton")
    _drop(page, "Tafel 3.png", path.read_bytes())
    line = page.locator(".intake-list li")
    line.get_by_role("button", name="It shows the animal or a mount").click()
    expect(line).to_contain_text("Now in files/pictures/Tafel 3.png")
    assert (small.folder / "files" / "pictures" / "Tafel 3.png").read_bytes() == path.read_bytes()
    line.get_by_role("button", name="Begin its row in Pictures").click()
    page.wait_for_url("**/testimony")
    sheet = page.locator("study-sheet[name=pictures]")
    expect(sheet.locator(".cell-field")).to_be_focused()
    page.keyboard.type("pic-1")
    page.keyboard.press("Enter")
    expect(sheet.locator("tbody td", has_text="pictures/Tafel 3.png")).to_be_visible()
    expect(sheet.locator(".sheet-state")).to_contain_text("1 row changed, not saved")
    assert small.complaints == []


def test_what_is_dropped_but_not_taken_is_said_why_and_changes_nothing(small: "Opened") -> None:
    page = small.page
    small.go("skeleton")
    before = sorted((small.folder / "files").rglob("*"))
    _drop(page, "plate.png", b"no picture")
    expect(page.locator(".intake-fault")).to_contain_text("The file is no picture")
    _drop(page, "notes.docx", b"x")
    expect(page.locator(".intake-fault").last).to_contain_text("takes no files that end in")
    assert sorted((small.folder / "files").rglob("*")) == before


def test_a_folder_of_slices_begins_the_row_that_cutting_it_fills(
    small: "Opened", tmp_path: Path
) -> None:
    page = small.page
    slices = tmp_path / "left femur"
    slices.mkdir()
    for number in range(3):
        PIL.Image.new("L", (12, 8), 90 + number).save(slices / f"{number:03d}.png")
    small.go("sections")
    page.get_by_role("button", name="Bring in a spreadsheet or files").press("Enter")
    page.get_by_label("Choose a folder of slices").set_input_files(slices)
    line = page.locator(".intake-list li")
    expect(line).to_contain_text("Now in files/stacks/left femur")
    line.get_by_role("button", name="Begin its row in Bone sections").press("Enter")
    row = page.locator("study-sheet[name=sections] tbody tr").first
    expect(row).to_contain_text("left-femur-50")
    expect(row).to_contain_text("femur")
    assert len(list((small.folder / "files" / "stacks" / "left femur").glob("*.png"))) == 3
    assert small.complaints == []
