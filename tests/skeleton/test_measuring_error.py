import numpy as np
import pytest
from scipy.optimize import nnls

from bonewright.skeleton.bones import join_casts
from bonewright.skeleton.measuring_error import measuring_error, neither_below_zero
from bonewright.skeleton.reduction import bone_values


def error_of(flock):
    values = bone_values(flock.measurements, join_casts(flock.specimens))
    return values, measuring_error(values)


def test_errors_within_and_between_observers_are_told_apart(flock) -> None:
    rng = np.random.default_rng(1)
    habit = {"A": 0.6, "B": -0.6}
    for number in range(200):
        bone = flock.bone("femur", {}, individual_id=f"i{number}")
        size = rng.normal(100.0, 5.0)
        for observer, off in habit.items():
            for _ in range(2):
                flock.measure(bone, "GL", size + off + rng.normal(0.0, 0.2), observer)
    _, error = error_of(flock)
    assert error.within_percent == pytest.approx(0.2, rel=0.1)
    # Two observers 1.2 mm apart: sqrt(1.2^2 / 2), and half the variance of a reading.
    assert error.between_percent == pytest.approx(np.sqrt(0.72 + 0.02), rel=0.05)
    (bias,) = error.biases
    assert (bias.first, bias.second, bias.flagged) == ("A", "B", True)
    assert bias.low_percent < 1.2 < bias.high_percent


def test_observers_with_the_same_habits_are_not_accused(flock) -> None:
    rng = np.random.default_rng(2)
    for number in range(60):
        bone = flock.bone("femur", {}, individual_id=f"i{number}")
        size = rng.normal(100.0, 5.0)
        for observer in "AB":
            flock.measure(bone, "GL", size + rng.normal(0.0, 0.3), observer)
    _, error = error_of(flock)
    assert [bias.flagged for bias in error.biases] == [False]


def test_reliability_is_the_share_of_variance_that_is_bones(flock) -> None:
    rng = np.random.default_rng(3)
    for number in range(400):
        bone = flock.bone("femur", {}, individual_id=f"i{number}")
        size = rng.normal(100.0, 2.0)
        for _ in range(2):
            flock.measure(bone, "GL", size + rng.normal(0.0, 1.0))
    _, error = error_of(flock)
    # Means of two readings vary by 4 + 1/2; one reading errs by 1.
    assert error.reliability == pytest.approx(1 - 1 / 4.5, abs=0.03)


def test_small_breadths_carry_a_larger_relative_error_than_lengths(flock) -> None:
    rng = np.random.default_rng(4)
    for number in range(40):
        bone = flock.bone("femur", {}, individual_id=f"i{number}")
        for code, size in (("GL", 170.0), ("SC", 4.0)):
            for _ in range(2):
                flock.measure(bone, code, size + rng.normal(0.0, 0.1))
    values, error = error_of(flock)
    expected = {"GL": 0.1 / 170 / np.sqrt(2), "SC": 0.1 / 4 / np.sqrt(2)}
    for code, share in expected.items():
        found = error.relative_error(next(value for value in values if value.code == code))
        assert found == pytest.approx(share, rel=0.2)


def test_without_repeats_the_division_of_the_instrument_is_the_least_error(flock) -> None:
    flock.bone("femur", {"GL": 10.0})
    values, error = error_of(flock)
    assert error.total_percent is None
    assert error.relative_error(values[0]) == pytest.approx(0.1 / np.sqrt(12) / 10)


def test_two_unknowns_not_below_zero_are_those_of_the_general_solver() -> None:
    rng = np.random.default_rng(6)
    seen = set()
    for _ in range(200):
        parts = np.abs(rng.normal(size=(12, 2)))
        wanted = parts @ rng.normal(size=2) + rng.normal(size=12)
        reference = nnls(parts, wanted)[0]
        seen.add(tuple(reference > 0))
        assert neither_below_zero(parts, wanted) == pytest.approx(reference, abs=1e-9)
    assert len(seen) == 4
