import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.movement.gait import (
    froude_number,
    speed_at_froude,
    speed_from_stride,
    stride_from_speed,
)

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
GRAVITY = 9.80665


def one(value: float) -> np.ndarray:
    return np.array([value])


def test_the_worked_example_comes_out_as_printed() -> None:
    row = SOURCE["worked_example"]
    hip, stride = float(row["hip_height_m"]), float(row["stride_m"])
    speed = float(speed_from_stride(one(stride), one(hip))[0])
    assert speed == pytest.approx(float(row["speed_m_per_s"]), abs=0.5)
    assert 3.6 * speed == pytest.approx(float(row["speed_km_per_h"]), abs=0.05)
    assert stride / hip == pytest.approx(float(row["relative_stride"]), abs=0.05)


def test_the_running_example_comes_out_as_recomputed() -> None:
    row = SOURCE["running_example"]
    hip, stride = float(row["hip_height_m"]), float(row["stride_m"])
    assert stride / hip == pytest.approx(float(row["relative_stride"]), abs=0.05)
    with_their_gravity = np.sqrt(float(row["gravity_m_per_s2"]) / GRAVITY)
    assert with_their_gravity * speed_from_stride(one(stride), one(hip))[0] == pytest.approx(
        float(row["speed_m_per_s"]), abs=0.0005
    )


def test_the_equivalent_form_gives_the_same_speed_within_rounding_of_its_powers() -> None:
    row = SOURCE["equivalent_form"]
    hip, speed = 0.5, 2.0
    relative = float(row["factor"]) * (speed**2 / (GRAVITY * hip)) ** float(row["power"])
    assert speed_from_stride(one(relative * hip), one(hip))[0] == pytest.approx(speed, rel=0.02)


def test_walking_turns_to_running_at_the_printed_relative_speed() -> None:
    row = SOURCE["walk_to_run"]
    hip = 1.3
    speed = float(speed_at_froude(float(row["froude"]), one(hip))[0])
    assert speed / np.sqrt(GRAVITY * hip) == pytest.approx(float(row["relative_speed"]), abs=0.05)
    assert froude_number(one(speed), one(hip))[0] == pytest.approx(float(row["froude"]))


def test_stride_and_speed_turn_each_other_round() -> None:
    hip = np.array([0.3, 0.6, 1.2])
    stride = np.array([0.5, 1.5, 4.0])
    np.testing.assert_allclose(stride_from_speed(speed_from_stride(stride, hip), hip), stride)
