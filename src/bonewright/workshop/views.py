"""The figure from the side, the front and above: outlines, bones, joints, hoops, dimensions."""

from collections.abc import Iterable
from typing import Final

import numpy as np

from bonewright.quantity import Draws
from bonewright.workshop.dimensions import Measured, distances_below, heights_beside, places_below
from bonewright.workshop.drawing import Drawing, Line, Point, Words, open_line
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.hoop_names import hoops_on_cards
from bonewright.workshop.outlines import VIEWS, View, lines_of_shape, shadow

__all__ = ["letters_mm", "scale_bar", "view_drawing"]

_BARS_MM: Final = (5, 10, 20, 50, 100, 200, 500, 1000, 2000)
_HOOP_INK: Final = "#a33b00"
_SHORT: Final = {"root of the neck": "neck root"}


def letters_mm(figure: FigureToBuild) -> float:
    """Return the size of letters on drawings of the figure: larger where it is read from afar."""
    return float(np.clip(np.max(figure.size_mm) / 110.0, 2.4, 6.0))


def view_drawing(figure: FigureToBuild, within: FigureToBuild | None, view_name: str) -> Drawing:
    """Draw the figure in one view at its own scale.

    Parameters
    ----------
    figure : FigureToBuild
        Its outline is the outermost; its bones, joints and hoops are drawn.
    within : FigureToBuild or None
        The same without its feathers, whose outline and hoops are drawn inside, if any.
    view_name : str
        Side, front or top.
    """
    view = VIEWS[view_name]
    layer = {"skeleton": "bone", "naked": "body", "feathered": "plumage"}[figure.layer]
    lines: list[Line] = []
    if figure.layer != "skeleton":
        lines += lines_of_shape(shadow(figure.whole, view), layer)
    if within is not None:
        lines += lines_of_shape(shadow(within.whole, view), "body")
    lines += _bone_lines(figure, view, view_name)
    lines += _axes(figure, view)
    size = letters_mm(figure)
    drawing = Drawing(title=view.title, lines=tuple(lines))
    marks, words = _hoop_marks(within or figure, view, view_name, size)
    drawing = drawing.with_more(marks, words)
    drawing = drawing.with_more(*_mass_mark(figure, view, size))
    if view_name == "side":
        drawing = _side_dimensions(drawing, figure, view, size)
    else:
        drawing = _distances(drawing, figure, view_name, view, size)
    left, _, bottom, _ = drawing.extent()
    at = (left, -5 * size) if view_name == "side" else (left, bottom - 3 * size)
    room = 16 * size if view_name == "side" else 0.4 * float(figure.size_mm.max())
    return drawing.with_more(*scale_bar(at, room, figure.scale_denominator, size))


def _bone_lines(figure: FigureToBuild, view: View, view_name: str) -> list[Line]:
    # From the side the left half lies behind the right one, bone for bone.
    seen = [bone for bone in figure.bones if view_name != "side" or bone.side != "left"]
    depth = np.cross(view.right, view.up)
    seen.sort(key=lambda bone: float((bone.mesh.vertices_mm @ depth).max()))
    return [line for bone in seen for line in lines_of_shape(shadow(bone.mesh, view), "bone")]


def _axes(figure: FigureToBuild, view: View) -> list[Line]:
    """Draw the armature's line along every segment, from joint to joint, with its joints."""
    lines = []
    for segment in figure.segments:
        lines.append(open_line(view.seen(segment.axis_mm), "axis"))
        if segment.parent is not None:
            lines.append(_ring(view.seen(segment.origin_mm), 0.9))
    return lines


def _ring(centre: Draws, radius: float) -> Line:
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    points = centre + radius * np.stack((np.cos(turn), np.sin(turn)), axis=1)
    return Line(points=tuple((float(x), float(y)) for x, y in points), layer="mark", closed=True)


def _hoop_marks(
    figure: FigureToBuild, view: View, view_name: str, size: float
) -> tuple[list[Line], list[Words]]:
    """Mark where hoops stand, seen edge on: from the side all, from above the trunk's."""
    lines: list[Line] = []
    words: list[Words] = []
    if view_name == "front":
        return lines, words
    for name, segment, hoop in hoops_on_cards(figure):
        if view_name == "top" and segment.parent is not None:
            continue
        if view_name == "side":
            ends = np.stack(
                (
                    hoop.centre_mm + hoop.dorsal * hoop.dorsal_mm,
                    hoop.centre_mm - hoop.dorsal * hoop.ventral_mm,
                )
            )
        else:
            ends = hoop.centre_mm + np.outer([1, -1], hoop.across * hoop.half_width_mm)
        start, end = view.seen(ends)
        lines.append(open_line(np.stack((start, end)), "station"))
        out = (start - end) / max(float(np.hypot(*(start - end))), 1e-9)
        at = start + out * 0.9 * size
        words.append(
            Words(
                text=name,
                at=(float(at[0]), float(at[1]) - 0.3 * size),
                size_mm=0.9 * size,
                anchor="middle",
                ink=_HOOP_INK,
            )
        )
    return lines, words


def _mass_mark(figure: FigureToBuild, view: View, size: float) -> tuple[list[Line], list[Words]]:
    """Mark the centre of the figure's volume, and where it stands over the ground."""
    centre = view.seen(figure.centre_mm)
    lines = [_ring(centre, size * 0.7)]
    for step in ((size, 0.0), (0.0, size)):
        lines.append(open_line(np.stack((centre - step, centre + step)), "ground"))
    if view.up[2]:
        lines.append(open_line((_pair(centre), (float(centre[0]), 0.0)), "fold"))
    words = [
        Words(
            text="centre of volume",
            at=(float(centre[0]) + 1.2 * size, float(centre[1]) + 0.5 * size),
            size_mm=0.9 * size,
        )
    ]
    return lines, words


def _point(view: View, place: Draws) -> Point:
    return _pair(view.seen(place))


def _pair(place: Draws) -> Point:
    return float(place[0]), float(place[1])


def _extreme(points: Draws, axis: int, sign: float) -> Draws:
    return np.asarray(points[np.argmax(sign * points[:, axis])])


def _side_dimensions(drawing: Drawing, figure: FigureToBuild, view: View, size: float) -> Drawing:
    left, right, bottom, _ = drawing.extent()
    heights, places = _side_points(figure)
    ground = open_line(((left - size, 0.0), (right + size, 0.0)), "ground")

    def measured(items: Iterable[tuple[str, Draws]], axis: int) -> list[Measured]:
        return [
            Measured(name=name, at=_point(view, at), value_mm=float(at[axis])) for name, at in items
        ]

    with_heights = drawing.with_more((ground,)).with_more(
        *heights_beside(measured(heights, 2), x_mm=left - 3 * size, size_mm=size)
    )
    return with_heights.with_more(
        *places_below(measured(places, 0), y_mm=min(bottom, 0.0) - 5 * size, size_mm=size)
    )


def _side_points(
    figure: FigureToBuild,
) -> tuple[list[tuple[str, Draws]], list[tuple[str, Draws]]]:
    """Return what is measured upwards from the ground, and forwards from amid the feet."""
    whole = figure.whole.vertices_mm
    joints = {
        joint.name.removeprefix("right "): joint.at_mm
        for label, joint in figure.joints.items()
        if figure.segment(label).side != "left" and "toe" not in label
    }
    names = ("hip", "knee", "ankle", "head joint", "shoulder", "root of the neck")
    heights = [(_SHORT.get(name, name), joints[name]) for name in names if name in joints]
    heights.append(("top", _extreme(whole, 2, 1)))
    trunk = next((s for s in figure.segments if s.parent is None), None)
    if trunk is not None and trunk.hoops:
        heights.append(("back", _extreme(trunk.mesh.vertices_mm, 2, 1)))
        heights.append(("belly", _extreme(trunk.mesh.vertices_mm, 2, -1)))
    places = [(_SHORT.get(name, name), joints[name]) for name in names if name in joints]
    places += [("hindmost", _extreme(whole, 0, -1)), ("foremost", _extreme(whole, 0, 1))]
    if trunk is not None and trunk.hoops:
        places.append(("breast", _extreme(trunk.mesh.vertices_mm, 0, 1)))
    places.append(("amid the feet", np.array([0.0, 0.0, 0.0])))
    return heights, places


def _distances(
    drawing: Drawing, figure: FigureToBuild, view_name: str, view: View, size: float
) -> Drawing:
    left, right, bottom, _ = drawing.extent()
    whole = figure.whole.vertices_mm
    across = 1 if view_name == "front" else 0
    items = [
        (
            "over all" if view_name == "front" else "length over all",
            _point(view, _extreme(whole, across, -1)),
            _point(view, _extreme(whole, across, 1)),
        )
    ]
    lines: list[Line] = []
    if view_name == "front":
        lines.append(open_line(((left - size, 0.0), (right + size, 0.0)), "ground"))
        for name in ("hip", "knee", "ankle"):
            pair = [
                joint.at_mm
                for joint in figure.joints.values()
                if joint.name in (f"left {name}", f"right {name}")
            ]
            if len(pair) == 2:
                items.append((f"{name}s", _point(view, pair[0]), _point(view, pair[1])))
    trunk = next((s for s in figure.segments if s.parent is None), None)
    if trunk is not None and trunk.hoops:
        body = trunk.mesh.vertices_mm
        items.append(
            (
                "trunk",
                _point(view, _extreme(body, across, -1)),
                _point(view, _extreme(body, across, 1)),
            )
        )
    drawing = drawing.with_more(lines)
    return drawing.with_more(
        *distances_below(items, y_mm=min(bottom, 0.0) - 3 * size, size_mm=size)
    )


def scale_bar(
    at: Point, room_mm: float, scale_denominator: float, size: float
) -> tuple[tuple[Line, ...], tuple[Words, ...]]:
    """Draw a bar no longer than there is room: so many mm of the figure, so many of the animal."""
    left, y = at
    length = max((bar for bar in _BARS_MM if bar <= room_mm), default=_BARS_MM[0])
    ends = ((left, y), (left + length, y))
    lines = (
        Line(points=ends, layer="ground"),
        *(Line(points=((x, y), (x, y + 0.8 * size)), layer="ground") for x, _ in ends),
    )
    texts = [f"{length} mm"]
    if scale_denominator != 1:
        texts.append(f"({length * scale_denominator:g} mm of the animal)")
    words = tuple(
        Words(text=text, at=(left, y - (row + 1) * 1.2 * size), size_mm=size)
        for row, text in enumerate(texts)
    )
    return lines, words
