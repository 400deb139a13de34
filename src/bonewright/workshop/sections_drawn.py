"""Key sections: the hoop of a segment at true scale, with its sizes and the bones it cuts."""

from typing import Final

from shapely import Polygon

from bonewright.quantity import Draws
from bonewright.workshop.dimensions import distances_below, number
from bonewright.workshop.drawing import Drawing, Line, Words, closed_line, open_line
from bonewright.workshop.figure_to_build import FigureToBuild, Hoop, SegmentToBuild
from bonewright.workshop.hoop_names import hoops_on_cards
from bonewright.workshop.outlines import lines_of_shape, section_in_hoop
from bonewright.workshop.views import letters_mm

__all__ = ["key_sections"]

_MOST_SECTIONS: Final = 8


def key_sections(
    figure: FigureToBuild, within: FigureToBuild | None, *, row_mm: float
) -> Drawing | None:
    """Draw the fullest hoop of each large segment in rows; None where none is large enough.

    The view is from the segment's joint outwards: the dorsal side above, the animal's left
    on the right.
    """
    size = letters_mm(figure)
    drawing = Drawing(title="Key sections")
    x, y, row_height = 0.0, 0.0, 0.0
    chosen = _fullest(within or figure)
    if not chosen:
        return None
    for name, segment, hoop in chosen:
        outer = _hoop_of(figure, segment, hoop) if within is not None else None
        one = _section(figure, name, segment, hoop, outer=outer, size=size)
        left, right, bottom, top = one.extent()
        if x and x + right - left > row_mm:
            x, y, row_height = 0.0, y - row_height - 4 * size, 0.0
        placed = one.moved(x - left, y - top)
        drawing = drawing.with_more(placed.lines, placed.words)
        x += right - left + 6 * size
        row_height = max(row_height, top - bottom)
    return drawing


def _fullest(figure: FigureToBuild) -> list[tuple[str, SegmentToBuild, Hoop]]:
    """Return the fullest hoop of every segment that has one on a card, largest first."""
    best: dict[str, tuple[str, SegmentToBuild, Hoop]] = {}
    for card in hoops_on_cards(figure):
        known = best.get(card[1].segment)
        if known is None or _area(card[2]) > _area(known[2]):
            best[card[1].segment] = card
    ordered = sorted(best.values(), key=lambda card: -_area(card[2]))
    return ordered[:_MOST_SECTIONS]


def _area(hoop: Hoop) -> float:
    return hoop.half_width_mm * (hoop.dorsal_mm + hoop.ventral_mm)


def _hoop_of(figure: FigureToBuild, segment: SegmentToBuild, hoop: Hoop) -> Draws | None:
    """Return the outline of the same hoop on the feathered figure."""
    same = next(
        (
            other
            for other in figure.segment(segment.label).hoops
            if abs(other.station - hoop.station) < 1e-6
        ),
        None,
    )
    return None if same is None else same.outline_mm()


def _section(
    figure: FigureToBuild,
    name: str,
    segment: SegmentToBuild,
    hoop: Hoop,
    *,
    outer: Draws | None,
    size: float,
) -> Drawing:
    outline = hoop.outline_mm()
    lines: list[Line] = []
    if outer is not None:
        lines.append(closed_line(outer, "plumage"))
    lines.append(closed_line(outline, "body"))
    body = Polygon(outline)
    for bone in figure.bones:
        cut = section_in_hoop(bone.mesh, hoop)
        if not cut.is_empty and body.contains(cut.representative_point()):
            lines += lines_of_shape(cut, "bone")
    reach = max(hoop.half_width_mm, hoop.dorsal_mm, hoop.ventral_mm)
    cross = 0.12 * reach
    lines += [
        open_line(((-cross, 0), (cross, 0)), "axis"),
        open_line(((0, -cross), (0, cross)), "axis"),
    ]
    drawing = Drawing(title=name, lines=tuple(lines))
    _, right, bottom, top = drawing.extent()
    width = (
        "wide",
        (-hoop.half_width_mm, 0.0),
        (hoop.half_width_mm, 0.0),
    )
    drawing = drawing.with_more(*distances_below([width], y_mm=bottom - 2 * size, size_mm=size))
    drawing = drawing.with_more(*_heights(hoop, right + 2 * size, size))
    place = f"{segment.segment}, {100 * hoop.station:.0f} % along"
    words = (
        Words(
            text=name,
            at=(-hoop.half_width_mm, top + 2.2 * size),
            size_mm=1.4 * size,
            strong=True,
        ),
        Words(text=place, at=(-hoop.half_width_mm, top + 0.8 * size), size_mm=size),
    )
    return drawing.with_more((), words)


def _heights(hoop: Hoop, x: float, size: float) -> tuple[list[Line], list[Words]]:
    """Write the heights above and below the axis beside the section."""
    lines: list[Line] = []
    words: list[Words] = []
    for start, end in ((0.0, hoop.dorsal_mm), (-hoop.ventral_mm, 0.0)):
        lines.append(open_line(((x, start), (x, end)), "dimension"))
        lines += [open_line(((x - 1, y - 1), (x + 1, y + 1)), "ground") for y in (start, end)]
        words.append(
            Words(
                text=number(end - start),
                at=(x + 0.6 * size, (start + end) / 2 - 0.3 * size),
                size_mm=size,
            )
        )
    for y in (hoop.dorsal_mm, 0.0, -hoop.ventral_mm):
        inner = 0.0 if y else hoop.half_width_mm
        lines.append(open_line(((inner + 0.5, y), (x + 1, y)), "dimension"))
    return lines, words
