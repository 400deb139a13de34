"""Outlines drawn in a vector program: the closed lines of an SVG or DXF file.

The largest closed line is the outer edge, those inside it are holes. A drawing that states
the size of its unit is brought to mm; another is read in the unit of its row. Curves become
points no farther from the curve than a two-thousandth of the drawing.
"""

from collections.abc import Iterable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import Problem
from bonewright.study.raw import whole_file

__all__ = ["DRAWING_SUFFIXES", "read_drawing"]

DRAWING_SUFFIXES = (".svg", ".dxf")

_LARGEST_BYTES = 20 * 1024 * 1024
# Farther from the origin no section lies, in any unit.
_FARTHEST = 1e9
_POINTS_A_CURVE = 64
_FLATNESS = 1 / 2000
# Ends of a line nearer than this share of the drawing's size close it.
_CLOSED = 1e-3
# Unit codes of DXF's $INSUNITS in mm.
_DXF_UNITS_MM = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 13: 0.001}
# SVG's px is 1/96 inch; 25.4 / 96 mm.
_SVG_PIXEL_MM = 25.4 / 96

Line = NDArray[np.float64]


def read_drawing(path: Path, file: str) -> tuple[list[Line], float | None, tuple[Problem, ...]]:
    """Read the closed lines of a drawing.

    Returns
    -------
    lines : list of (n_points, 2)
        Largest first, not repeating the first point, y upwards. Empty if there is a problem.
    unit_mm : float or None
        Size of the drawing's unit in mm, where it states one.
    problems : tuple of Problem
    """
    if path.stat().st_size > _LARGEST_BYTES:
        return _problem(file, "a file of more than 20 MB", "a drawing of one section")
    kind = path.suffix[1:].upper()
    try:
        lines, unit_mm = _svg_lines(path) if kind == "SVG" else _dxf_lines(path)
    except _Unreadable as error:
        return _problem(file, str(error), f"a sound {kind} drawing")
    except Exception as error:  # the libraries raise whatever their parsers raise
        found = f"a shape that cannot be read ({str(error)[:80] or type(error).__name__})"
        return _problem(file, found, f"a sound {kind} drawing")
    lines = [line for line in lines if len(line) > 1]
    if not all(np.isfinite(line).all() and np.abs(line).max() < _FARTHEST for line in lines):
        return _problem(file, "points without a place", "a number for each coordinate")
    if not lines:
        return _problem(file, "no lines", "the outer edge and the marrow space as closed lines")
    size = max(float(np.ptp(line, axis=0).max()) for line in lines)
    closed: list[Line] = []
    for number, line in enumerate(lines, start=1):
        gap = float(np.hypot(*(line[0] - line[-1])))
        if gap > _CLOSED * size:
            return _problem(
                file,
                f"an open line (number {number}) whose ends are {_long(gap, unit_mm)} apart",
                "closed lines only",
                mend="Close the path in the drawing program, and delete guide lines and scale bars"
                " from the file.",
            )
        corners = line[np.r_[True, np.hypot(*np.diff(line, axis=0).T) > 0]]
        if np.hypot(*(corners[0] - corners[-1])) <= _CLOSED * size and len(corners) > 1:
            corners = corners[:-1]
        closed.append(corners)
    closed.sort(key=lambda line: -abs(_area(line)))
    return closed, unit_mm, ()


def _long(length: float, unit_mm: float | None) -> str:
    return f"{length:.3g}" if unit_mm is None else f"{length * unit_mm:.3g} mm"


class _Unreadable(Exception):
    """The file is not what its name says."""


def _problem(
    file: str, found: str, expected: str, *, mend: str = "Export the outline again."
) -> tuple[list[Line], None, tuple[Problem, ...]]:
    return [], None, (whole_file(file, found=found, expected=expected, mend=mend),)


def _area(line: Line) -> float:
    x, y = line.T
    return float(x @ np.roll(y, -1) - np.roll(x, -1) @ y) / 2


def _svg_lines(path: Path) -> tuple[list[Line], float | None]:
    import svgelements

    content = path.read_bytes()
    if b"<!ENTITY" in content:
        raise _Unreadable("an SVG file with entities")
    try:
        root = ElementTree.fromstring(content)  # noqa: S314 - entities are refused above
    except ElementTree.ParseError as error:
        raise _Unreadable(f"no SVG: {error}") from error
    width, box = root.get("width", ""), root.get("viewBox")
    # Only a size in a unit of length tells how large the drawing is.
    stated = width.rstrip().endswith(("mm", "cm", "in", "pt")) and box is not None
    drawing: Any = svgelements.SVG.parse(str(path), reify=True, ppi=96.0)
    shapes = [element for element in drawing.elements() if _is_drawn(element, svgelements)]
    lines = [line for shape in shapes for line in _svg_shape(shape, svgelements)]
    return lines, _SVG_PIXEL_MM if stated else None


def _is_drawn(element: Any, svgelements: Any) -> bool:
    if not isinstance(element, svgelements.Shape):
        return False
    return str(element.values.get("visibility", "")) != "hidden"


def _svg_shape(shape: Any, svgelements: Any) -> Iterable[Line]:
    for subpath in svgelements.Path(shape).as_subpaths():
        points: list[tuple[float, float]] = []
        for segment in svgelements.Path(subpath):
            if isinstance(segment, svgelements.Move):
                continue
            straight = isinstance(segment, (svgelements.Line, svgelements.Close))
            for share in np.linspace(0, 1, 2 if straight else _POINTS_A_CURVE + 1):
                point = segment.point(float(share))
                points.append((float(point.x), -float(point.y)))
        if points:
            yield np.array(points)


def _dxf_lines(path: Path) -> tuple[list[Line], float | None]:
    import ezdxf
    from ezdxf import path as dxf_path

    try:
        document: Any = ezdxf.readfile(str(path))  # type: ignore[attr-defined]
    except Exception as error:  # the library raises whatever its parsers raise
        raise _Unreadable("no DXF drawing") from error
    whole: list[Line] = []
    pieces: list[Line] = []
    for entity in document.modelspace():
        kind = entity.dxftype()
        if kind not in _DXF_CURVES:
            continue
        curve = dxf_path.make_path(entity)
        if not len(curve):
            continue
        box = np.array([[p.x, p.y] for p in curve.control_vertices()])
        size = max(float(np.ptp(box, axis=0).max()), 1e-9)
        points = np.array([[p.x, p.y] for p in curve.flattening(size * _FLATNESS)])
        if curve.is_closed:
            whole.append(np.vstack([points, points[:1]]))
        else:
            pieces.append(points)
    lines = whole + _joined(pieces)
    return lines, _DXF_UNITS_MM.get(int(document.header.get("$INSUNITS", 0)))


_DXF_CURVES = frozenset({"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"})


def _joined(pieces: list[Line]) -> list[Line]:
    """Put pieces of line end to end where their ends meet."""
    if not pieces:
        return []
    size = float(np.ptp(np.concatenate(pieces), axis=0).max())
    near = _CLOSED * size
    rest, lines = list(pieces), []
    while rest:
        line = rest.pop()
        grown = True
        while grown and np.hypot(*(line[0] - line[-1])) > near:
            grown = False
            for place, other in enumerate(rest):
                for candidate in (other, other[::-1]):
                    if np.hypot(*(line[-1] - candidate[0])) <= near:
                        line = np.vstack([line, candidate[1:]])
                        grown = True
                        break
                if grown:
                    rest.pop(place)
                    break
        lines.append(line)
    return lines
