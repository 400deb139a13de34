"""What people do in the page, in a real browser."""

import re
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Locator, Page, expect

from bonewright.web.views import VIEWS

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser


def _sheet(page: Page, name: str) -> Locator:
    return page.locator(f"study-sheet[name={name}]")


def _cell(page: Page, name: str, *, row_id: str, column: str) -> Locator:
    sheet = _sheet(page, name)
    titles = sheet.locator("thead th code").all_inner_texts()
    row = sheet.locator("tbody tr", has=page.get_by_role("gridcell", name=row_id, exact=True))
    return row.locator("td").nth(titles.index(column))


def _headline(page: Page) -> str:
    return page.locator("#standing .headline").inner_text()


def _has_rows(folder: Path, name: str) -> bool:
    file = folder / "tables" / f"{name}.csv"
    return file.exists() and len(file.read_text(encoding="utf-8").splitlines()) > 1


def test_every_view_loads_whole_and_from_this_machine_only(reading: "Opened") -> None:
    page = reading.page
    for view in VIEWS:
        reading.go(view.key, with_figures=True)
        expect(page.locator("main h1")).to_be_visible()
        expect(page.get_by_text("invented study", exact=True)).to_be_visible()
        expect(page.locator("nav [aria-current=page]")).to_contain_text(view.title)
        filled = [name for name in view.tables if _has_rows(reading.folder, name)]
        for name in filled:
            expect(_sheet(page, name).locator("tbody tr").first).to_be_visible()
        # Empty tables are shut; where all are, the last one stays open.
        shut = set(view.tables) - set(filled)
        for name in shut if filled else ():
            expect(_sheet(page, name)).to_be_hidden()
        broken = page.evaluate(
            "[...document.images].filter(i => i.getAttribute('src') !== null)"
            ".filter(i => !i.complete || i.naturalWidth === 0).length"
        )
        assert broken == 0
        if view.key != "study":
            expect(page.locator(".finding").first).to_be_visible()
    assert reading.complaints == []
    outside = [url for url in reading.requests if not url.startswith((reading.address, "data:"))]
    assert outside == []
    assert page.url.startswith(reading.address)
    assert "token" not in page.url


def test_a_cell_is_corrected_by_keyboard_checked_while_typing_saved_and_the_mass_follows(
    opened: "Opened",
) -> None:
    page = opened.page
    opened.go("body")
    before = _headline(page)
    assert re.search(r"about \d+", before)
    text_before = (opened.folder / "tables" / "bodies.csv").read_text(encoding="utf-8")

    first = _sheet(page, "bodies").locator("tbody td").first
    first.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    cell = page.locator("td:focus")
    old = cell.inner_text()

    page.keyboard.press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.type("plenty")
    wrong = _sheet(page, "bodies").locator("td[aria-invalid=true]")
    expect(wrong).to_have_count(1)
    expect(_sheet(page, "bodies").locator(".note-problem")).to_contain_text("expected")

    page.keyboard.press("Escape")
    expect(wrong).to_have_count(0)
    expect(page.locator("td:focus")).to_have_text(old)

    new = f"{float(old) * 1.3:.1f}"
    page.keyboard.press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.type(new)
    page.keyboard.press("Enter")
    for row in range(1, _sheet(page, "bodies").locator("tbody tr").count()):
        expect(page.locator("td:focus")).not_to_have_text(new)
        if page.locator("td:focus").inner_text() == "":  # weighed instead
            page.keyboard.press("ArrowDown")
            continue
        page.keyboard.press("Enter")
        page.keyboard.press("Control+a")
        page.keyboard.type(f"{float(old) * 1.3 + row / 10:.1f}")
        page.keyboard.press("Enter")
    expect(_sheet(page, "bodies").locator(".sheet-state")).to_contain_text("not saved")
    assert (opened.folder / "tables" / "bodies.csv").read_text(encoding="utf-8") == text_before

    page.keyboard.press("Control+s")
    expect(_sheet(page, "bodies").locator(".sheet-message")).to_have_text("Saved.")
    expect(page.locator("#standing .headline")).not_to_have_text(before)
    page.wait_for_selector("body[data-computing=no]")
    assert new in (opened.folder / "tables" / "bodies.csv").read_text(encoding="utf-8")
    assert _headline(page) != before
    assert opened.complaints == []


def test_a_choice_is_offered_as_a_list_and_tab_walks_on(reading: "Opened") -> None:
    page = reading.page
    reading.go("skeleton")
    cell = _cell(page, "specimens", row_id="bone-001", column="side")
    cell.click()
    cell.click()
    field = cell.locator("select")
    expect(field).to_be_focused()
    field.select_option("unknown")
    page.keyboard.press("Tab")
    expect(cell).to_have_text("unknown")
    expect(cell).to_have_class(re.compile("changed"))
    expect(
        _cell(page, "specimens", row_id="bone-001", column="sex").locator("select")
    ).to_be_focused()
    page.keyboard.press("Escape")
    page.keyboard.press("Control+z")
    expect(cell).not_to_have_class(re.compile("changed"))


def test_a_long_table_is_there_to_its_last_row_and_can_be_searched(reading: "Opened") -> None:
    page = reading.page
    reading.go("skeleton")
    lines = (reading.folder / "tables" / "measurements.csv").read_text(encoding="utf-8")
    count = len(lines.splitlines()) - 1
    sheet = _sheet(page, "measurements")
    expect(sheet.get_by_role("grid")).to_have_attribute("aria-rowcount", str(count + 1))
    last = lines.splitlines()[-1].split(",")[0]
    sheet.locator("tbody td").first.focus()
    page.keyboard.press("Control+End")
    expect(sheet.get_by_role("gridcell", name=last, exact=True)).to_be_visible()
    assert sheet.locator("tbody tr").count() < 60
    sheet.get_by_role("searchbox").fill(last)
    expect(sheet.locator("tbody tr")).to_have_count(1)


def test_a_row_is_added_and_deleted_and_brought_back(reading: "Opened") -> None:
    page = reading.page
    reading.go("body")
    sheet = _sheet(page, "bodies")
    count = sheet.locator("tbody tr").count()
    sheet.get_by_role("button", name="Add row").click()
    expect(sheet.locator("tbody tr")).to_have_count(count + 1)
    page.keyboard.press("Escape")
    sheet.get_by_role("button", name="Undo").click()
    expect(sheet.locator("tbody tr")).to_have_count(count)
    first = sheet.locator("tbody td").first
    first.focus()
    name = first.inner_text()
    sheet.get_by_role("button", name="Delete row").click()
    expect(sheet.locator("tbody tr")).to_have_count(count - 1)
    expect(sheet.locator(".sheet-message")).to_contain_text(name)
    sheet.get_by_role("button", name="Undo").click()
    expect(sheet.locator("tbody td").first).to_have_text(name)
    expect(sheet.get_by_role("button", name="Save")).to_be_disabled()


def test_rows_of_a_spreadsheet_can_be_pasted(reading: "Opened") -> None:
    page = reading.page
    reading.go("study")
    sheet = _sheet(page, "sources")
    first = sheet.locator("tbody td").nth(1)
    first.focus()
    page.evaluate(
        """() => {
          const data = new DataTransfer();
          data.setData("text/plain", "First line\\tpublication\\nSecond line\\tarchive\\n");
          document.activeElement.dispatchEvent(
            new ClipboardEvent("paste", { clipboardData: data, bubbles: true }));
        }"""
    )
    rows = sheet.locator("tbody tr")
    assert rows.nth(0).locator("td").all_inner_texts()[1:3] == ["First line", "publication"]
    assert rows.nth(1).locator("td").all_inner_texts()[1:3] == ["Second line", "archive"]


def test_two_people_change_one_cell_and_both_values_are_shown(opened: "Opened") -> None:
    page = opened.page
    opened.go("skeleton")
    path = opened.folder / "tables" / "measurements.csv"
    row = path.read_text(encoding="utf-8").splitlines()[1].split(",")
    row_id, old = row[0], row[3]
    cell = _cell(page, "measurements", row_id=row_id, column="measurementValue")
    cell.click()
    page.keyboard.press("Control+a")
    page.keyboard.type(f"{float(old) + 1:.2f}")
    page.keyboard.press("Enter")
    _change(path, old, f"{float(old) + 2:.2f}")
    page.keyboard.press("Control+s")
    sheet = _sheet(page, "measurements")
    clash = sheet.locator(".clash")
    expect(clash).to_contain_text(f"{float(old) + 1:.2f}")
    expect(clash).to_contain_text(f"{float(old) + 2:.2f}")
    clash.get_by_label(f"{float(old) + 2:.2f}").check()
    expect(cell).to_have_text(f"{float(old) + 2:.2f}")
    clash.get_by_label(f"{float(old) + 1:.2f}").check()
    sheet.get_by_role("button", name="Save").click()
    expect(sheet.locator(".sheet-message")).to_have_text("Saved.")
    assert f",{float(old) + 1:.2f}," in path.read_text(encoding="utf-8").splitlines()[1]


def _change(path: Path, old: str, new: str) -> None:
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[1] = lines[1].replace(f",{old},", f",{new},")
    path.write_text("".join(lines), encoding="utf-8")


def test_a_doubtful_row_is_decided_and_then_no_longer_open(opened: "Opened") -> None:
    page = opened.page
    opened.go("study")
    forms = page.locator("form.decide")
    count = forms.count()
    assert count > 0
    row = forms.first.get_attribute("data-row")
    forms.first.get_by_label("Reason").fill("Looked at the bone again.")
    forms.first.get_by_role("button", name="Set it aside").click()
    expect(forms).to_have_count(count - 1)
    expect(page.locator(".decided", has_text="Looked at the bone again.")).to_be_visible()
    decisions = (opened.folder / "tables" / "decisions.csv").read_text(encoding="utf-8")
    assert f",{row},set aside,Looked at the bone again." in decisions
    expect(_sheet(page, "decisions").locator("tbody")).to_contain_text("Looked at the bone again.")


def test_a_link_in_a_list_opens_the_cell_it_names(reading: "Opened") -> None:
    page = reading.page
    reading.go("study")
    link = page.locator("#doubts li a").first
    row = (link.get_attribute("href") or "").split(":")[1]
    link.click()
    focused = page.locator("td:focus")
    expect(focused).to_be_visible()
    expect(focused.locator("xpath=../th")).to_have_text(row)


def test_problems_do_not_stop_saving_and_old_results_say_that_they_are_old(
    opened: "Opened",
) -> None:
    page = opened.page
    opened.go("body")
    cell = _sheet(page, "bodies").locator("tbody td").nth(4)
    cell.click()
    page.keyboard.press("Control+a")
    page.keyboard.type("plenty")
    page.keyboard.press("Enter")
    page.keyboard.press("Control+s")
    expect(_sheet(page, "bodies").locator(".sheet-message")).to_have_text(
        "Saved, but not recomputed: 1 problem in this table."
    )
    expect(page.locator("#problems")).to_contain_text(
        "Not computed until these problems are mended"
    )
    expect(page.locator("#standing")).to_contain_text("before the last changes")
    page.locator("#problems a").first.click()
    expect(page.locator("td:focus")).to_have_text("plenty")


def test_a_slow_answer_does_not_leave_the_page_at_work_when_the_results_are_there(
    opened: "Opened",
) -> None:
    opened.go("relatives")
    page = opened.page
    # A page that is fetched while steps arrive comes after word that all of them are done.
    page.route("**/relatives", lambda route: (time.sleep(1.0), route.continue_()))
    page.evaluate(
        """() => {
          window.states = [];
          document.addEventListener("state", (event) => window.states.push(event.detail));
        }"""
    )
    table = opened.folder / "tables" / "relatives.csv"
    first, second, *rest = table.read_text(encoding="utf-8").splitlines()
    cells = second.split(",")
    place = first.split(",").index("bodyMass")
    cells[place] = f"{float(cells[place]) * 1.01:.2f}"
    table.write_text("\n".join([first, ",".join(cells), *rest]) + "\n", encoding="utf-8")
    done = False
    while not done:
        page.wait_for_timeout(200)
        done = page.evaluate("window.states.some((state) => !state.computing)")
    # Long enough for whatever was fetched before to have come.
    page.wait_for_timeout(4000)
    assert page.evaluate("document.body.dataset.computing") == "no"
    numbers = page.evaluate("window.states.map((state) => state.number)")
    assert numbers == sorted(numbers)


def test_the_report_is_made_beside_the_work_and_handed_over_as_pdf_and_as_html(
    reading: "Opened",
) -> None:
    page = reading.page
    reading.go("takeaway")
    page.get_by_role("button", name="Make the report").click()
    for name, beginning in (("report.pdf", b"%PDF"), ("report.html", b"<!doctype html>")):
        with page.expect_download() as waiting:
            page.locator(".errand").get_by_role("link", name=name).click(timeout=60_000)
        content = Path(waiting.value.path()).read_bytes()
        assert content[: len(beginning)].lower() == beginning.lower()
    expect(page.locator("select[name=later] option")).to_have_count(2)


def test_no_view_is_wider_than_the_screen(reading: "Opened") -> None:
    page = reading.page
    for view in VIEWS:
        reading.go(view.key)
        for width in (360, 768, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_on_a_narrow_screen_a_figure_fits_and_can_be_made_larger(reading: "Opened") -> None:
    page = reading.page
    reading.go("study", with_figures=True)
    page.set_viewport_size({"width": 390, "height": 844})
    try:
        drawing = page.locator("figure .drawing").first
        wider = "drawing => drawing.scrollWidth - drawing.clientWidth"
        assert drawing.evaluate(wider) <= 0
        page.get_by_label("Larger, to move sideways").first.check()
        assert drawing.evaluate(wider) > 100
        page.get_by_label("Larger, to move sideways").first.uncheck()
    finally:
        page.set_viewport_size({"width": 1280, "height": 720})


def test_a_closed_table_is_opened_by_its_link(reading: "Opened") -> None:
    page = reading.page
    reading.go("study")
    sheet = _sheet(page, "sources")
    page.locator("#drawer-sources > summary").click()
    expect(sheet).to_be_hidden()
    page.locator(".table-jumps a[href='#sources']").click()
    expect(sheet).to_be_visible()


def test_the_first_stop_of_the_tab_key_skips_to_the_content(reading: "Opened") -> None:
    page = reading.page
    reading.go("skeleton")
    page.keyboard.press("Tab")
    expect(page.locator("a.skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
