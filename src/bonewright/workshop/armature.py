"""The armature: which bar for which run, how to bend it, and how it bears the weight."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bonewright.findings import Caveat
from bonewright.quantity import Draws
from bonewright.study.workshop_rows import StockItem
from bonewright.workshop.amounts import Amount
from bonewright.workshop.armature_loads import Arm, LoadedArmature, arms_of
from bonewright.workshop.beams import buckling_load_n, round_section
from bonewright.workshop.bending import BentPiece, bend_radius_mm, bent_pieces
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import Filling
from bonewright.workshop.straight_runs import BarCourse, bar_courses, bendable

__all__ = ["Armature", "BarChosen", "armature_of"]

_ROUNDS: Final = 4
_MOST_STIFFENED: Final = 80
# A bar may be that many times as heavy as need be to be of stock that another bar has.
_HEAVIER: Final = 3.0
# A push from a visitor matters for a figure that stands free, not for one under glass.
_FREE_STANDING_MM: Final = 400.0
_BEAM_SOURCE: Final = "beams as in handbooks of strength of materials (RoarkYoung)"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BarChosen:
    """A bar of the armature with its stock and how it is used.

    ``stress`` is the greatest under the weight, the handling factor in it; ``allowed_mpa``
    what it may be; ``sag`` how far its tip moves under the weight as it is, ``sag_allowed_mm``
    how far it may; ``knock`` the stress when a tip that it carries is knocked.
    """

    course: BarCourse
    stock: StockItem
    pieces: tuple[BentPiece, ...]
    mass_kg: float
    stress: Amount
    allowed_mpa: float
    sag: Amount
    sag_allowed_mm: float
    knock: Amount


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Armature:
    """The armature of a figure.

    ``centre_mm`` (3,) is the centre of mass of figure and armature together, ``mass_kg`` the
    mass of both. ``buckling_times`` tells how many times its share of the weight each leg
    would carry, ``push`` the stress in the legs under a visitor's push (None under glass).
    ``caveats`` say which limit no stock could keep.
    """

    bars: tuple[BarChosen, ...]
    steel_kg: float
    mass_kg: Amount
    centre_mm: Draws
    buckling_times: Amount
    push: Amount | None
    caveats: tuple[Caveat, ...]


def armature_of(figure: FigureToBuild, filling: Filling, rules: BuildRules) -> Armature:
    """Lay out, choose and check the armature of a figure.

    Bars are chosen by mass: the lightest stock that keeps the limits on stress, on a knock at
    a tip, on buckling, that leaves flesh around it and, if any such does, can be bent in one
    piece. Then the bars that add most to a tip's
    sinking are made stiffer until every tip keeps its limit. Left and right are alike.
    """
    below = rules.limit("base thickness (mm)") + rules.limit("fixing below the base (mm)")
    courses = bar_courses(figure, below_ground_mm=below)
    grounded = frozenset(s.label for s in figure.segments if s.on_ground)
    arms = arms_of(courses, grounded)
    weights = {
        segment.label: (filling.mass_of(segment.label), segment.centre_mm)
        for segment in figure.segments
        if segment.own is not None
    }
    stock = _Chooser(courses, arms, weights, rules).chosen()
    loaded = LoadedArmature(arms, weights, stock)
    return _assembled(figure, filling, rules, courses=courses, loaded=loaded)


class _Chooser:
    """Chooses stock for bars; both of a pair get the same."""

    def __init__(
        self,
        courses: Sequence[BarCourse],
        arms: Sequence[Arm],
        weights: Mapping[str, tuple[float, Draws]],
        rules: BuildRules,
    ) -> None:
        self.courses, self.arms, self.weights, self.rules = courses, arms, weights, rules
        self.by_mass = sorted(rules.stock, key=lambda item: (_per_m(item), item.stock_id))
        self.fitting = {course.name: self._listed(course) for course in courses}

    def chosen(self) -> dict[str, StockItem]:
        """Choose for strength until nothing changes, then for stiffness."""
        stock = {course.name: self.fitting[course.name][-1] for course in self.courses}
        for _ in range(_ROUNDS):
            before = dict(stock)
            self._strong_enough(stock)
            if stock == before:
                break
        self._stiff_enough(stock)
        return stock

    def _loaded(self, stock: Mapping[str, StockItem]) -> LoadedArmature:
        return LoadedArmature(self.arms, self.weights, stock)

    def _listed(self, course: BarCourse) -> list[StockItem]:
        """List the stock that leaves flesh around it, the thinnest if none does.

        What can be bent in one piece comes first, then what is light.
        """
        room = min((run.room_mm for run in course.runs if run.room_mm is not None), default=None)
        fitting = self.by_mass
        if room is not None:
            thickest = 2 * room * (1 - self.rules.limit("cover (%)") / 100)
            fitting = [item for item in fitting if item.diameter_mm <= thickest]
        if not fitting:
            return [min(self.by_mass, key=lambda item: item.diameter_mm)]
        whole = [
            item for item in fitting if len(bendable(course, bend_radius_mm(item, self.rules))) == 1
        ]
        return [*whole, *(item for item in fitting if item not in whole)]

    def _pair(self, course: BarCourse) -> list[str]:
        plain = course.name.removeprefix("left ").removeprefix("right ")
        alike = {f"left {plain}", f"right {plain}"} if course.side != "middle" else {course.name}
        return [other.name for other in self.courses if other.name in alike]

    def _strong_enough(self, stock: dict[str, StockItem]) -> None:
        """Give every bar the lightest stock that is strong enough for what it carries now."""
        loaded = self._loaded(stock)
        used: list[StockItem] = []
        for course in self.courses:
            if course.side == "right":
                continue
            fitting = self.fitting[course.name]
            holds = self._holding(course, loaded)
            item = next((item for item in fitting if holds(item)), max(fitting, key=_strength))
            # Few kinds of stock are better than many: one that another bar has, if not heavy.
            most = _HEAVIER * _per_m(item)
            alike = [one for one in fitting if one in used and _per_m(one) <= most and holds(one)]
            item = alike[0] if alike else item
            used.append(item)
            stock.update(dict.fromkeys(self._pair(course), item))

    def _holding(self, course: BarCourse, loaded: LoadedArmature) -> Callable[[StockItem], bool]:
        """Return whether an item would hold what the bar carries now.

        A round bar's stress goes with its section modulus, its buckling load with its
        stiffness; what its own weight changes is caught by choosing anew.
        """
        rules, now = self.rules, loaded.stock[course.name]
        handled = rules.limit("handling factor (times)") * max(
            loaded.stress_mpa(arm) for arm in self.arms if arm.bar == course.name
        )
        knocked = knock_on(loaded, course, rules)
        share = loaded.leg_share_n() * rules.limit("handling factor (times)")
        height = float(course.points_mm()[-1][2])

        def holds(item: StockItem) -> bool:
            by = _modulus(now) / _modulus(item)
            safe = item.yield_strength_mpa / rules.limit("safety factor on yield (times)")
            if handled * by > safe or knocked * by > item.yield_strength_mpa:
                return False
            needed = rules.limit("safety factor on buckling (times)") * share
            return course.kind != "leg" or _buckling_n(item, height) >= needed

        return holds

    def _stiff_enough(self, stock: dict[str, StockItem]) -> None:
        """Stiffen what adds most to a sinking tip, until all keep the limit or none can be."""
        by_name = {course.name: course for course in self.courses}
        free = [arm for arm in self.arms if _hangs_free(arm)]
        limit = self.rules.limit("tip deflection (1 in)")
        spent: set[str] = set()
        for _ in range(_MOST_STIFFENED):
            loaded = self._loaded(stock)
            sags = [(loaded.sag_mm(arm), _reach(arm)) for arm in free]
            (total, by_bar), reach = max(sags, key=lambda found: found[0][0] / found[1])
            left = [bar for bar in by_bar if bar not in spent]
            if total <= reach / limit or not left:
                return
            bar = max(left, key=lambda name: by_bar[name])
            holds = self._holding(by_name[bar], loaded)
            stiffer = [
                item
                for item in self.fitting[bar]
                if _stiffness(item) > _stiffness(stock[bar]) and holds(item)
            ]
            if stiffer:
                stock.update(dict.fromkeys(self._pair(by_name[bar]), stiffer[0]))
            else:
                spent.add(bar)


def _hangs_free(arm: Arm) -> bool:
    return not (arm.kind == "hung" and arm.on_ground)


def _reach(arm: Arm) -> float:
    """Return how far an arm's tip is from where the figure is fixed: its height or its reach."""
    return float(max(np.linalg.norm(arm.points_mm[-1] - arm.points_mm[0]), arm.points_mm[-1][2]))


def knock_on(loaded: LoadedArmature, course: BarCourse, rules: BuildRules) -> float:
    """Return the greatest stress in a bar when a tip that it carries is knocked, MPa."""
    force = rules.limit("knock at a tip (N)")
    found = [
        loaded.knock_mpa(arm, force).get(course.name, 0.0)
        for arm in loaded.arms.values()
        if arm.free_tip
    ]
    return max(found, default=0.0)


def _buckling_n(item: StockItem, height_mm: float) -> float:
    return buckling_load_n(
        round_section(item.diameter_mm, item.wall_mm),
        elastic_modulus_mpa=item.elastic_modulus_mpa,
        length_mm=height_mm,
    )


def _per_m(item: StockItem) -> float:
    return round_section(item.diameter_mm, item.wall_mm).area_mm2 * item.density_kg_m3


def _modulus(item: StockItem) -> float:
    return round_section(item.diameter_mm, item.wall_mm).modulus_mm3


def _stiffness(item: StockItem) -> float:
    section = round_section(item.diameter_mm, item.wall_mm)
    return section.second_moment_mm4 * item.elastic_modulus_mpa


def _strength(item: StockItem) -> float:
    return round_section(item.diameter_mm, item.wall_mm).modulus_mm3 * item.yield_strength_mpa


def _assembled(
    figure: FigureToBuild,
    filling: Filling,
    rules: BuildRules,
    *,
    courses: Sequence[BarCourse],
    loaded: LoadedArmature,
) -> Armature:
    lighter = filling.mass_kg.low / filling.mass_kg.value
    heavier = filling.mass_kg.high / filling.mass_kg.value

    def under_weight(value: float, unit: str, how: str) -> Amount:
        # Stress and sag rise with the weight, whose range is that of the filling.
        return Amount(
            value=value,
            low=value * lighter,
            high=value * heavier,
            unit=unit,
            how=how,
            source=_BEAM_SOURCE,
        )

    handling = rules.limit("handling factor (times)")
    bars = []
    for course in courses:
        of_bar = [arm for arm in loaded.arms.values() if arm.bar == course.name]
        item = loaded.stock[course.name]
        stress = max(loaded.stress_mpa(arm) for arm in of_bar)
        free = [arm for arm in of_bar if _hangs_free(arm)]
        sags = [(loaded.sag_mm(arm)[0], _reach(arm)) for arm in free]
        sag, reach = max(sags, key=lambda found: found[0] / found[1], default=(0.0, 0.0))
        pieces = bent_pieces(course, item, rules)
        bars.append(
            BarChosen(
                course=course,
                stock=item,
                pieces=pieces,
                mass_kg=_per_m(item) * 1e-9 * sum(piece.cut_mm for piece in pieces),
                stress=under_weight(
                    handling * stress,
                    "MPa",
                    f"bending, twisting and pressure under {handling:g} times the weight",
                ),
                allowed_mpa=item.yield_strength_mpa / rules.limit("safety factor on yield (times)"),
                sag=under_weight(sag, "mm", "bending of the bar and of all that carries it"),
                sag_allowed_mm=reach / rules.limit("tip deflection (1 in)"),
                knock=under_weight(
                    knock_on(loaded, course, rules),
                    "MPa",
                    f"weight and {rules.limit('knock at a tip (N)'):g} N at the worst tip",
                ),
            )
        )
    steel = sum(bar.mass_kg for bar in bars)
    times = min(
        _buckling_n(bar.stock, float(bar.course.points_mm()[-1][2]))
        for bar in bars
        if bar.course.kind == "leg"
    ) / (handling * loaded.leg_share_n())
    total = filling.mass_kg.value + steel
    steel_centre = _centre_of_bars(bars)
    height = float(figure.size_mm[2])
    push = None
    if height >= _FREE_STANDING_MM:
        newton = rules.limit("push (N)")
        at = min(rules.limit("push height (mm)"), height)
        push = under_weight(
            loaded.push_mpa(newton, at),
            "MPa",
            f"weight and a push of {newton:g} N at {at:.0f} mm, shared by the legs",
        )
    return Armature(
        bars=tuple(bars),
        steel_kg=steel,
        mass_kg=Amount(
            value=total,
            low=filling.mass_kg.low + steel,
            high=filling.mass_kg.high + steel,
            unit="kg",
            how="filling and armature",
            source=filling.mass_kg.source,
        ),
        centre_mm=np.asarray(
            (filling.centre_mm * filling.mass_kg.value + steel_centre * steel) / total
        ),
        buckling_times=Amount(
            value=times,
            low=times / heavier,
            high=times / lighter,
            unit="times",
            how="Euler's load of a leg fixed below and free above, over its share of the weight",
            source=_BEAM_SOURCE,
        ),
        push=push,
        caveats=_caveats(bars, times, push, rules),
    )


def _centre_of_bars(bars: Sequence[BarChosen]) -> Draws:
    middles, masses = [], []
    for bar in bars:
        for run in bar.course.runs:
            middles.append((run.start_mm + run.end_mm) / 2)
            masses.append(_per_m(bar.stock) * run.length_mm)
    return np.asarray(np.average(middles, axis=0, weights=masses))


def _caveats(
    bars: Sequence[BarChosen], times: float, push: Amount | None, rules: BuildRules
) -> tuple[Caveat, ...]:
    found = [
        Caveat(
            code="armature by beams",
            text="Stresses hold for sound bars and stiff joints. A figure that people stand beside"
            " is checked by a licensed structural engineer under the local code.",
        )
    ]
    weak = [
        bar
        for bar in bars
        if bar.stress.value > bar.allowed_mpa
        or bar.knock.value > bar.stock.yield_strength_mpa
        or (bar.course.kind == "leg" and times < rules.limit("safety factor on buckling (times)"))
    ]
    if weak:
        found.append(
            Caveat(
                code="armature too weak",
                text="No stock that fits inside the flesh is strong enough for: "
                + ", ".join(f"{bar.course.name} ({bar.stock.stock_id})" for bar in weak)
                + ". Add stronger stock, a lighter filling, or a hidden support.",
            )
        )
    limp = [bar for bar in bars if bar.sag.value > bar.sag_allowed_mm > 0]
    if limp:
        found.append(
            Caveat(
                code="armature sinks",
                text="The tip sinks by more than the limit: "
                + ", ".join(
                    f"{bar.course.name} by {bar.sag.value:.1f} mm (allowed"
                    f" {bar.sag_allowed_mm:.1f})"
                    for bar in limp
                )
                + ". Support it while it is built, or allow more.",
            )
        )
    legs = [bar for bar in bars if bar.course.kind == "leg"]
    if push is not None and push.value > min(bar.stock.yield_strength_mpa for bar in legs):
        found.append(
            Caveat(
                code="push bends the legs",
                text=f"A push of {rules.limit('push (N)'):g} N at the top bends the legs for good"
                f" ({push.value:.0f} MPa). Keep visitors away from it, or stiffen the legs.",
            )
        )
    return tuple(found)
