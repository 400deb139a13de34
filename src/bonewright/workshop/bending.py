"""How a bar is cut and bent: length to cut, marks along it, angles, and turns between bends."""

from dataclasses import dataclass

import numpy as np

from bonewright.quantity import Draws
from bonewright.study.workshop_rows import StockItem
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.straight_runs import BarCourse, bendable

__all__ = ["Bend", "BentPiece", "bend_radius_mm", "bent_pieces"]

# Less than this is no bend but the play of a vice.
_LEAST_BEND_DEG = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """One bend: where its middle is marked on the straight bar, counted from its start.

    ``angle_deg`` is how far the bar is bent out of the straight. ``turn_deg`` is how far the
    bar is first turned about itself after the bend before, anticlockwise seen from its far
    end; 0 where all bends lie in one plane.
    """

    joint: str
    mark_mm: float
    angle_deg: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BentPiece:
    """A piece to cut from stock. ``cut_mm`` is the length to cut, allowances in it.

    ``between_joints_mm`` is the sum of its straight runs, ``allowance_mm`` what is added at
    its start and end for overlaps, ``saved_mm`` what the bends save. ``radius_mm`` is the
    bends' radius at the middle of the bar.
    """

    name: str
    cut_mm: float
    between_joints_mm: float
    allowance_mm: tuple[float, float]
    saved_mm: float
    radius_mm: float
    runs: tuple[tuple[str, float], ...]
    bends: tuple[Bend, ...]


def bend_radius_mm(item: StockItem, rules: BuildRules) -> float:
    """Return the radius of a bend at the middle of the bar."""
    tube = item.form == "tube"
    inner = rules.limit(f"bend radius{' of tube' if tube else ''} (diameters)")
    return (inner + 0.5) * item.diameter_mm


def bent_pieces(course: BarCourse, item: StockItem, rules: BuildRules) -> tuple[BentPiece, ...]:
    """Tell how a bar is cut and bent; more than one piece where bends are too sharp for one.

    Notes
    -----
    A bend of radius r and angle a replaces 2 r tan(a / 2) of the runs by an arc of r a.
    """
    radius = bend_radius_mm(item, rules)
    overlap = max(
        rules.limit("joint overlap (diameters)") * item.diameter_mm,
        rules.limit("least joint overlap (mm)"),
    )
    return tuple(_piece(part, radius, overlap) for part in bendable(course, radius))


def _piece(course: BarCourse, radius: float, overlap: float) -> BentPiece:
    angles = course.bend_rad()
    lengths = np.array([run.length_mm for run in course.runs])
    before = overlap if course.joined[0] else 0.0
    after = overlap if course.joined[1] else 0.0
    saved = 2 * radius * np.tan(angles / 2) - radius * angles
    # The middle of a bend lies where the runs so far end, less what bends before it saved.
    earlier = np.concatenate(([0.0], np.cumsum(saved)[:-1])) if len(saved) else saved
    marks = before + np.cumsum(lengths)[:-1] - earlier - saved / 2
    turns = _turns(course.points_mm())
    bends = tuple(
        Bend(
            joint=run.name.split(" to ")[-1],
            mark_mm=float(mark),
            angle_deg=float(np.degrees(angle)),
            turn_deg=turn,
        )
        for run, mark, angle, turn in zip(course.runs, marks, angles, turns, strict=False)
        if np.degrees(angle) >= _LEAST_BEND_DEG
    )
    return BentPiece(
        name=course.name,
        cut_mm=float(np.ceil(before + lengths.sum() + after - saved.sum())),
        between_joints_mm=float(lengths.sum()),
        allowance_mm=(before, after),
        saved_mm=float(saved.sum()),
        radius_mm=radius,
        runs=tuple((run.name, run.length_mm) for run in course.runs),
        bends=bends,
    )


def _turns(points: Draws) -> list[float]:
    """Return how far the plane of each bend is turned from that of the bend before, degrees."""
    ways = np.diff(points, axis=0)
    planes = np.cross(ways[:-1], ways[1:])
    turns, last = [], None
    for number, plane in enumerate(planes):
        size = float(np.linalg.norm(plane))
        straight = size < np.sin(np.radians(_LEAST_BEND_DEG)) * float(
            np.linalg.norm(ways[number]) * np.linalg.norm(ways[number + 1])
        )
        if straight:
            turns.append(0.0)
            continue
        plane = plane / size
        if last is None:
            turns.append(0.0)
        else:
            axis = ways[number] / np.linalg.norm(ways[number])
            sine, cosine = float(np.cross(last, plane) @ axis), float(last @ plane)
            turns.append(float(np.degrees(np.arctan2(sine, cosine))))
        last = plane
    return turns
