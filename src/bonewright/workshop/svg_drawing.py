"""A drawing as SVG whose size is stated in millimetres, so that it prints at true scale."""

from xml.sax.saxutils import escape, quoteattr

from bonewright.typeface import FONT_LIST
from bonewright.workshop.drawing import LAYERS, Drawing, Line, Words

__all__ = ["svg_of"]


def svg_of(
    drawing: Drawing, *, margin_mm: float = 0.0, pen: float = 1.0
) -> tuple[str, tuple[float, float]]:
    """Write a drawing as SVG.

    Parameters
    ----------
    pen : float
        Times as wide as on a sheet lines are drawn, for a drawing that will be made smaller.

    Returns
    -------
    svg : str
        One unit is 1 mm.
    corner : (float, float)
        What of the drawing, in mm, lies at the lower left corner.
    """
    left, right, bottom, top = drawing.extent()
    left, right = left - margin_mm, right + margin_mm
    bottom, top = bottom - margin_mm, top + margin_mm
    width, height = right - left, top - bottom
    groups = []
    for name, layer in LAYERS.items():
        lines = [line for line in drawing.lines if line.layer == name]
        if not lines:
            continue
        dashes = " ".join(f"{pen * dash:g}" for dash in layer.dashes_mm)
        groups.append(
            f'<g id={quoteattr(name)} fill="{layer.fill or "none"}" stroke="{layer.ink}"'
            f' stroke-width="{pen * layer.width_mm:g}" stroke-linejoin="round"'
            + (f' stroke-dasharray="{dashes}"' if dashes else "")
            + ">"
            + "".join(_path(line, left, top) for line in lines)
            + "</g>"
        )
    if drawing.words:
        groups.append(
            f'<g id="words" font-family="{FONT_LIST}" stroke="#ffffff" stroke-width="{0.7 * pen:g}"'
            ' stroke-opacity="0.85" stroke-linejoin="round" paint-order="stroke">'
            + "".join(_text(words, left, top) for words in drawing.words)
            + "</g>"
        )
    body = "\n".join(groups)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4f}mm" height="{height:.4f}mm"'
        f' viewBox="0 0 {width:.4f} {height:.4f}">\n<title>{escape(drawing.title)}</title>\n'
        f"{body}\n</svg>\n"
    )
    return svg, (left, bottom)


def _path(line: Line, left: float, top: float) -> str:
    loops = (
        "M" + "L".join(f"{x - left:.4f} {top - y:.4f}" for x, y in loop)
        for loop in (line.points, *line.holes)
    )
    if not line.closed:
        return f'<path fill="none" d="{"".join(loops)}"/>'
    return f'<path fill-rule="evenodd" d="{"".join(loop + "Z" for loop in loops)}"/>'


def _text(words: Words, left: float, top: float) -> str:
    x, y = words.at[0] - left, top - words.at[1]
    turned = f' transform="rotate({-words.turn_deg:g} {x:.3f} {y:.3f})"' if words.turn_deg else ""
    strong = ' font-weight="600"' if words.strong else ""
    return (
        f'<text x="{x:.3f}" y="{y:.3f}" font-size="{words.size_mm:g}" fill="{words.ink}"'
        f' text-anchor="{words.anchor}"{strong}{turned}>'
        f"{escape(words.text)}</text>"
    )
