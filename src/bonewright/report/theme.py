"""One look for every figure, page and report: colours, sizes and the charts' own settings."""

from typing import Any

from bonewright.typeface import FONT_LIST

__all__ = [
    "BAND",
    "COPY",
    "FAINT",
    "GRID",
    "INK",
    "LOST",
    "MUTED",
    "OTHER",
    "PAGE_WIDTH_PX",
    "PALETTE",
    "POOLED",
    "VERDICT",
    "WRONG",
    "chart_config",
]

PAGE_WIDTH_PX = 640
"""Width of a full figure: 640 px at 72 dpi-pixels of 0.75 pt are the 170 mm of a text line."""

INK = "#262b2c"
MUTED = "#5d6466"
FAINT = "#9aa1a2"
GRID = "#e4e2dc"
BAND = "#e9e4d6"

# Okabe & Ito's colours, which people with any common colour vision tell apart; each use is
# doubled by shape, place or words.
VERDICT = "#0072B2"
POOLED = "#56B4E9"
LOST = "#D55E00"
WRONG = "#D55E00"
OTHER = "#7d8486"
COPY = "#E69F00"
PALETTE = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00", "#262b2c")


def chart_config() -> dict[str, Any]:
    """Return the Vega-Lite ``config`` of every figure.

    ``aria`` is off because each figure carries one written alternative instead of a label
    for each of its marks.
    """
    axis = {
        "labelFont": FONT_LIST,
        "titleFont": FONT_LIST,
        "labelFontSize": 11,
        "titleFontSize": 12,
        "titleFontWeight": 600,
        "labelColor": INK,
        "titleColor": INK,
        "domainColor": FAINT,
        "tickColor": FAINT,
        "gridColor": GRID,
        "tickSize": 4,
        "labelLimit": 230,
        "titleLimit": 600,
        "titlePadding": 6,
    }
    return {
        "font": FONT_LIST,
        "aria": False,
        "background": "#ffffff",
        "padding": 4,
        "view": {"stroke": None},
        "axis": axis,
        "title": {
            "font": FONT_LIST,
            "fontSize": 12,
            "fontWeight": 600,
            "color": INK,
            "anchor": "start",
            "offset": 4,
        },
        "header": {
            "labelFont": FONT_LIST,
            "titleFont": FONT_LIST,
            "labelFontSize": 12,
            "labelColor": INK,
        },
        "legend": {
            "labelFont": FONT_LIST,
            "titleFont": FONT_LIST,
            "labelFontSize": 11,
            "titleFontSize": 11,
            "titleFontWeight": 600,
            "labelColor": INK,
            "titleColor": INK,
            "labelLimit": 300,
            "symbolSize": 60,
        },
        "text": {"font": FONT_LIST, "fontSize": 11, "color": INK},
        "range": {"category": list(PALETTE)},
        # Thousands stand apart as in the text.
        "locale": {
            "number": {
                "decimal": ".",
                "thousands": "\u202f",
                "grouping": [3],
                "currency": ["", ""],
            }
        },
    }
