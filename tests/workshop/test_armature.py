"""The armature keeps its limits, carries all the weight, and can be bent as told."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from bonewright.study.workshop_defaults import BUILD_LIMITS, BUILD_MATERIALS, FEATHER_TRACTS, STOCK
from bonewright.study.workshop_rows import StockItem
from bonewright.workshop.armature import Armature, armature_of
from bonewright.workshop.armature_loads import GRAVITY, LoadedArmature, arms_of
from bonewright.workshop.bending import bent_pieces
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import filling_of
from bonewright.workshop.straight_runs import BarCourse, StraightRun, bar_courses


def rules_with(stock: tuple[StockItem, ...] = STOCK, **limits: float) -> BuildRules:
    known = {limit.limit: limit for limit in BUILD_LIMITS}
    for name, value in limits.items():
        word = next(limit for limit in known if limit.startswith(name.replace("_", " ")))
        known[word] = replace(known[word], value=value)
    return BuildRules(
        stock=stock,
        materials=BUILD_MATERIALS,
        tracts={tract.segment: tract for tract in FEATHER_TRACTS},
        limits=known,
    )


@pytest.fixture(scope="module")
def rules() -> BuildRules:
    return rules_with()


@pytest.fixture(scope="module")
def quarter(naked: FigureToBuild) -> FigureToBuild:
    return naked.at_scale(4)


@pytest.fixture(scope="module")
def armature(quarter: FigureToBuild, rules: BuildRules) -> Armature:
    return armature_of(quarter, filling_of(quarter, "clay", rules), rules)


def test_every_bar_keeps_the_limits_on_stress_sag_knock_and_cover(
    armature: Armature, rules: BuildRules
) -> None:
    for bar in armature.bars:
        assert bar.stress.value <= bar.allowed_mpa
        assert bar.knock.value <= bar.stock.yield_strength_mpa
        assert bar.sag.value <= bar.sag_allowed_mm or bar.sag.value == 0
        rooms = [run.room_mm for run in bar.course.runs if run.room_mm is not None]
        assert bar.stock.diameter_mm <= 2 * min(rooms) * (1 - rules.limit("cover (%)") / 100)
    assert armature.buckling_times.low > rules.limit("safety factor on buckling (times)")
    assert [caveat.code for caveat in armature.caveats] == ["armature by beams"]


def test_left_and_right_are_of_the_same_stock(armature: Armature) -> None:
    stock = {bar.course.name: bar.stock.stock_id for bar in armature.bars}
    for name, item in stock.items():
        if name.startswith("left "):
            assert stock[name.replace("left", "right")] == item


def test_the_legs_carry_the_whole_weight_but_for_what_lies_on_the_ground(
    quarter: FigureToBuild, rules: BuildRules, armature: Armature
) -> None:
    filling = filling_of(quarter, "clay", rules)
    courses = [bar.course for bar in armature.bars]
    grounded = frozenset(s.label for s in quarter.segments if s.on_ground)
    weights = {
        s.label: (filling.mass_of(s.label), s.centre_mm)
        for s in quarter.segments
        if s.own is not None
    }
    stock = {bar.course.name: bar.stock for bar in armature.bars}
    loaded = LoadedArmature(arms_of(courses, grounded), weights, stock)
    on_feet = sum(mass for label, (mass, _) in weights.items() if label not in grounded)
    steel = 0.0
    for bar in armature.bars:
        if bar.course.kind == "hung" and bar.course.runs[-1].segment in grounded:
            continue
        length = sum(run.length_mm for run in bar.course.runs)
        steel += bar.mass_kg * length / sum(piece.cut_mm for piece in bar.pieces)
    assert 2 * loaded.leg_share_n() == pytest.approx(GRAVITY * (on_feet + steel), rel=2e-3)


def test_the_bars_join_the_joint_centres_of_the_figure(
    quarter: FigureToBuild, armature: Armature
) -> None:
    leg = next(bar.course for bar in armature.bars if bar.course.name == "left leg")
    joints = {joint.name: joint.at_mm for joint in quarter.joints.values()}
    corners = leg.points_mm()
    for name, corner in zip(
        ("left middle toe joint", "left ankle", "left knee", "left hip"), corners[1:], strict=True
    ):
        assert corner == pytest.approx(joints[name])
    assert corners[0][2] == pytest.approx(-(18.0 + 25.0))


def test_a_heavier_filling_makes_the_bars_no_thinner(
    naked: FigureToBuild, rules: BuildRules
) -> None:
    def section(fill: str) -> float:
        bars = armature_of(naked, filling_of(naked, fill, rules), rules).bars
        leg = next(bar for bar in bars if bar.course.name == "left leg")
        return leg.stress.value * leg.stock.diameter_mm**3

    assert section("clay") > section("clay on foam") > section("cast shell")


def test_stock_too_weak_is_chosen_only_with_a_warning(quarter: FigureToBuild) -> None:
    thin = tuple(item for item in STOCK if item.stock_id == "aluminium wire 1")
    rules = rules_with(thin)
    weak = armature_of(quarter, filling_of(quarter, "clay", rules), rules)
    assert {"armature too weak", "armature sinks"} <= {caveat.code for caveat in weak.caveats}


def course(points: list[tuple[float, float, float]]) -> BarCourse:
    corners = [np.array(point, dtype=float) for point in points]
    runs = tuple(
        StraightRun(
            name=f"j{n} to j{n + 1}",
            segment="s",
            start_mm=start,
            end_mm=end,
            length95_mm=(0.0, 0.0),
            room_mm=None,
        )
        for n, (start, end) in enumerate(itertools.pairwise(corners))
    )
    return BarCourse(
        name="bar",
        kind="hung",
        side="middle",
        runs=runs,
        joined=(True, False),
        hangs_on=None,
        joint_mm=corners[0],
        free_tip=True,
    )


def test_a_right_angle_saves_what_the_arc_cuts_off_the_corner(rules: BuildRules) -> None:
    bar = next(item for item in STOCK if item.stock_id == "mild steel bar 4")
    (piece,) = bent_pieces(course([(0, 0, 0), (100, 0, 0), (100, 80, 0)]), bar, rules)
    radius, overlap = 2.5 * 4.0, 24.0
    saved = 2 * radius - radius * np.pi / 2
    assert piece.saved_mm == pytest.approx(saved)
    assert piece.cut_mm == np.ceil(180 + overlap - saved)
    (bend,) = piece.bends
    assert bend.angle_deg == pytest.approx(90.0)
    assert bend.turn_deg == 0.0
    # The arc's middle lies half an arc beyond where the straight ends.
    assert bend.mark_mm == pytest.approx(overlap + 100 - radius + radius * np.pi / 4)


def test_a_bend_out_of_the_plane_says_how_far_the_bar_is_turned(rules: BuildRules) -> None:
    bar = next(item for item in STOCK if item.stock_id == "mild steel bar 4")
    flat = bent_pieces(course([(0, 0, 0), (99, 0, 0), (99, 99, 0), (0, 99, 0)]), bar, rules)
    step = bent_pieces(course([(0, 0, 0), (99, 0, 0), (99, 99, 0), (99, 99, 99)]), bar, rules)
    back = bent_pieces(course([(0, 0, 0), (99, 0, 0), (99, 99, 0), (200, 99, 0)]), bar, rules)
    assert flat[0].bends[1].turn_deg == pytest.approx(0.0)
    assert abs(step[0].bends[1].turn_deg) == pytest.approx(90.0)
    assert abs(back[0].bends[1].turn_deg) == pytest.approx(180.0)


def test_a_bend_too_sharp_for_its_runs_is_made_by_joining_two_pieces(rules: BuildRules) -> None:
    bar = next(item for item in STOCK if item.stock_id == "mild steel bar 20")
    pieces = bent_pieces(course([(0, 0, 0), (60, 0, 0), (60, 60, 0)]), bar, rules)
    assert len(pieces) == 2
    assert pieces[0].allowance_mm == (120.0, 120.0)
    assert pieces[1].allowance_mm == (120.0, 0.0)


def test_runs_of_a_figure_at_another_scale_are_in_proportion(naked: FigureToBuild) -> None:
    whole = bar_courses(naked, below_ground_mm=40.0)
    half = bar_courses(naked.at_scale(2), below_ground_mm=20.0)
    for one, other in zip(whole, half, strict=True):
        assert other.points_mm() * 2 == pytest.approx(one.points_mm(), abs=1e-9)


def test_tube_is_bent_less_sharply_than_bar(rules: BuildRules) -> None:
    corner = course([(0, 0, 0), (200, 0, 0), (200, 200, 0)])
    bar = next(item for item in STOCK if item.stock_id == "mild steel bar 16")
    tube = next(item for item in STOCK if item.stock_id == "steel tube 16 x 1.5")
    assert bent_pieces(corner, bar, rules)[0].radius_mm == 2.5 * 16
    assert bent_pieces(corner, tube, rules)[0].radius_mm == 4.5 * 16
