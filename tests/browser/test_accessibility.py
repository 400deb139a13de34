"""Every page against WCAG 2.2 A and AA, in light and in dark, as axe-core judges them."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from bonewright.web.views import VIEW_BY_KEY

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

AXE = next((Path(__file__).parent / "vendor").glob("axe-core-*/axe.min.js"))
# The pages are built alike in both; only colours differ in the dark.
RULES = {
    "light": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"],
    "dark": ["color-contrast", "link-in-text-block"],
}
JUDGE = (
    "rules => axe.run(document, {runOnly: rules}).then(found => ({"
    " looked: found.passes.length,"
    " faults: found.violations.flatMap(rule => rule.nodes.map("
    "   node => `${rule.id}: ${node.html.slice(0, 200)}`))}))"
)


def test_no_page_breaks_a_rule_of_wcag_in_light_or_dark_with_everything_opened(
    reading: "Opened",
) -> None:
    page = reading.page
    page.on("dialog", lambda dialog: dialog.accept())
    faults = []
    for view in ("start", *VIEW_BY_KEY):
        if view == "start":
            page.goto(f"{reading.address}/start", wait_until="networkidle")
        else:
            reading.go(view, with_figures=True)
        page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        page.wait_for_load_state("networkidle")
        page.evaluate(AXE.read_text(encoding="utf-8"))
        for scheme, rules in RULES.items():
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            judged = page.evaluate(JUDGE, rules)
            assert judged["looked"] > (10 if scheme == "light" else 0)
            faults += [f"{view}, {scheme}: {fault}" for fault in judged["faults"]]
    assert faults == []
