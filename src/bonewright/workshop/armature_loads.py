"""What the armature carries: weights hung on bars, bars hung on bars, down to the ground.

Every bar is reckoned as a beam held at the end nearer the ground and free at the other. The
two legs share the body alike; each carries its half straight above its own hip, so that the
cross-piece between the hips bends and the legs are not pushed apart. A course of forces in
balance with the loads that a ductile bar can carry is on the safe side (lower bound of
plastic design). Toes lie on the ground and hang on nothing.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bonewright.quantity import Draws
from bonewright.study.workshop_rows import StockItem
from bonewright.workshop.beams import Stretch, combined_stress_mpa, round_section, tip_movement_mm
from bonewright.workshop.straight_runs import BarCourse

__all__ = ["Arm", "LoadedArmature", "arms_of"]

GRAVITY: Final = 9.80665
_MM_PER_M: Final = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arm:
    """The corners (m, 3) of a bar, or of half the hips' or spine's, outwards from its support.

    ``segments`` names the segment of each run. ``carrier`` is the arm that holds it, and
    ``at`` the place on it, counted in runs and parts of a run.
    """

    name: str
    bar: str
    kind: str
    points_mm: Draws
    segments: tuple[str, ...]
    on_ground: bool
    free_tip: bool
    carrier: str | None
    at: float


def arms_of(courses: Sequence[BarCourse], on_ground: frozenset[str]) -> tuple[Arm, ...]:
    """Take bars apart into arms that run outwards from their support."""
    arms: list[Arm] = []
    for course in courses:
        points, segments = course.points_mm(), tuple(run.segment for run in course.runs)
        if course.kind == "hips":
            # The half on the left is reckoned; the other is its mirror image.
            points = np.stack((points[0], points.mean(axis=0)))
        if course.kind != "spine":
            arms.append(_arm(course.name, course, points, segments, arms, on_ground))
            continue
        middle = int(np.argmin(np.linalg.norm(points - course.joint_mm, axis=1)))
        arms.append(
            _arm("spine ahead", course, points[middle:], segments[middle:], arms, on_ground)
        )
        if middle:
            back = tuple(reversed(segments[:middle]))
            arms.append(_arm("spine behind", course, points[middle::-1], back, arms, on_ground))
    return tuple(arms)


def _arm(
    name: str,
    course: BarCourse,
    points: Draws,
    segments: tuple[str, ...],
    known: Sequence[Arm],
    on_ground: frozenset[str],
) -> Arm:
    carrier, at = None, 0.0
    if course.hangs_on is not None:
        of_bar = [arm for arm in known if arm.bar == course.hangs_on]
        carrier_arm, at, _ = min(
            ((arm, *_place_on(arm.points_mm, course.joint_mm)) for arm in of_bar),
            key=lambda found: found[2],
        )
        carrier = carrier_arm.name
    return Arm(
        name=name,
        bar=course.name,
        kind=course.kind,
        points_mm=points,
        segments=segments,
        on_ground=segments[-1] in on_ground,
        free_tip=course.free_tip,
        carrier=carrier,
        at=at,
    )


def _place_on(points: Draws, spot: Draws) -> tuple[float, float]:
    """Return the place of a line nearest to a spot, in runs, and the distance."""
    best = (0.0, float("inf"))
    for number, (start, end) in enumerate(itertools.pairwise(points)):
        along = end - start
        share = float(np.clip((spot - start) @ along / max(float(along @ along), 1e-12), 0, 1))
        gap = float(np.linalg.norm(start + share * along - spot))
        if gap < best[1] - 1e-9:
            best = (number + share, gap)
    return best


class LoadedArmature:
    """Arms under the weight of segments and of their own bars.

    Parameters
    ----------
    arms : sequence of Arm
    weights : mapping from segment's label to (mass kg, centre (3,) mm)
    stock : mapping from bar's name to what it is made of
    """

    def __init__(
        self,
        arms: Sequence[Arm],
        weights: Mapping[str, tuple[float, Draws]],
        stock: Mapping[str, StockItem],
    ) -> None:
        self.arms = {arm.name: arm for arm in arms}
        self.stock = stock
        self._section = {
            bar: round_section(item.diameter_mm, item.wall_mm) for bar, item in stock.items()
        }
        self._own = {arm.name: self._loads_on(arm, weights) for arm in arms}

    def _loads_on(
        self, arm: Arm, weights: Mapping[str, tuple[float, Draws]]
    ) -> list[tuple[float, Draws, float]]:
        """Return (place along the arm, place in space, weight N) of its segments and bar."""
        if arm.on_ground and arm.kind == "hung":
            return []
        item = self.stock[arm.bar]
        per_mm = item.density_kg_m3 * self._section[arm.bar].area_mm2 * 1e-9
        loads = []
        done: set[str] = set()
        for number, segment in enumerate(arm.segments):
            start, end = arm.points_mm[number], arm.points_mm[number + 1]
            length = float(np.linalg.norm(end - start))
            loads.append((number + 0.5, (start + end) / 2, GRAVITY * per_mm * length))
            if segment in weights and segment not in done and self._bears(arm, segment):
                done.add(segment)
                mass, centre = weights[segment]
                along = end - start
                share = float((centre - start) @ along / max(float(along @ along), 1e-12))
                loads.append((number + float(np.clip(share, 0, 1)), centre, GRAVITY * mass))
        return loads

    def _bears(self, arm: Arm, segment: str) -> bool:
        """Tell whether this arm, and no other, carries the segment's weight."""
        if arm.kind == "leg" and segment == arm.segments[0]:
            return False
        bearers = [
            other.name
            for other in self.arms.values()
            if segment in other.segments
            and not (other.kind == "leg" and segment == other.segments[0])
        ]
        # What the spine, the hips and others run through hangs on the spine.
        ranked = sorted(bearers, key=lambda name: (name != "spine ahead", name))
        return bool(ranked) and ranked[0] == arm.name

    def _all_loads(self, arm: Arm) -> list[tuple[Draws, float]]:
        """Return place and weight of everything an arm carries, with what hangs on it."""
        loads = [(spot, weight) for _, spot, weight in self._own[arm.name]]
        for other in self._hung_on(arm):
            loads += self._all_loads(other)
        return loads

    def _hung_on(self, arm: Arm) -> list[Arm]:
        return [other for other in self.arms.values() if other.carrier == arm.name]

    def _attached(self, arm: Arm) -> list[tuple[float, list[tuple[Draws, float]]]]:
        """Return what bears on an arm from outside, with its place along it."""
        hung = self._hung_on(arm)
        if arm.kind not in ("leg", "hips"):
            return [(other.at, self._all_loads(other)) for other in hung]
        # Each leg has its share of the body, straight above its own hip; so has the half of
        # the hips' bar on its side.
        legs = [other for other in self.arms.values() if other.kind == "leg"]
        aside = (arm.points_mm[-1] if arm.kind == "leg" else arm.points_mm[0])[1]
        shared = [
            (np.array([spot[0], aside, spot[2]]), weight / len(legs))
            for other in self.arms.values()
            if other.kind == "spine"
            for spot, weight in self._all_loads(other)
        ]
        if arm.kind == "leg":
            hips = next(other for other in self.arms.values() if other.kind == "hips")
            shared += [(spot, weight) for _, spot, weight in self._own[hips.name]]
        own = [(o.at, self._all_loads(o)) for o in hung if o.kind == "hung" and not o.on_ground]
        return [*own, (float(len(arm.segments)), shared)]

    def stretches(self, arm: Arm, *, up_to: float | None = None) -> list[Stretch]:
        """Return an arm's pieces between loads, each with what it carries."""
        own = [(at, [(spot, weight)]) for at, spot, weight in self._own[arm.name]]
        loads = [*own, *self._attached(arm)]
        last = float(len(arm.segments)) if up_to is None else up_to
        cuts = {0.0, last, *(float(n) for n in range(len(arm.segments)) if n < last)}
        cuts |= {at for at, _ in loads if 0 < at < last}
        places = sorted(cuts)
        pieces = []
        for start, end in itertools.pairwise(places):
            beyond = [load for at, group in loads if at >= end - 1e-9 for load in group]
            spots = np.array([spot for spot, _ in beyond]).reshape(-1, 3)
            forces = np.zeros((len(beyond), 3))
            forces[:, 2] = [-weight for _, weight in beyond]
            pieces.append(
                Stretch(
                    start_mm=_point_at(arm.points_mm, start),
                    end_mm=_point_at(arm.points_mm, end),
                    section=self._section[arm.bar],
                    elastic_modulus_mpa=self.stock[arm.bar].elastic_modulus_mpa,
                    places_mm=spots,
                    forces_n=forces,
                )
            )
        return pieces

    def stress_mpa(self, arm: Arm) -> float:
        """Return the greatest stress in an arm under the weights as they are."""
        return max((_stress(piece) for piece in self.stretches(arm)), default=0.0)

    def carriers(self, arm: Arm) -> list[tuple[Arm, float]]:
        """Return the arms that carry an arm down to the ground, with the place on each."""
        found, at = [], arm
        while at.carrier is not None:
            carrier = self.arms[at.carrier]
            found.append((carrier, at.at))
            at = carrier
        return found

    def sag_mm(self, arm: Arm) -> tuple[float, dict[str, float]]:
        """Return how far an arm's tip moves under the weights, and how much each bar adds."""
        tip = arm.points_mm[-1]
        by_bar: dict[str, Draws] = {}
        for carrier, up_to in [(arm, None), *self.carriers(arm)]:
            moved = tip_movement_mm(self.stretches(carrier, up_to=up_to), tip)
            if carrier.kind in ("leg", "hips") and arm.kind in ("spine", "hung"):
                # What one leg does sideways the other undoes.
                moved = moved * [1, 0, 1]
            by_bar[carrier.bar] = by_bar.get(carrier.bar, np.zeros(3)) + moved
        total = np.sum(list(by_bar.values()), axis=0)
        return float(np.linalg.norm(total)), {
            bar: float(np.linalg.norm(moved)) for bar, moved in by_bar.items()
        }

    def knock_mpa(self, arm: Arm, force_n: float) -> dict[str, float]:
        """Return, by bar, weight and a knock on the arm's tip together, worst direction."""
        tip = arm.points_mm[-1]
        found: dict[str, float] = {}
        for carrier, up_to in [(arm, None), *self.carriers(arm)]:
            shared = force_n / 2 if carrier.kind in ("leg", "hips") else force_n
            for piece in self.stretches(carrier, up_to=up_to):
                lever = max(
                    float(np.linalg.norm(tip - piece.start_mm)),
                    float(np.linalg.norm(tip - piece.end_mm)),
                )
                stress = _stress(piece) + shared * lever / piece.section.modulus_mm3
                found[carrier.bar] = max(found.get(carrier.bar, 0.0), stress)
        return found

    def leg_share_n(self) -> float:
        """Return the weight that stands on the more loaded leg, N."""
        legs = [arm for arm in self.arms.values() if arm.kind == "leg"]
        return max(-float(self.stretches(leg)[0].forces_n[:, 2].sum()) for leg in legs)

    def push_mpa(self, force_n: float, height_mm: float) -> float:
        """Return the greatest stress in the legs when the figure is pushed at a height."""
        worst = 0.0
        legs = [arm for arm in self.arms.values() if arm.kind == "leg"]
        for leg in legs:
            for piece in self.stretches(leg):
                low = min(float(piece.start_mm[2]), float(piece.end_mm[2]), height_mm)
                moment = force_n / len(legs) * (height_mm - low)
                worst = max(worst, _stress(piece) + moment / piece.section.modulus_mm3)
        return worst


def _stress(piece: Stretch) -> float:
    along = piece.end_mm - piece.start_mm
    length = float(np.linalg.norm(along))
    if length == 0 or not len(piece.forces_n):
        return 0.0
    axis = along / length
    moments = piece.moment_nmm(np.stack((piece.start_mm, piece.end_mm)))
    total = piece.forces_n.sum(axis=0)
    return max(
        combined_stress_mpa(
            piece.section,
            bending_nmm=float(np.linalg.norm(moment - (moment @ axis) * axis)),
            twisting_nmm=float(moment @ axis),
            axial_n=float(total @ axis),
        )
        for moment in moments
    )


def _point_at(points: Draws, at: float) -> Draws:
    number = min(int(at), len(points) - 2)
    return np.asarray(points[number] + (at - number) * (points[number + 1] - points[number]))
