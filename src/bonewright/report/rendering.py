"""Charts to SVG, PNG and PDF, offline, in the shipped font."""

import hashlib
import json
import re
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from bonewright.report.theme import chart_config
from bonewright.typeface import fonts_folder

if TYPE_CHECKING:
    from bonewright.report.figures.figure import Chart

__all__ = ["chart_spec", "live_spec", "render_pdf", "render_png", "render_svg"]

_NAMED = re.compile(r'(\bid="|url\(#|href="#)')


def chart_spec(chart: "Chart") -> dict[str, Any]:
    """Return the chart as a Vega-Lite specification with the common look applied."""
    spec: dict[str, Any] = chart.to_dict()
    spec["config"] = chart_config()
    return spec


def live_spec(chart: "Chart") -> dict[str, Any]:
    """Return the specification for a figure on a screen: its marks tell what they show.

    ``usermeta`` names each field as the axis does that shows it: panels that share an axis
    write its title once. Where panels differ, it is the field's own name with its unit.
    """
    spec = chart_spec(chart)
    spec["config"]["mark"] = {"tooltip": {"content": "data"}}
    titles: dict[str, set[str]] = {}
    for field, title in _axis_titles(spec):
        titles.setdefault(field, set()).add(title)
    spec["usermeta"] = {"titles": {field: _joint_title(field, titles[field]) for field in titles}}
    return spec


def _joint_title(field: str, titles: set[str]) -> str:
    if len(titles) == 1:
        return next(iter(titles))
    units = {found[0] for title in titles for found in [re.search(r" \([^()]*\)$", title)] if found}
    return field + (next(iter(units)) if len(units) == 1 else "")


def _axis_titles(part: Any) -> Iterator[tuple[str, str]]:
    if isinstance(part, list):
        for each in part:
            yield from _axis_titles(each)
    elif isinstance(part, dict):
        for channel in ("x", "y"):
            shown = part.get("encoding", {}).get(channel, {})
            title = shown.get("title") or (shown.get("axis") or {}).get("title")
            if isinstance(title, str) and "field" in shown:
                yield shown["field"], title
        for name, each in part.items():
            if name not in ("datasets", "data", "config", "encoding"):
                yield from _axis_titles(each)


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
