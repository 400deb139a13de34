"""The armature's course: straight runs between joint centres, bent from as few bars as can be.

One bar rises through each foot and leg to the hip, one joins the hips, one runs along the back
from the tail to the head; beak, wings and toes have bars of their own, lashed or brazed on.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from bonewright.body.loft_moments import loft_moments
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.workshop.figure_to_build import FigureToBuild, Interval, SegmentToBuild

__all__ = ["BarCourse", "StraightRun", "bar_courses", "bendable"]

# Bars end this part of the way along the last segment, so that no end comes through.
_TIP: Final = 0.9
# A bar that starts nearer than this part of its first run to its carrier starts on it.
_STUB: Final = 0.25
# A segment stands out of the others when more than this part of it does.
_STANDS_OUT: Final = 0.3
# A bar ends before a run with less than this part of the room it has elsewhere.
_NARROW: Final = 0.5
# Of a run, no bend may use up more than this.
_BENDABLE: Final = 0.45


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StraightRun:
    """A straight run; ``segment`` is the label of the segment it runs through.

    ``start_mm`` (3,) is nearer the support. ``room_mm`` is the least half-thickness of the
    flesh around its middle, None where there is none (below the feet, between bones).
    """

    name: str
    segment: str
    start_mm: Draws
    end_mm: Draws
    length95_mm: Interval
    room_mm: float | None

    @property
    def length_mm(self) -> float:
        """Length between the joint centres."""
        return float(np.linalg.norm(self.end_mm - self.start_mm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BarCourse:
    """One bar: its runs in order, and what it hangs on.

    ``kind`` is leg, hips, spine or hung. ``joined`` tells, for start and end, whether the bar
    overlaps another there. ``hangs_on`` is the name of the bar that carries it, ``joint_mm``
    (3,) where. ``side`` is the side of the body. ``free_tip`` tells whether its far end stands
    out of the body, where it can be knocked.
    """

    name: str
    kind: str
    side: str
    runs: tuple[StraightRun, ...]
    joined: tuple[bool, bool]
    hangs_on: str | None
    joint_mm: Draws
    free_tip: bool

    def points_mm(self) -> Draws:
        """Return the corners of the bar, (n_runs + 1, 3) mm."""
        return np.array([self.runs[0].start_mm, *(run.end_mm for run in self.runs)])

    def bend_rad(self) -> Draws:
        """Return how far the bar is bent out of the straight at each inner corner."""
        ways = np.diff(self.points_mm(), axis=0)
        ways /= np.linalg.norm(ways, axis=1)[:, None]
        cosine = np.clip(np.einsum("ij,ij->i", ways[:-1], ways[1:]), -1, 1)
        return np.asarray(np.arccos(cosine))


def bar_courses(figure: FigureToBuild, *, below_ground_mm: float) -> tuple[BarCourse, ...]:
    """Lay the bars through a figure.

    Parameters
    ----------
    below_ground_mm : float
        How far the legs' bars go below the ground, through the base.

    Raises
    ------
    OutsideRange
        If no pair of legs reaches from the ground to the body's middle.
    """
    body = _Body(figure)
    legs = [_leg(body, top, below_ground_mm) for top in body.leg_tops]
    spine = _spine(body)
    carriers = [*legs, _hips(body), spine]
    return (*carriers, *_hung(body, carriers))


class _Body:
    """The figure's segments as a tree."""

    def __init__(self, figure: FigureToBuild) -> None:
        self.surface = cKDTree(figure.whole.vertices_mm)
        self.by_label: dict[str, SegmentToBuild] = {s.label: s for s in figure.segments}
        self.children: dict[str, list[str]] = {label: [] for label in self.by_label}
        for segment in figure.segments:
            if segment.parent is not None and segment.parent in self.children:
                self.children[segment.parent].append(segment.label)
        self.root = next(s.label for s in figure.segments if s.parent is None)
        self.leg_tops = [label for label in self.children[self.root] if self.stands(label)]
        sides = {self.by_label[label].side for label in self.leg_tops}
        if not sides >= {"left", "right"}:
            raise OutsideRange(
                "No armature can be laid out: the figure does not stand on a pair of legs.",
                remedy="Mark what stands on the ground in tables/body_segments.csv.",
            )
        self.hips_mm = np.mean([self.joint(label) for label in self.leg_tops], axis=0)

    def joint(self, label: str) -> Draws:
        return self.by_label[label].origin_mm

    def stands(self, label: str) -> bool:
        """Tell whether a segment or what hangs on it stands on the ground."""
        return self.by_label[label].on_ground or any(map(self.stands, self.children[label]))

    def reach(self, label: str) -> float:
        """Return the length of the longest chain from a segment outwards."""
        farther = max((self.reach(child) for child in self.children[label]), default=0.0)
        return self.by_label[label].length_mm + farther

    def chain(self, label: str) -> list[str]:
        """Follow the longest chain of segments outwards."""
        chain = [label]
        while self.children[chain[-1]]:
            chain.append(max(self.children[chain[-1]], key=self.reach))
        return chain

    def tip(self, label: str) -> Draws:
        """Return where a bar ends in the last segment of its chain."""
        axis = self.by_label[label].axis_mm
        at = _TIP * (len(axis) - 1)
        lower = min(int(at), len(axis) - 2)
        return np.asarray(axis[lower] + (at - lower) * (axis[lower + 1] - axis[lower]))

    def run(self, label: str, name: str, start: Draws, end: Draws) -> StraightRun:
        segment = self.by_label[label]
        length = float(np.linalg.norm(end - start))
        low, high = (length * end / segment.length_mm for end in segment.length95_mm)
        return StraightRun(
            name=name,
            segment=label,
            start_mm=start,
            end_mm=end,
            length95_mm=(low, high),
            room_mm=self.room(label, (start + end) / 2),
        )

    def room(self, label: str, middle: Draws) -> float | None:
        """Return the half-thickness of the flesh around the middle of a run."""
        segment = self.by_label[label]
        if not segment.hoops:
            return None
        hoop = segment.hoops[len(segment.hoops) // 2]
        room = min(hoop.half_width_mm, hoop.dorsal_mm, hoop.ventral_mm)
        if not self.stands_out(label):
            # Sunk in its neighbours it has their flesh around it too.
            room = max(room, float(self.surface.query(middle)[0]))
        return room

    def stands_out(self, label: str) -> bool:
        """Tell whether a good part of a segment lies outside the others."""
        segment = self.by_label[label]
        whole = float(loft_moments(segment.loft).volume_mm3[0])
        return segment.volume_mm3 > _STANDS_OUT * whole

    def outward(self, chain: Sequence[str]) -> Iterator[StraightRun]:
        """Run from joint to joint along a chain and to the tip of its last segment."""
        for label, onward in itertools.pairwise(chain):
            name = f"{self.by_label[label].joint} to {self.by_label[onward].joint}"
            yield self.run(label, name, self.joint(label), self.joint(onward))
        last = chain[-1]
        yield self.run(
            last, f"{self.by_label[last].joint} to tip", self.joint(last), self.tip(last)
        )

    def along_back(self, label: str) -> list[StraightRun]:
        """Run from the middle of the hips out along a chain, as far as there is room."""
        chain = self.chain(label)
        to_joint = f"middle of the hips to {self.by_label[label].joint}"
        while True:
            runs = [
                self.run(self.root, to_joint, self.hips_mm, self.joint(label)),
                *self.outward(chain),
            ]
            rooms = [run.room_mm for run in runs if run.room_mm is not None]
            narrow = bool(rooms) and rooms[-1] < _NARROW * float(np.median(rooms))
            if not narrow or len(chain) == 1:
                return runs
            chain.pop()


def _leg(body: _Body, top: str, below_mm: float) -> BarCourse:
    """Bend one bar from below the base up through the leg to the hip."""
    chain = []
    for label in body.chain(top):
        chain.append(label)
        if body.by_label[label].on_ground:
            break
    toe = chain.pop()
    foot = body.joint(toe)
    sole = foot * [1, 1, 0] - [0.0, 0.0, below_mm]
    side = body.by_label[top].side
    runs = [replace(body.run(toe, f"base to {body.by_label[toe].joint}", sole, foot), room_mm=None)]
    upward = [*reversed(chain)]
    from_joint = toe
    for label in upward:
        name = f"{body.by_label[from_joint].joint} to {body.by_label[label].joint}"
        runs.append(body.run(label, name, body.joint(from_joint), body.joint(label)))
        from_joint = label
    return BarCourse(
        name=f"{side} leg",
        kind="leg",
        side=side,
        runs=tuple(runs),
        joined=(False, True),
        hangs_on=None,
        joint_mm=sole,
        free_tip=False,
    )


def _hips(body: _Body) -> BarCourse:
    left, right = (
        next(label for label in body.leg_tops if body.by_label[label].side == side)
        for side in ("left", "right")
    )
    names = f"{body.by_label[left].joint} to {body.by_label[right].joint}"
    return BarCourse(
        name="hips",
        kind="hips",
        side="middle",
        runs=(body.run(body.root, names, body.joint(left), body.joint(right)),),
        joined=(True, True),
        hangs_on="left leg",
        joint_mm=body.joint(left),
        free_tip=False,
    )


def _spine(body: _Body) -> BarCourse:
    """Bend one bar from the end of the tail, over the hips, along the neck to the beak."""
    midline = sorted(
        (
            label
            for label in body.children[body.root]
            if body.by_label[label].side == "middle" and not body.stands(label)
        ),
        key=body.reach,
        reverse=True,
    )
    behind = body.along_back(midline[1]) if len(midline) > 1 else []
    ahead = body.along_back(midline[0]) if midline else []
    if not ahead:
        ahead = [
            body.run(body.root, "middle of the hips to front", body.hips_mm, body.tip(body.root))
        ]
    turned = [
        replace(
            run,
            name=" to ".join(reversed(run.name.split(" to "))),
            start_mm=run.end_mm,
            end_mm=run.start_mm,
        )
        for run in reversed(behind)
    ]
    return BarCourse(
        name="spine",
        kind="spine",
        side="middle",
        runs=(*turned, *ahead),
        joined=(False, False),
        hangs_on="hips",
        joint_mm=body.hips_mm,
        free_tip=True,
    )


def _hung(body: _Body, carriers: Sequence[BarCourse]) -> list[BarCourse]:
    """Give a bar to every chain that no bar runs through yet, the nearest bar carrying it."""
    through = {run.segment for bar in carriers for run in bar.runs}
    # The leg's bar only rises through the toe it stands on; the toe has its own.
    through -= {bar.runs[0].segment for bar in carriers if bar.kind == "leg"}
    bars: list[BarCourse] = []
    waiting = [
        label
        for label in body.by_label
        if label not in through and body.by_label[label].parent in {*through, body.root}
    ]
    while waiting:
        label = waiting.pop(0)
        chain = body.chain(label)
        for at in chain:
            waiting += [c for c in body.children[at] if c not in chain]
        joint = body.joint(label)
        side = body.by_label[label].side
        known = [b for b in (*carriers, *bars) if b.side in (side, "middle")]
        carrier, spot = min(
            ((bar, _nearest(bar, joint)) for bar in known),
            key=lambda found: float(np.linalg.norm(found[1] - joint)),
        )
        runs = list(body.outward(chain))
        if np.linalg.norm(spot - joint) > _STUB * runs[0].length_mm:
            parent = body.by_label[label].parent or body.root
            to_joint = f"{carrier.name} to {body.by_label[label].joint}"
            runs.insert(0, body.run(parent, to_joint, spot, joint))
        else:
            runs[0] = replace(runs[0], start_mm=spot)
        bars.append(
            BarCourse(
                name=label,
                kind="hung",
                side=side,
                runs=tuple(runs),
                joined=(True, False),
                hangs_on=carrier.name,
                joint_mm=spot,
                free_tip=body.stands_out(chain[-1]),
            )
        )
    return bars


def _nearest(bar: BarCourse, point: Draws) -> Draws:
    """Return the place of a bar nearest to a point."""
    corners = bar.points_mm()
    best = corners[0]
    for start, end in itertools.pairwise(corners):
        along = end - start
        share = float(np.clip((point - start) @ along / max(float(along @ along), 1e-12), 0, 1))
        spot = start + share * along
        if np.linalg.norm(spot - point) < np.linalg.norm(best - point):
            best = spot
    return np.asarray(best)


def bendable(course: BarCourse, radius_mm: float) -> list[BarCourse]:
    """Divide a bar where a bend is too sharp for the length of its runs.

    A bend of that radius uses up r tan(angle / 2) of the run on either side.
    """
    used = radius_mm * np.tan(np.minimum(course.bend_rad(), np.pi - 0.01) / 2)
    lengths = np.array([run.length_mm for run in course.runs])
    sharp = [
        place
        for place, use in enumerate(used)
        if use > _BENDABLE * min(lengths[place], lengths[place + 1])
    ]
    pieces: list[BarCourse] = []
    start = 0
    for place in [*sharp, len(lengths) - 1]:
        runs = course.runs[start : place + 1]
        first, last = start == 0, place == len(lengths) - 1
        pieces.append(
            replace(
                course,
                name=course.name if not sharp else f"{course.name}, piece {len(pieces) + 1}",
                runs=runs,
                # A divided bar overlaps its other piece.
                joined=(course.joined[0] if first else True, course.joined[1] if last else True),
            )
        )
        start = place + 1
    return pieces
