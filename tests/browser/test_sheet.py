"""A table worked in as in a spreadsheet: blocks, filling, sorting, mends, undo, by keyboard."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

AXE = next((Path(__file__).parent / "vendor").glob("axe-core-*/axe.min.js"))
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def _sheet(page: Page, name: str = "measurements") -> Locator:
    return page.locator(f"study-sheet[name={name}]")


def _rows(page: Page, name: str = "measurements") -> list[list[str]]:
    rows: list[list[str]] = page.evaluate(
        "name => document.querySelector(`study-sheet[name=${name}]`)"
        ".store.rows.rows.map(row => row.cells)",
        name,
    )
    return rows


def _go_to(page: Page, line: int, place: int, name: str = "measurements") -> None:
    page.evaluate(
        "([name, line, place]) => document.querySelector(`study-sheet[name=${name}]`)"
        ".hands.go(line, place)",
        [name, line, place],
    )


def _paste(page: Page, text: str) -> None:
    page.evaluate("text => navigator.clipboard.writeText(text)", text)
    page.keyboard.press("Control+v")


def _extend(page: Page, *, down: int = 0, right: int = 0) -> None:
    for _ in range(down):
        page.keyboard.press("Shift+ArrowDown")
    for _ in range(right):
        page.keyboard.press("Shift+ArrowRight")


def test_a_block_is_copied_out_and_pasted_in_as_a_spreadsheet_does_it(trying: "Opened") -> None:
    page = trying.page
    trying.go("skeleton")
    before = _rows(page)
    _go_to(page, 0, 2)
    _extend(page, down=1, right=2)
    page.keyboard.press("Control+c")
    expect(_sheet(page).locator("td.selected")).to_have_count(6)
    assert page.evaluate("navigator.clipboard.readText()") == "GL\t151.5\tmm\nGL\t153.0\tmm"

    # Quotes, a line break inside a cell, and a block that reaches beyond the last row.
    _go_to(page, 11, 0)
    _paste(page, 'm-a\tbone-1\tGL\t160\tmm\n"m ""b"""\t"two\nlines"\tGL\t161\tmm\n')
    rows = _rows(page)
    assert rows[11][:5] == ["m-a", "bone-1", "GL", "160", "mm"]
    assert rows[12][:3] == ['m "b"', "two\nlines", "GL"]
    assert len(rows) == 13
    page.keyboard.press("Control+c")
    assert page.evaluate("navigator.clipboard.readText()").endswith(
        '"m ""b"""\t"two\nlines"\tGL\t161\tmm'
    )
    page.keyboard.press("Control+z")
    assert _rows(page) == before

    # One cell fills the whole selection.
    _go_to(page, 0, 4)
    _extend(page, down=3)
    _paste(page, "cm")
    assert [row[4] for row in _rows(page)[:5]] == ["cm"] * 4 + ["mm"]
    page.keyboard.press("Control+z")
    assert _rows(page) == before
    expect(_sheet(page).get_by_role("button", name="Save", exact=True)).to_be_disabled()


def test_a_first_line_of_column_names_says_where_pasted_columns_go(trying: "Opened") -> None:
    page = trying.page
    trying.go("skeleton")
    _go_to(page, 3, 1)
    _paste(page, "Value *\tmeasurementid\n163,5\tm-x\n164,25\tm-y\n")
    rows = _rows(page)
    assert [rows[3][0], rows[3][3]] == ["m-x", "163.5"]
    assert [rows[4][0], rows[4][3]] == ["m-y", "164.25"]
    assert rows[3][1] == "bone-4"
    expect(_sheet(page).locator(".sheet-message")).to_have_text(
        "2 decimal commas written as points, as this file has them. The first line named the"
        " columns."
    )


def test_commas_that_could_part_thousands_are_left_for_the_person_to_decide(
    trying: "Opened",
) -> None:
    page = trying.page
    trying.go("skeleton")
    _go_to(page, 2, 3)
    _paste(page, "1,234")
    assert _rows(page)[2][3] == "1,234"
    note = _sheet(page).locator(".cell-note")
    expect(note.get_by_role("button", name="Write 1.234", exact=True)).to_be_visible()
    note.get_by_role("button", name="Write 1234", exact=True).click()
    assert _rows(page)[2][3] == "1234"


def test_one_click_mends_a_cell_and_all_cells_alike_and_one_undo_takes_it_back(
    trying: "Opened",
) -> None:
    page = trying.page
    trying.go("skeleton")
    _go_to(page, 0, 4)
    _extend(page, down=2)
    _paste(page, "mmm")
    sheet = _sheet(page)
    expect(sheet.locator("td[aria-invalid=true]")).to_have_count(3)
    expect(sheet.locator(".sheet-state")).to_contain_text("3 problems")
    sheet.locator(".cell-note").get_by_role("button", name="Write mm in all 3 cells alike").click()
    expect(sheet.locator("td[aria-invalid=true]")).to_have_count(0)
    assert [row[4] for row in _rows(page)[:3]] == ["mm"] * 3
    page.keyboard.press("Control+z")
    expect(sheet.locator("td[aria-invalid=true]")).to_have_count(3)
    # The keyboard alone: to the next problem, to its mend, and back.
    page.keyboard.press("F8")
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("Write mm")
    page.keyboard.press("Enter")
    expect(sheet.locator("td[aria-invalid=true]")).to_have_count(2)
    expect(page.locator("td:focus")).to_have_text("mm")


def test_cells_are_filled_down_and_right_numbered_on_and_emptied(trying: "Opened") -> None:
    page = trying.page
    trying.go("skeleton")
    _go_to(page, 0, 1)
    _extend(page, down=2)
    page.keyboard.press("Control+d")
    assert [row[1] for row in _rows(page)[:4]] == ["bone-1", "bone-1", "bone-1", "bone-4"]
    page.keyboard.press("Control+z")
    _go_to(page, 0, 3)
    _extend(page, right=1)
    page.keyboard.press("Control+r")
    assert _rows(page)[0][3:5] == ["151.5", "151.5"]
    page.keyboard.press("Control+z")
    _go_to(page, 0, 0)
    _extend(page, down=2)
    page.keyboard.press("Shift+F10")
    page.get_by_role("button", name="Number on from the first").click()
    assert [row[0] for row in _rows(page)[:3]] == ["m-01", "m-02", "m-03"]
    _go_to(page, 8, 0)
    _extend(page, down=3)
    page.keyboard.type("bone 098")
    page.keyboard.press("Control+Enter")
    assert [row[0] for row in _rows(page)[8:]] == ["bone 098"] * 4
    page.keyboard.press("ContextMenu")
    page.get_by_role("button", name="Number on from the first").click()
    assert [row[0] for row in _rows(page)[8:]] == ["bone 098", "bone 099", "bone 100", "bone 101"]
    page.keyboard.press("Delete")
    assert [row[0] for row in _rows(page)[8:]] == [""] * 4


def test_a_block_is_chosen_and_drawn_out_with_the_pointer(trying: "Opened") -> None:
    page = trying.page
    trying.go("skeleton")
    sheet = _sheet(page)
    cells = sheet.locator("tbody tr").nth(0).locator("td")
    cells.nth(2).drag_to(sheet.locator("tbody tr").nth(2).locator("td").nth(4))
    expect(sheet.locator("td.selected")).to_have_count(9)
    cells.nth(1).click()
    sheet.locator(".fill-handle").drag_to(sheet.locator("tbody tr").nth(3).locator("td").nth(1))
    assert [row[1] for row in _rows(page)[:5]] == ["bone-1"] * 4 + ["bone-5"]
    sheet.locator("tbody th").nth(1).click()
    sheet.locator("tbody th").nth(3).click(modifiers=["Shift"])
    sheet.get_by_role("button", name="Delete 3 rows").click()
    assert [row[0] for row in _rows(page)[:2]] == ["m-01", "m-05"]
    sheet.get_by_role("button", name="Undo").click()
    assert [row[0] for row in _rows(page)[:3]] == ["m-01", "m-02", "m-03"]


def test_rows_are_sorted_and_filtered_by_keyboard_and_the_file_keeps_its_order(
    small: "Opened",
) -> None:
    page = small.page
    small.go("skeleton")
    sheet = _sheet(page)
    _go_to(page, 0, 3)
    page.keyboard.press("Alt+ArrowDown")
    expect(page.locator(":focus")).to_have_text("Smallest first")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(sheet.locator("th[aria-sort=descending]")).to_have_count(1)
    expect(sheet.locator("tbody tr").first.locator("td").first).to_have_text("m-12")
    _go_to(page, 0, 3)
    page.keyboard.type("169.5")
    page.keyboard.press("Enter")
    _go_to(page, 0, 1)
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    page.get_by_label("Is", exact=True).select_option("bone-12")
    page.get_by_role("button", name="Show these rows").press("Enter")
    expect(sheet.locator("tbody tr")).to_have_count(1)
    expect(sheet.locator(".sheet-state")).to_contain_text("1 shown of 12 rows")
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_have_text("Saved.")
    lines = (small.folder / "tables" / "measurements.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == [f"m-{n:02d}" for n in range(1, 13)]
    assert lines[12].split(",")[3] == "169.5"
    sheet.get_by_role("button", name="Show every row as in the file").click()
    expect(sheet.locator("tbody tr").first.locator("td").first).to_have_text("m-01")
    assert small.complaints == []


def test_what_was_done_can_be_undone_after_saving_and_by_the_next_session(
    small: "Opened",
) -> None:
    page = small.page
    path = small.folder / "tables" / "measurements.csv"
    before = path.read_text(encoding="utf-8")
    small.go("skeleton")
    sheet = _sheet(page)
    _go_to(page, 1, 3)
    _extend(page, down=1)
    page.keyboard.press("Delete")
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_contain_text("Saved")
    assert path.read_text(encoding="utf-8") != before
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_have_text("Saved.")
    assert path.read_text(encoding="utf-8") == before
    # The page opened anew knows nothing of it; the history of the study does.
    small.go("skeleton")
    sheet.get_by_role("button", name="Undo").click()
    expect(sheet.locator(".sheet-message")).to_contain_text("The last step of the study")
    sheet.get_by_role("button", name="Take it back").click()
    expect(sheet.locator(".sheet-message")).to_contain_text("Done")
    assert path.read_text(encoding="utf-8") != before
    assert _rows(page)[1][3] == ""
    # And what was taken back can be done again, by yet another session.
    small.go("skeleton")
    _go_to(page, 0, 0)
    page.keyboard.press("Control+y")
    expect(sheet.locator(".sheet-message")).to_contain_text("Taken back last in the study")
    sheet.get_by_role("button", name="Do it again").click()
    expect(sheet.locator(".sheet-message")).to_contain_text("Done")
    assert path.read_text(encoding="utf-8") == before
    page.keyboard.press("Control+y")
    expect(sheet.locator(".sheet-message")).to_have_text("There is nothing to redo.")


def test_rows_are_saved_as_one_goes_once_they_are_whole(small: "Opened") -> None:
    page = small.page
    path = small.folder / "tables" / "measurements.csv"
    small.go("skeleton")
    sheet = _sheet(page)
    sheet.get_by_label("Save as I go").check()
    sheet.get_by_role("button", name="Add row").click()
    for text in ("m-13", "bone-3", "GL", "171,5"):
        page.keyboard.type(text) if text != "GL" else page.locator("select:focus").select_option(
            text
        )
        page.keyboard.press("Tab")
    page.keyboard.type("mm")
    page.keyboard.press("Enter")
    expect(sheet.locator("td[aria-invalid=true]")).to_have_count(1)
    assert "m-13" not in path.read_text(encoding="utf-8")
    page.keyboard.press("F8")
    sheet.get_by_role("button", name="Write 171.5").click()
    expect(sheet.locator(".sheet-message")).to_have_text("Saved.")
    assert "m-13,bone-3,GL,171.5,mm" in path.read_text(encoding="utf-8")


def test_any_chain_of_changes_is_undone_to_the_start_and_saved_as_it_is_shown(
    small: "Opened",
) -> None:
    page = small.page
    small.go("skeleton")
    before = _rows(page)
    done = page.evaluate(
        """seed => {
          const sheet = document.querySelector("study-sheet[name=measurements]");
          const { store, selection, editing } = sheet;
          let state = seed;
          const pick = (n) => (state = (state * 48271) % 2147483647) % n;
          let told = 0;
          for (let step = 0; step < 200; step += 1) {
            const lines = store.rows.rows.length;
            sheet.hands.go(pick(lines), pick(5));
            sheet.hands.go(selection.active.line + pick(3), selection.active.place + pick(3), true);
            const act = pick(6);
            const cells = store.table.header.map((_, at) => `n${step}-${at}`);
            if (act === 0) editing.addRow(pick(lines + 1), cells);
            else if (act === 1 && lines > 6) editing.deleteRows();
            else if (act === 2) editing.paste([[`p${step}`, "x"], ["", `q${step}`]]);
            else if (act === 3) editing.fillTo({ line: pick(lines), place: pick(5) });
            else if (act === 4 && store.rows.done.length) void editing.takeBack("undo");
            else if (act === 5) void editing.takeBack("redo");
            if (store.rows.undone.length > told) told = store.rows.undone.length;
          }
          return [store.rows.done.length, told];
        }""",
        20261125,
    )
    assert done[0] > 20
    assert done[1] > 0
    after = _rows(page)
    assert after != before
    page.evaluate(
        """() => {
          const { editing, store } = document.querySelector("study-sheet[name=measurements]");
          while (store.rows.done.length) void editing.takeBack("undo");
        }"""
    )
    assert _rows(page) == before
    expect(_sheet(page).get_by_role("button", name="Save", exact=True)).to_be_disabled()
    page.evaluate(
        """count => {
          const { editing } = document.querySelector("study-sheet[name=measurements]");
          for (let step = 0; step < count; step += 1) void editing.takeBack("redo");
        }""",
        done[0],
    )
    assert _rows(page) == after
    _go_to(page, 0, 0)
    page.keyboard.press("Control+s")
    expect(_sheet(page).locator(".sheet-message")).to_contain_text("Saved")
    shown = _rows(page)
    small.go("skeleton")
    assert _rows(page) == shown
    assert [row for row in after if any(cell.strip() for cell in row)] == shown


def test_a_table_with_nothing_wrong_and_with_problems_breaks_no_rule_of_accessibility(
    trying: "Opened",
) -> None:
    page = trying.page
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        trying.go("skeleton")
        _go_to(page, 0, 3)
        _extend(page, down=2)
        _paste(page, "plenty")
        expect(_sheet(page).locator("td[aria-invalid=true]")).to_have_count(3)
        _check_axe(page)
        page.keyboard.press("Alt+ArrowDown")
        _check_axe(page)
        page.keyboard.press("Escape")
        page.keyboard.press("Enter")
        _check_axe(page)
        page.keyboard.press("Escape")


def _check_axe(page: Page) -> None:
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(
        "rules => axe.run('#tables', {runOnly: rules}).then(result => result.violations.map("
        "found => [found.id, found.nodes.map(node => node.html)]))",
        RULES,
    )
    assert found == []


def test_the_grid_works_on_a_phone_and_from_right_to_left(trying: "Opened") -> None:
    page = trying.page
    page.set_viewport_size({"width": 360, "height": 740})
    trying.go("skeleton")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.evaluate("document.documentElement.dir = 'rtl'")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    _go_to(page, 0, 0)
    page.keyboard.press("ArrowLeft")
    expect(page.locator("td:focus")).to_have_text("bone-1")
    page.keyboard.press("ArrowRight")
    expect(page.locator("td:focus")).to_have_text("m-01")
    label = _sheet(page).locator("tbody th").first.bounding_box()
    first = page.locator("td:focus").bounding_box()
    assert label is not None
    assert first is not None
    assert label["x"] > first["x"]


def test_the_focus_stays_with_its_cell_while_the_table_is_scrolled(reading: "Opened") -> None:
    page = reading.page
    reading.go("skeleton")
    sheet = _sheet(page)
    _go_to(page, 3, 2)
    frame = sheet.locator(".sheet-scroll")
    frame.evaluate("frame => { frame.scrollTop = frame.scrollHeight / 2; }")
    expect(sheet.locator("tbody tr[data-line='3']")).to_have_count(0)
    assert frame.evaluate("frame => document.activeElement === frame")
    page.keyboard.press("ArrowDown")
    expect(page.locator("td:focus").locator("xpath=..")).to_have_attribute("data-line", "4")
    page.keyboard.press("PageDown")
    focused = page.locator("td:focus").locator("xpath=..").get_attribute("data-line")
    assert focused is not None
    assert int(focused) > 8


def test_two_tabs_that_change_different_cells_both_keep_their_changes(small: "Opened") -> None:
    page = small.page
    small.go("skeleton")
    context = page.context.browser.new_context()  # type: ignore[union-attr]
    try:
        context.add_cookies(page.context.cookies())  # type: ignore[arg-type]
        other = context.new_page()
        other.goto(f"{small.address}/skeleton", wait_until="domcontentloaded")
        other.wait_for_selector("study-sheet:not([data-ready])", state="detached")
        _go_to(page, 0, 3)
        page.keyboard.type("151.9")
        page.keyboard.press("Enter")
        _go_to(other, 5, 3)
        other.keyboard.type("159.9")
        other.keyboard.press("Enter")
        _go_to(other, 6, 0)
        other.keyboard.press("Control+Enter")
        other.keyboard.type("m-new")
        other.keyboard.press("Enter")
        other.keyboard.press("Control+s")
        expect(_sheet(other).locator(".sheet-message")).to_contain_text("Saved")
        expect(_sheet(page).locator(".sheet-message")).to_contain_text("also changed on disk")
        page.keyboard.press("Control+s")
        expect(_sheet(page).locator(".sheet-message")).to_contain_text("Saved, joined")
        expect(_sheet(page).locator(".clash")).to_be_hidden()
        lines = (small.folder / "tables" / "measurements.csv").read_text(encoding="utf-8")
        rows = [line.split(",") for line in lines.splitlines()]
        assert rows[1][3] == "151.9"
        assert rows[6][3] == "159.9"
        assert rows[8][0] == "m-new"
        # The other tab, in which nothing is unsaved, follows by itself.
        expect(_sheet(other).locator("tbody tr").first.locator("td").nth(3)).to_have_text("151.9")
        # What was typed here can still be taken back, and leaves the other's work alone.
        _go_to(page, 0, 3)
        page.keyboard.press("Control+z")
        assert _rows(page)[0][3] == "151.5"
        assert _rows(page)[5][3] == "159.9"
    finally:
        context.close()


def test_two_tabs_that_change_one_cell_are_both_asked_about_and_nothing_else_is(
    small: "Opened",
) -> None:
    page = small.page
    small.go("skeleton")
    context = page.context.browser.new_context()  # type: ignore[union-attr]
    path = small.folder / "tables" / "measurements.csv"
    try:
        context.add_cookies(page.context.cookies())  # type: ignore[arg-type]
        other = context.new_page()
        other.goto(f"{small.address}/skeleton", wait_until="domcontentloaded")
        other.wait_for_selector("study-sheet:not([data-ready])", state="detached")
        for tab, value, line in ((other, "161.1", 3), (page, "162.2", 7)):
            for row, text in ((2, value), (line, "170.7")):
                _go_to(tab, row, 3)
                tab.keyboard.type(text)
                tab.keyboard.press("Enter")
        other.keyboard.press("Control+s")
        expect(_sheet(other).locator(".sheet-message")).to_contain_text("Saved")
        page.keyboard.press("Control+s")
        clash = _sheet(page).locator(".clash")
        expect(clash.locator("tbody tr")).to_have_count(1)
        expect(clash).to_contain_text("161.1")
        expect(clash).to_contain_text("162.2")
        assert "162.2" not in path.read_text(encoding="utf-8")
        clash.get_by_label("161.1").check()
        page.keyboard.press("Control+s")
        expect(_sheet(page).locator(".sheet-message")).to_contain_text("Saved")
        rows = [line.split(",")[3] for line in path.read_text(encoding="utf-8").splitlines()[1:]]
        assert (rows[2], rows[3], rows[7]) == ("161.1", "170.7", "170.7")
    finally:
        context.close()


def test_bulk_edits_that_contradict_are_shown_with_both_values_and_chosen_at_once(
    small: "Opened",
) -> None:
    page = small.page
    small.go("skeleton")
    path = small.folder / "tables" / "measurements.csv"
    _go_to(page, 0, 3)
    _paste(page, "\n".join(f"{200 + n}" for n in range(12)))
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r",(1\d\d)\.", r",\1.9", text), encoding="utf-8")
    page.keyboard.press("Control+s")
    clash = _sheet(page).locator(".clash")
    expect(clash.locator("tbody tr")).to_have_count(12)
    expect(clash.locator("tbody tr").first).to_contain_text("200")
    expect(clash.locator("tbody tr").first).to_contain_text("151.95")
    clash.get_by_role("button", name="Take all on disk").press("Enter")
    assert _rows(page)[0][3] == "151.95"
    clash.get_by_role("button", name="Take all of mine").press("Enter")
    clash.get_by_label("152.90").or_(clash.get_by_label("153.90")).first.check()
    page.keyboard.press("Control+s")
    expect(_sheet(page).locator(".sheet-message")).to_contain_text("Saved")
    rows = [line.split(",")[3] for line in path.read_text(encoding="utf-8").splitlines()[1:]]
    assert rows[0] == "200"
    assert rows[1] == "153.90"
    assert rows[2] == "202"


def test_a_row_that_looks_wrong_but_is_right_is_kept_with_a_reason_at_its_cell(
    small: "Opened",
) -> None:
    page = small.page
    small.go("skeleton")
    sheet = _sheet(page)
    _go_to(page, 0, 3)
    page.keyboard.type("15150")
    page.keyboard.press("Enter")
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_contain_text("1 problem in this table")
    page.keyboard.press("F8")
    note = sheet.locator(".cell-note")
    note.get_by_label("It is right, because").fill("Measured twice.")
    page.keyboard.press("Enter")
    expect(sheet.locator("td[aria-invalid=true]")).to_have_count(0)
    decisions = (small.folder / "tables" / "decisions.csv").read_text(encoding="utf-8")
    assert "measurements,m-01,keep,Measured twice." in decisions
