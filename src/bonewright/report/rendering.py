"""Charts to SVG, PNG and PDF, offline, in the shipped font."""

import hashlib
import json
import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from bonewright.report.theme import chart_config
from bonewright.typeface import fonts_folder

if TYPE_CHECKING:
    from bonewright.report.figures.figure import Chart

__all__ = ["chart_spec", "render_pdf", "render_png", "render_svg"]

_NAMED = re.compile(r'(\bid="|url\(#|href="#)')


def chart_spec(chart: "Chart") -> dict[str, Any]:
    """Return the chart as a Vega-Lite specification with the common look applied."""
    spec: dict[str, Any] = chart.to_dict()
    spec["config"] = chart_config()
    return spec


@cache
def _converter() -> Any:  # the package ships no types
    import vl_convert

    vl_convert.register_font_directory(str(fonts_folder()))
    return vl_convert


@lru_cache(maxsize=128)
def _svg_of(text: str) -> str:
    svg: str = _converter().vegalite_to_svg(text)
    mark = "f" + hashlib.sha256(text.encode()).hexdigest()[:10] + "-"
    return _NAMED.sub(lambda found: found.group(1) + mark, svg)


@lru_cache(maxsize=32)
def _png_of(text: str, scale: float) -> bytes:
    png: bytes = _converter().vegalite_to_png(text, scale=scale)
    return png


def _text_of(chart: "Chart") -> str:
    return json.dumps(chart_spec(chart), allow_nan=False, sort_keys=True)


def render_svg(chart: "Chart") -> str:
    """Render to an SVG string.

    Names inside it (clips, gradients) begin with a mark of the chart's own, so that several
    figures can stand in one HTML file.
    """
    return _svg_of(_text_of(chart))


def render_png(chart: "Chart", *, scale: float = 2.0) -> bytes:
    """Render to PNG bytes, ``scale`` picture points a pixel."""
    return _png_of(_text_of(chart), scale)


def render_pdf(chart: "Chart") -> bytes:
    """Render to a PDF of one page, cut to the figure."""
    pdf: bytes = _converter().vegalite_to_pdf(_text_of(chart))
    return pdf
