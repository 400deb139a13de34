"""The outline of the body from any side, as a drawing whose millimetres are true."""

import math

from bonewright.body.grown import GrownBody
from bonewright.body.silhouettes import aspect_outlines, state_mesh
from bonewright.workshop.drawing import Drawing, Words, closed_line, open_line
from bonewright.workshop.svg_drawing import svg_of

__all__ = ["outline_svg"]

_BARS_MM = (10, 20, 50, 100, 200, 500, 1000, 2000)
_MARGIN_MM = 5.0


def outline_svg(
    grown: GrownBody,
    *,
    title: str,
    invented: bool,
    state: str,
    plumage: bool,
    azimuth_deg: float,
    elevation_deg: float,
    scale_denominator: float,
) -> str:
    """Draw the outline at 1 to ``scale_denominator``, with a bar and what it shows.

    The eye stands far away, as for a drawing with set square: no part is made smaller for
    lying farther off.
    """
    mesh = state_mesh(grown, state, plumage=plumage)
    outlines = aspect_outlines(
        mesh, azimuth_rad=math.radians(azimuth_deg), elevation_rad=math.radians(elevation_deg)
    )
    lines = [
        closed_line([(x / scale_denominator, y / scale_denominator) for x, y in outline], "cut")
        for outline in outlines
    ]
    drawing = Drawing(title=title, lines=tuple(lines))
    left, right, bottom, _ = drawing.extent()
    size_mm = max(2.5, 0.012 * (right - left))
    below = bottom - 3 * size_mm
    longest = 0.4 * (right - left) * scale_denominator
    bar_mm = max((bar for bar in _BARS_MM if bar <= longest), default=_BARS_MM[0])
    along = bar_mm / scale_denominator
    ends = [
        open_line([(at, below - size_mm / 2), (at, below + size_mm / 2)], "dimension")
        for at in (left, left + along)
    ]
    what = "in its plumage" if plumage else {"mean": "over the year"}.get(state, f"when {state}")
    texts = (
        f"Bar: {bar_mm} mm of the animal. Scale 1:{scale_denominator:g}.",
        f"{title}, the body {what}. Seen from {azimuth_deg:g}° (0° its right side, 90° its"
        f" front), {elevation_deg:g}° above the level.",
        *(("Invented study: no such animal lived.",) if invented else ()),
    )
    words = [
        Words(text=text, at=(left, below - (2.2 + 1.5 * line) * size_mm), size_mm=size_mm)
        for line, text in enumerate(texts)
    ]
    bar = open_line([(left, below), (left + along, below)], "ground")
    return svg_of(drawing.with_more((bar, *ends), words), margin_mm=_MARGIN_MM)[0]
