"""The printed pieces of a pack: their files, and a drawing of where each belongs."""

from collections.abc import Sequence

import numpy as np

from bonewright.body.solids import Mesh, mesh_of
from bonewright.study.model import Surface
from bonewright.study.surface_writing import Colour, glb_of, stl_of, three_mf_of
from bonewright.workshop.drawing import Drawing, Line, Words
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.outlines import VIEWS, lines_of_shape, shadow
from bonewright.workshop.print_parts import PrintSet
from bonewright.workshop.print_pegs import peg_solid

__all__ = ["pieces_drawing", "print_files"]

_BETWEEN_MM = 8.0
_FLESH: Colour = (205, 191, 167, 255)
_PLUMAGE: Colour = (170, 158, 132, 110)
_BONE: Colour = (242, 236, 220, 255)


def _surface(mesh: Mesh) -> Surface:
    return Surface(vertices=mesh.vertices_mm, faces=np.asarray(mesh.faces, dtype=np.int64))


def print_files(
    figure: FigureToBuild, within: FigureToBuild | None, sets: Sequence[PrintSet]
) -> dict[str, bytes]:
    """Return an STL for each piece, a 3MF for each set, pegs, and a GLB for the screen."""
    files: dict[str, bytes] = {}
    for one in sets:
        beside, plate = 0.0, {}
        for part in one.parts:
            surface = _surface(part.mesh)
            files[f"prints/{one.name}/{part.name}.stl"] = stl_of(surface)
            step = np.array([beside + part.size_mm[0] / 2, 0.0, 0.0])
            plate[part.name] = Surface(vertices=surface.vertices + step, faces=surface.faces)
            beside += float(part.size_mm[0]) + _BETWEEN_MM
        files[f"prints/{one.name}/{one.name}.3mf"] = three_mf_of(plate)
    for side in sorted({side for one in sets for side in one.pegs}):
        files[f"prints/pegs/peg-{side:g}-mm.stl"] = stl_of(_surface(mesh_of(peg_solid(side))))
    parts: dict[str, tuple[Surface, Colour]] = {}
    if figure.layer == "feathered":
        parts["feathers"] = (_surface(figure.whole), _PLUMAGE)
    body = within if within is not None else figure
    if body.layer != "skeleton":
        opaque = _FLESH if figure.layer == "naked" else (*_FLESH[:3], 150)
        parts["body"] = (_surface(body.whole), opaque)
    for number, bone in enumerate(figure.bones):
        parts[f"bone {number + 1}: {bone.side} {bone.element}"] = (_surface(bone.mesh), _BONE)
    files["screen/figure.glb"] = glb_of(parts)
    return files


def pieces_drawing(figure: FigureToBuild, one: PrintSet) -> Drawing:
    """Draw a cut solid from the side and the front, its cuts and the names of its pieces."""
    side = float(figure.size_mm.max())
    size = 0.018 * side
    drawing = Drawing(title=f"Where the pieces of the {one.name} belong")
    start = 0.0
    for name in ("side", "front"):
        view = VIEWS[name]
        shape = shadow(figure.whole, view)
        left, bottom, right, top = shape.bounds
        move = start - left
        lines: list[Line] = list(lines_of_shape(shape, "body"))
        across = {"side": 0, "front": 1}[name]
        for axis, ends in ((across, (bottom, top)), (2, (left, right))):
            for place in one.places_mm[axis]:
                points = (
                    ((place, ends[0] - size), (place, ends[1] + size))
                    if axis != 2
                    else ((ends[0] - size, place), (ends[1] + size, place))
                )
                lines.append(Line(points=points, layer="station"))
        words = []
        for part in one.parts:
            x, y = view.seen(part.centre_mm)
            # Pieces that lie behind each other in a view are named once, by their numbers.
            words.append((float(x), float(y), part.name.rpartition("-")[2].lstrip("0")))
        merged: dict[tuple[int, int], list[str]] = {}
        for x, y, text in words:
            merged.setdefault((round(x / (3.2 * size)), round(y / (2.0 * size))), []).append(text)
        texts = tuple(
            Words(
                text="·".join(sorted(set(names), key=int)),
                at=(x * 3.2 * size + move, y * 2.0 * size),
                size_mm=1.6 * size,
                anchor="middle",
                strong=True,
            )
            for (x, y), names in merged.items()
        )
        drawing = drawing.with_more((line.moved(move, 0.0) for line in lines), texts)
        start += right - left + 6 * size
    return drawing
