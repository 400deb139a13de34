"""Pages on paper: findings, figures and tables, without what only a screen can do."""

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from conftest import Opened

pytestmark = pytest.mark.browser

SEEN = (
    "what => [...document.querySelectorAll(what)]"
    ".filter(each => each.checkVisibility() && each.getClientRects().length)"
    ".map(each => each.outerHTML.slice(0, 120))"
)
CUT = (
    "() => [...document.querySelectorAll('.result-table, .drawing')]"
    ".filter(each => each.checkVisibility() && each.scrollWidth > each.clientWidth + 1)"
    ".map(each => each.outerHTML.slice(0, 120))"
)
A4_BETWEEN_MARGINS_PX = 680


def test_a_page_prints_its_answers_and_none_of_its_controls(trying: "Opened") -> None:
    page = trying.page
    page.set_viewport_size({"width": A4_BETWEEN_MARGINS_PX, "height": 980})
    for view in ("study", "skeleton", "takeaway"):
        trying.go(view, with_figures=True)
        page.emulate_media(media="print")
        controls = page.evaluate(SEEN, "button, input, select, textarea, .sheet-scroll, nav")
        assert controls == [], view
        assert page.evaluate(CUT) == [], view
        assert page.evaluate(SEEN, "h1") != []
        if view == "skeleton":
            assert page.evaluate(SEEN, "figure img") != []
            assert page.evaluate(SEEN, "figcaption") != []
            assert page.evaluate(SEEN, ".result-table tbody tr") != []
        page.emulate_media(media="screen")
        assert page.evaluate(SEEN, "nav") != []
