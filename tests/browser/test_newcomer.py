"""The whole job as somebody does it who has never seen the program, by keyboard alone."""

import csv
import json
import re
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(900)]

DEMO = Path(__file__).parents[2] / "demo" / "tables"
LEG = ("femur", "tibiotarsus", "tarsometatarsus")
OF_THE_BODY = ("pelvis", "skull", "mandible")
ELSEWHERE = ("sourceID", "pictureFile", "outlineFile", "castOf", "organismID", "copyOf")
MOST_STOPS = 150


def _tab_to(page: Page, target: Locator) -> None:
    """Press the tab key until the target has the focus."""
    target.wait_for(state="visible")
    for _ in range(MOST_STOPS):
        if target.evaluate("found => found === document.activeElement"):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"{target} is not reached by the tab key in {MOST_STOPS} stops")


def _press(page: Page, target: Locator) -> None:
    _tab_to(page, target)
    page.keyboard.press("Enter")


def _rows_of(name: str) -> list[dict[str, str]]:
    with (DEMO / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _block(rows: list[dict[str, str]]) -> str:
    """Write rows as a spreadsheet hands them to the clipboard, names of columns first."""
    columns = [name for name in rows[0] if name not in ELSEWHERE]
    lines = ["\t".join(columns)]
    lines += ["\t".join(row[name].replace("\t", " ") for name in columns) for row in rows]
    return "\n".join(lines) + "\n"


def _paste_into(page: Page, table: str, rows: list[dict[str, str]]) -> None:
    """Begin a row in a table, paste a block there and save."""
    sheet = page.locator(f"study-sheet[name={table}]")
    page.wait_for_selector(f"study-sheet[name={table}][data-ready]", state="attached")
    if not sheet.is_visible():
        _press(page, page.locator(f"#drawer-{table} > summary"))
    _press(page, sheet.get_by_role("button", name="Add row"))
    page.keyboard.press("Escape")
    page.evaluate("text => navigator.clipboard.writeText(text)", _block(rows))
    page.keyboard.press("Control+v")
    expect(sheet.locator(".sheet-count, .sheet-state").first).to_be_visible()
    page.keyboard.press("Control+s")
    expect(sheet.locator(".sheet-message")).to_contain_text("Saved")
    expect(page.locator("#problems")).to_have_count(0)


def _go(page: Page, step: str) -> None:
    """Choose a step from the list by keyboard."""
    page.keyboard.press("Control+Home")
    page.evaluate("document.activeElement instanceof HTMLElement && document.activeElement.blur()")
    _press(page, page.locator(f"nav.steps a[href='/{step}']"))
    page.wait_for_url(f"**/{step}")
    page.wait_for_selector("study-sheet:not([data-ready])", state="detached")


def _computed(page: Page) -> None:
    page.wait_for_selector("body[data-computing=no]", timeout=240_000)


def test_from_an_empty_study_to_report_and_pack_by_keyboard_alone(newcomer: "Opened") -> None:
    page = newcomer.page
    _tab_to(page, page.get_by_label("What is it called?"))
    page.keyboard.type("My first bird")
    page.keyboard.press("Enter")
    page.wait_for_url("**/study")
    folder = newcomer.folder / "Bonewright" / "my-first-bird"
    steps = page.locator(".first-steps li")
    expect(steps).to_have_count(6)
    expect(page.locator(".first-next")).to_contain_text("Say which animal")

    _tab_to(page, page.get_by_label("What you call the animal"))
    page.keyboard.press("Control+a")
    page.keyboard.type("great rail")
    page.keyboard.press("Enter")
    expect(page.locator(".about-form output")).to_have_text("Saved in study.toml.")
    expect(page.locator(".first-next")).to_contain_text("Enter the first bones")

    # The first thirty leg bones, and what was measured on them.
    _press(page, page.locator(".first-next a"))
    page.wait_for_url("**/skeleton#specimens")
    _computed(page)
    bones = [row for row in _rows_of("specimens") if row["element"] in LEG]
    bones = [row for row in bones if row["preparations"] == "bone"][:30]
    names = {row["materialEntityID"] for row in bones}
    measured = [row for row in _rows_of("measurements") if row["materialEntityID"] in names]
    _paste_into(page, "specimens", bones)
    _paste_into(page, "measurements", measured)
    _computed(page)
    expect(page.locator("#results .finding").first).to_be_visible()

    _go(page, "relatives")
    _paste_into(page, "relatives", _rows_of("relatives"))
    _paste_into(page, "relative_measurements", _rows_of("relative_measurements"))
    _computed(page)
    expect(page.locator("#standing .headline")).to_contain_text("kg")

    _go(page, "sections")
    known = {row["scientificName"] for row in _rows_of("relatives")}
    sections = [
        row
        for row in _rows_of("sections")
        if (row["materialEntityID"] in names or row["scientificName"] in known)
        and not row["outlineFile"]
    ]
    _paste_into(page, "sections", sections)
    _computed(page)
    _go(page, "movement")
    _computed(page)
    expect(page.locator("[id='movement.could_run']")).to_be_visible()

    _go(page, "testimony")
    _paste_into(page, "pictures", _rows_of("pictures"))
    _computed(page)
    expect(page.locator("[id='testimony.witnesses']")).to_be_visible()

    _go(page, "judgement")
    _computed(page)
    mass = page.locator("[id='judgement.mass']")
    _press(page, mass.locator("summary"))
    expect(mass.locator("dl")).to_contain_text("Formula")

    _go(page, "study")
    expect(page.locator(".first-steps")).to_have_count(0)
    expect(page.locator(".job-step").first).to_contain_text("answered")

    _go(page, "takeaway")
    _press(page, page.get_by_role("button", name="Make the report"))
    link = page.get_by_role("link", name="report.pdf")
    expect(link).to_be_visible(timeout=120_000)
    with page.expect_download() as waiting:
        _press(page, link)
    assert Path(waiting.value.path()).read_bytes().startswith(b"%PDF")
    assert (folder / "results" / "report.html").is_file()

    # The pack waits for a body, and the page says which bones are lacking: they are entered.
    waiting_for = page.locator("#pack-waits")
    _press(page, waiting_for.locator("summary"))
    for lacking in ("pelvis LV", "pelvis AA", "skull GB", "mandible GL"):
        expect(waiting_for).to_contain_text(lacking)
    expect(page.get_by_role("button", name="Make the pack")).to_be_disabled()
    _go(page, "skeleton")
    others = [row for row in _rows_of("specimens") if row["element"] in OF_THE_BODY]
    others = [row for row in others if row["preparations"] == "bone"]
    names = {row["materialEntityID"] for row in others}
    _paste_into(page, "specimens", others)
    _paste_into(
        page,
        "measurements",
        [row for row in _rows_of("measurements") if row["materialEntityID"] in names],
    )
    _computed(page)
    _go(page, "body")
    _computed(page)
    expect(page.locator("[id='body.grown.mass.mean']")).to_be_visible()

    _go(page, "takeaway")
    expect(waiting_for).to_have_count(0)
    _press(page, page.get_by_role("button", name="Make the pack"))
    made = page.locator(".errand", has_text="Workshop pack").get_by_role("link")
    expect(made.last).to_be_visible(timeout=300_000)
    with page.expect_download() as waiting:
        _press(page, made.last)
    _look_into_the_pack(Path(waiting.value.path()), scale=4)
    assert newcomer.complaints == []


def _look_into_the_pack(packed: Path, *, scale: float) -> None:
    """Find in a downloaded pack what a workshop needs, at one size throughout."""
    with zipfile.ZipFile(packed) as file:
        assert file.testzip() is None
        content = {name.partition("/")[2]: file.read(name) for name in file.namelist()}
    listed = json.loads(content["pack.json"])
    assert listed["animal"] == "great rail"
    assert {*listed["files"], "pack.json"} == set(content)
    for name in ("booklet.pdf", "drawings/drawings.pdf", "hoops/hoops.pdf"):
        assert content[name].startswith(b"%PDF")
    # The side drawing is as high as the printed pieces of the body stand, and more.
    side = content["drawings/side.svg"].decode()
    drawn = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm"', side)
    assert drawn is not None
    rows = list(csv.DictReader(content["tables/prints.csv"].decode("utf-8-sig").splitlines()))
    body = [row for row in rows if row["set"] == "body"]
    highest = max(float(row["height_mm"]) for row in body)
    assert 100 < highest < float(drawn[2])
    for row in rows:
        name = f"prints/{row['set']}/{row['piece']}.stl"
        faces = int.from_bytes(content[name][80:84], "little")
        assert len(content[name]) == 84 + 50 * faces
        assert faces > 100
    card = csv.DictReader(content["tables/check-card.csv"].decode("utf-8-sig").splitlines())
    assert {float(row["scaleDenominator"]) for row in card} == {scale}
    order = list(csv.DictReader(content["tables/order-list.csv"].decode("utf-8-sig").splitlines()))
    assert order
    assert all(float(row["Order"]) >= float(row["Needed"]) for row in order)


def test_the_demo_opens_in_one_click_can_be_broken_and_put_back(newcomer: "Opened") -> None:
    page = newcomer.page
    page.get_by_role("button", name="Open the demo").click()
    page.wait_for_url("**/study")
    _computed(page)
    mass = page.locator("#standing .headline").inner_text()
    table = newcomer.folder / "Bonewright" / "demo" / "tables" / "specimens.csv"
    whole = table.read_bytes()
    table.write_text("nothing", encoding="utf-8")
    expect(page.locator("#problems")).to_be_visible()
    page.get_by_role("button", name="Put it back as it was").click()
    expect(page.locator("#problems")).to_have_count(0)
    _computed(page)
    assert table.read_bytes() == whole
    expect(page.locator("#standing .headline")).to_have_text(mass)


def test_a_trade_term_is_explained_on_focus_and_a_row_tells_what_it_feeds(
    reading: "Opened",
) -> None:
    page = reading.page
    reading.go("movement")
    term = page.locator(".term").first
    tip = page.get_by_role("tooltip")
    term.focus()
    expect(tip).to_be_visible()
    assert len(tip.inner_text()) > 20
    page.keyboard.press("Escape")
    expect(tip).to_be_hidden()
    term.hover()
    expect(tip).to_be_visible()

    reading.go("sections")
    page.locator("study-sheet[name=sections] td").first.click()
    page.keyboard.press("Escape")
    feeds = page.locator("details.row-feeds")
    expect(feeds.locator("summary")).to_contain_text("sec-01")
    feeds.locator("summary").click()
    expect(feeds.locator("a", has_text="Section modulus").first).to_be_visible()
    expect(feeds).to_contain_text("it reaches")
    assert reading.complaints == []
