"""Outlines of bone sections: a file of rings, checked to be an outer ring with holes.

A CSV file, or a drawing (:mod:`bonewright.study.drawings`).

In CSV, columns ``ring, x, y``: ring 0 is the outer ring, 1 and up are holes. A ring need not
repeat its first point.
"""

import math
import re
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.cells import bare, decimal_mark, read_number
from bonewright.study.csv_file import parse_csv
from bonewright.study.drawings import DRAWING_SUFFIXES, read_drawing
from bonewright.study.faults import Fault
from bonewright.study.raw import RawTable, whole_file
from bonewright.study.spelling import shown

__all__ = ["Rings", "read_outline"]

Rings = tuple[tuple[tuple[float, float], ...], ...]

_COLUMNS = ("ring", "x", "y")
_FEWEST_POINTS = 3
_MOST_RINGS = 1000
# A ring of many points whose ends lie this many of its longest steps apart is open.
_FEWEST_TO_SEE_A_GAP = 12
_WIDE_GAP = 4.0
_PLACE = re.compile(r"([^\[]*)(?:\[([^\s\]]+) ([^\s\]]+)[^\]]*\])?")
# What the geometry library says of a shape, and how we say it.
_SHAPES = (
    ("self-intersection", "a ring that crosses or touches itself"),
    ("outside shell", "a hole outside the outer ring"),
    ("nested", "a hole inside another hole"),
    ("disconnected", "holes that cut the outline in two"),
    ("duplicate", "the same ring twice"),
    ("valid geometry", "rings that enclose no area"),
)


def read_outline(
    path: Path, file: str, *, unit_mm: float = 1.0
) -> tuple[Rings, tuple[Problem, ...]]:
    """Read the rings of an outline, in the unit of its row.

    Parameters
    ----------
    path : Path
        The file, known to exist inside the study.
    file : str
        Its name in the study, for problems.
    unit_mm : float
        Size of the row's unit in mm: a drawing that states its own unit is brought to it.

    Returns
    -------
    rings : tuple
        The outer ring first, then holes; each a tuple of (x, y), not closed.
        Empty if there is any problem.
    problems : tuple of Problem
    """
    status = path.stat()
    return _read_version(path, file, status.st_mtime_ns, status.st_size, unit_mm)


@lru_cache(maxsize=1024)
def _read_version(
    path: Path, file: str, changed_ns: int, size: int, unit_mm: float
) -> tuple[Rings, tuple[Problem, ...]]:
    # changed_ns and size name the version of the file, so that a check while someone types
    # does not read every outline again.
    del changed_ns, size
    if path.suffix.lower() in DRAWING_SUFFIXES:
        return _drawn_rings(path, file, unit_mm)
    raw = parse_csv("outline", path.read_bytes(), file=file, columns=_COLUMNS)
    if raw.problems:
        return (), raw.problems
    points, problems = _points(raw)
    if problems:
        return (), tuple(problems)
    rings, problem = _rings(points, file)
    problem = problem or _shape_problem(rings, file, raw)
    return ((), (problem,)) if problem else (rings, ())


def _drawn_rings(path: Path, file: str, unit_mm: float) -> tuple[Rings, tuple[Problem, ...]]:
    lines, own_unit_mm, problems = read_drawing(path, file)
    if problems:
        return (), problems
    factor = 1.0 if own_unit_mm is None else own_unit_mm / unit_mm
    points = {
        number: [(float(x), float(y)) for x, y in line * factor]
        for number, line in enumerate(lines)
    }
    rings, problem = _rings(points, file)
    problem = problem or _shape_problem(rings, file)
    return ((), (problem,)) if problem else (rings, ())


def _points(raw: RawTable) -> tuple[dict[int, list[tuple[float, float]]], list[Problem]]:
    if set(raw.header) != set(_COLUMNS) or len(raw.header) != len(_COLUMNS):
        problem = whole_file(
            raw.file,
            found=f"columns {', '.join(raw.header)}",
            expected="columns ring, x, y",
            mend="Name the three columns so in the first row and delete the others.",
        )
        return {}, [problem]
    ring_place, x_place, y_place = (raw.header.index(name) for name in _COLUMNS)
    mark = decimal_mark((cell for row in raw.rows for cell in row), raw.dialect.delimiter)
    points: dict[int, list[tuple[float, float]]] = {}
    problems: list[Problem] = []
    for number, row in zip(raw.row_numbers, raw.rows, strict=True):
        if len(row) != len(_COLUMNS):
            problems.append(
                Problem(
                    file=raw.file,
                    row=number,
                    column=None,
                    found=f"{len(row)} cells",
                    expected="3 cells: ring, x, y",
                    mend="Add what is missing or take out what is too much.",
                )
            )
            continue
        values = [read_number(bare(cell), mark) for cell in row]
        ring = values[ring_place]
        if isinstance(ring, float) and (ring < 0 or ring != int(ring)):
            values[ring_place] = Fault(
                expected="0 for the outer ring, 1 and up for holes", mend="Number the rings so."
            )
        faulty = False
        for name, cell, value in zip(raw.header, row, values, strict=True):
            if isinstance(value, Fault):
                faulty = True
                problems.append(
                    Problem(
                        file=raw.file,
                        row=number,
                        column=name,
                        found=shown(cell),
                        expected=value.expected,
                        mend=value.mend,
                    )
                )
        ring, x, y = values[ring_place], values[x_place], values[y_place]
        if not faulty and not isinstance(ring, Fault):
            if isinstance(x, Fault) or isinstance(y, Fault):
                continue
            points.setdefault(int(ring), []).append((x, y))
    return points, problems


def _rings(points: dict[int, list[tuple[float, float]]], file: str) -> tuple[Rings, Problem | None]:
    numbers = sorted(points)
    if numbers != list(range(len(numbers))) or not numbers or len(numbers) > _MOST_RINGS:
        return (), whole_file(
            file,
            found=f"rings numbered {', '.join(map(str, numbers[:10])) or 'nothing'}",
            expected="ring 0 (outer), then holes 1, 2 and so on",
            mend="Number the rings without gaps, the outer one 0.",
        )
    rings = []
    for number in numbers:
        ring = points[number]
        if len(ring) > 1 and ring[0] == ring[-1]:
            ring = ring[:-1]
        if len(set(ring)) < _FEWEST_POINTS:
            return (), whole_file(
                file,
                found=f"ring {number} with {len(set(ring))} different points",
                expected=f"at least {_FEWEST_POINTS} points a ring",
                mend="Trace the ring again, or delete it.",
            )
        gap = _opening(ring)
        if gap is not None:
            return (), whole_file(
                file,
                found=f"an open ring (number {number}): {gap:.3g} from its last point to its first",
                expected="rings traced all the way round",
                mend="Trace the missing part of the ring.",
            )
        rings.append(tuple(ring))
    return tuple(rings), None


def _opening(ring: list[tuple[float, float]]) -> float | None:
    """Return the gap between the ends of a ring that was not traced all the way round."""
    if len(ring) < _FEWEST_TO_SEE_A_GAP:
        return None
    steps = [math.dist(a, b) for a, b in pairwise(ring)]
    gap = math.dist(ring[0], ring[-1])
    return gap if gap > _WIDE_GAP * max(steps) else None


def _shape_problem(rings: Rings, file: str, raw: RawTable | None = None) -> Problem | None:
    """Let shapely judge crossings, and holes outside the outer ring or in one another."""
    if not rings:
        return None
    import shapely

    outline = shapely.Polygon(rings[0], rings[1:])
    if outline.is_valid and outline.area > 0.0:
        return None
    reason = _PLACE.fullmatch(shapely.is_valid_reason(outline))
    what = reason[1].casefold() if reason else ""
    found = next((words for sign, words in _SHAPES if sign in what), "rings that make no outline")
    row, near = None, ""
    if reason and reason[2]:
        x, y = float(reason[2]), float(reason[3])
        near = f" near x {x:.4g}, y {y:.4g}"
        row = _nearest_row(raw, x, y) if raw is not None else None
    return Problem(
        file=file,
        row=row,
        column=None,
        found=found + near,
        expected="an outer ring that does not cross itself, with its holes inside it and apart",
        mend="Plot the points and trace the ring again there.",
    )


def _nearest_row(raw: RawTable, x: float, y: float) -> int:
    """Return the row of a table of points that lies nearest to a place."""
    x_place, y_place = (raw.header.index(name) for name in ("x", "y"))
    mark = decimal_mark((cell for row in raw.rows for cell in row), raw.dialect.delimiter)

    def away(index: int) -> float:
        here = [read_number(bare(raw.rows[index][place]), mark) for place in (x_place, y_place)]
        east, north = (math.inf if isinstance(value, Fault) else value for value in here)
        return math.hypot(east - x, north - y)

    return raw.row_numbers[min(range(len(raw.rows)), key=away)]
