"""Distances between points of the body, in every imagined world."""

import numpy as np
import pytest

from bonewright.body.grown import GrownBody
from bonewright.body.points_on_body import (
    BodyPoint,
    bone_between,
    distance_draws_mm,
    named_points,
    point_at,
)


@pytest.fixture
def points(bird: GrownBody) -> dict[str, BodyPoint]:
    return {point.name: point for point in named_points(bird)}


def test_hip_and_knee_are_a_femur_apart_in_every_world(
    bird: GrownBody, points: dict[str, BodyPoint]
) -> None:
    for side in ("left", "right"):
        hip, knee = points[f"{side} hip"], points[f"{side} knee"]
        assert bone_between(bird, hip, knee) == ("femur", "GL")
        assert bone_between(bird, knee, hip) == ("femur", "GL")
        found = distance_draws_mm(bird, hip, knee)
        np.testing.assert_allclose(found, bird.lofts["thigh"].length_mm, rtol=1e-9)
    assert bone_between(bird, points["left hip"], points["right knee"]) is None
    assert bone_between(bird, points["left hip"], points["left ankle"]) is None


def test_both_of_a_pair_stand_alike_beside_the_middle(points: dict[str, BodyPoint]) -> None:
    left, right = points["left knee"].at_mm, points["right knee"].at_mm
    np.testing.assert_allclose(left * [1, -1, 1], right)
    assert left[1] > 0


def test_a_point_pointed_at_where_a_named_one_stands_measures_as_that_one_does(
    bird: GrownBody, points: dict[str, BodyPoint]
) -> None:
    ankle, head = points["right ankle"], points["head joint"]
    named = distance_draws_mm(bird, ankle, head)
    pointed = distance_draws_mm(bird, point_at(bird, ankle.at_mm), head)
    # The joint of two segments may hang on either.
    np.testing.assert_allclose(pointed, named, rtol=0.02)


def test_the_middle_distance_of_two_points_of_space_is_their_distance(bird: GrownBody) -> None:
    first, second = np.array([40.0, 30.0, 300.0]), np.array([-60.0, 20.0, 320.0])
    found = distance_draws_mm(bird, point_at(bird, first), point_at(bird, second))
    assert np.median(found) == pytest.approx(np.linalg.norm(first - second), rel=0.02)
    assert np.std(found) > 0
