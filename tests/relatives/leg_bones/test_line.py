import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.line import (
    fit_line,
    leave_one_out_residuals,
    leave_one_out_studentised,
    predict,
    prediction_interval,
    predictive_draws,
)


@pytest.fixture
def points():
    rng = np.random.default_rng(5)
    x = rng.uniform(1.0, 4.0, 12)
    return x, 0.5 + 2.4 * x + rng.normal(0.0, 0.2, 12)


def test_leave_one_out_residuals_are_those_of_refitting_without_each_point(points) -> None:
    x, y = points
    closed = leave_one_out_residuals(fit_line(x, y))
    for left_out in range(len(x)):
        others = np.arange(len(x)) != left_out
        refitted = fit_line(x[others], y[others])
        assert closed[left_out] == pytest.approx(y[left_out] - predict(refitted, x[left_out]))


def test_a_studentised_residual_is_within_t_just_where_the_refitted_interval_holds(points) -> None:
    x, y = points
    studentised = leave_one_out_studentised(fit_line(x, y))
    for level in (0.5, 0.8, 0.95):
        for left_out in range(len(x)):
            others = np.arange(len(x)) != left_out
            low, high = prediction_interval(
                fit_line(x[others], y[others]), x[left_out], level=level
            )
            limit = stats.t.ppf((1 + level) / 2, len(x) - 3)
            assert (abs(studentised[left_out]) <= limit) == (low <= y[left_out] <= high)


def test_predictive_draws_at_a_fixed_point_have_the_t_prediction_interval(points) -> None:
    line = fit_line(*points)
    at = 5.5
    rng = np.random.default_rng(11)
    n = 200_000
    draws = predictive_draws(line, np.full(n, at), scatter=rng.standard_normal(n), rng=rng)
    for level in (0.5, 0.95):
        exact = prediction_interval(line, np.array(at), level=level)
        drawn = np.quantile(draws, [(1 - level) / 2, (1 + level) / 2])
        # Five standard errors of a quantile of that many draws.
        spread = line.residual_sd * 5 * np.sqrt(0.025 * 0.975 / n) / 0.04
        assert drawn == pytest.approx(np.array(exact), abs=spread)
    # The whole distribution is that of the classical interval (Kolmogorov-Smirnov).
    half = prediction_interval(line, np.array(at), level=0.95)[1] - predict(line, np.array(at))
    scale = half / stats.t.ppf(0.975, line.degrees_of_freedom)
    standard = (draws - predict(line, np.array(at))) / scale
    assert stats.kstest(standard, stats.t(line.degrees_of_freedom).cdf).pvalue > 0.001


def test_a_line_through_points_on_it_has_no_residuals() -> None:
    x = np.array([1.0, 2.0, 3.0, 4.0])
    line = fit_line(x, 1 + 2 * x)
    assert (line.slope, line.intercept, line.r_squared) == pytest.approx((2.0, 1.0, 1.0))
    assert np.all(leave_one_out_studentised(line) == 0)


@pytest.mark.parametrize(("n", "error"), [(2, NotEnoughEvidence), (4, OutsideRange)])
def test_too_few_or_equal_points_have_no_line(n, error) -> None:
    with pytest.raises(error):
        fit_line(np.full(n, 3.0), np.arange(n, dtype=float))


@given(st.floats(-1e3, 1e3), st.floats(0.01, 100.0), st.floats(-1e3, 1e3), st.floats(0.01, 100.0))
def test_moving_and_stretching_the_axes_moves_and_stretches_the_line(
    move_x, stretch_x, move_y, stretch_y
) -> None:
    rng = np.random.default_rng(5)
    x = rng.uniform(1.0, 4.0, 12)
    y = 0.5 + 2.4 * x + rng.normal(0.0, 0.2, 12)
    before = fit_line(x, y)
    after = fit_line(move_x + stretch_x * x, move_y + stretch_y * y)
    assert after.slope == pytest.approx(before.slope * stretch_y / stretch_x, rel=1e-6)
    assert after.r_squared == pytest.approx(before.r_squared, rel=1e-6)
    assert after.leverages == pytest.approx(before.leverages, rel=1e-5)
