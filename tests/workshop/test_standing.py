"""Tilt and push agree with the closed forms of boxes; the base keeps the limits."""

import numpy as np
import pytest

from bonewright.study.workshop_defaults import BUILD_LIMITS, BUILD_MATERIALS, FEATHER_TRACTS, STOCK
from bonewright.workshop.armature import armature_of
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import filling_of
from bonewright.workshop.standing import (
    push_to_tip_n,
    room_towards_mm,
    standing_of,
    tilt_to_tip_deg,
)

RULES = BuildRules(
    stock=STOCK,
    materials=BUILD_MATERIALS,
    tracts={tract.segment: tract for tract in FEATHER_TRACTS},
    limits={limit.limit: limit for limit in BUILD_LIMITS},
)
BOX = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 200.0], [0.0, 200.0]])
G = 9.80665


def test_an_even_box_tips_at_the_angle_of_its_half_breadth_over_its_half_height() -> None:
    ways = np.radians([0.0, 90.0, 180.0, 270.0])
    room = room_towards_mm(BOX, np.array([200.0, 100.0]), ways)
    assert room == pytest.approx([200.0, 100.0, 200.0, 100.0])
    tilt = tilt_to_tip_deg(room, 300.0)
    assert tilt == pytest.approx(np.degrees(np.arctan([2 / 3, 1 / 3, 2 / 3, 1 / 3])))


def test_towards_a_corner_a_box_stands_a_steeper_tilt_than_towards_its_near_edge() -> None:
    corner = float(np.arctan2(100.0, 200.0))
    room = room_towards_mm(BOX, np.array([200.0, 100.0]), np.array([corner]))
    assert room == pytest.approx([np.hypot(200.0, 100.0)])


def test_a_box_off_centre_tips_first_over_the_edge_that_is_near() -> None:
    room = room_towards_mm(BOX, np.array([350.0, 100.0]), np.radians([0.0, 180.0]))
    assert room == pytest.approx([50.0, 350.0])


def test_a_centre_beyond_the_edge_has_no_room_left() -> None:
    assert room_towards_mm(BOX, np.array([410.0, 100.0]), np.array([0.0]))[0] < 0


def test_a_push_at_the_top_of_a_box_tips_it_at_half_its_weight_times_breadth_over_height() -> None:
    # W b / 2 = F h
    push = push_to_tip_n(np.array([100.0]), mass_kg=30.0, push_height_mm=600.0)
    assert push == pytest.approx([30.0 * G * 200.0 / (2 * 600.0)])


def test_the_base_keeps_the_limit_of_tilt_and_says_when_a_push_needs_anchors(
    naked: FigureToBuild,
) -> None:
    for scale in (4, 1):
        figure = naked.at_scale(scale)
        armature = armature_of(figure, filling_of(figure, "clay on foam", RULES), RULES)
        standing = standing_of(figure, armature, RULES)
        assert standing.least_tilt.value >= 10.0
        assert standing.tilt_deg.min() == pytest.approx(standing.least_tilt.value)
        assert standing.feet_tilt_deg.min() < standing.tilt_deg.min()
        needs = standing.push_n.min() < 100.0
        assert standing.anchoring.needed == needs
        assert ("anchors needed" in {c.code for c in standing.caveats}) == needs
        # Push and two anchors hold each other about the far edge.
        lever = 0.9 * min(standing.base.size_mm)
        short = (100.0 - standing.push_n.min()) * standing.push_height_mm
        assert 2 * standing.anchoring.pull_n.value * lever == pytest.approx(short)
        pressure = standing.mass_kg.value * G / 1000 / standing.base.area_m2
        assert standing.floor_kn_m2.value == pytest.approx(pressure)


def test_the_crate_holds_figure_and_base_with_clearance_all_round(naked: FigureToBuild) -> None:
    armature = armature_of(naked, filling_of(naked, "cast shell", RULES), RULES)
    standing = standing_of(naked, armature, RULES)
    length, _, height = standing.crate.inside_mm
    assert length >= naked.size_mm[0] + 100.0 - 1e-6
    assert height == pytest.approx(naked.size_mm[2] + 18.0 + 100.0)
    assert standing.crate.lift_kg.value == pytest.approx(
        standing.mass_kg.value + standing.crate.crate_kg.value
    )
    assert standing.crate.people >= standing.crate.lift_kg.value / 25.0
