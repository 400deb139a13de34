import numpy as np
import pytest
from scipy import stats

from bonewright.movement.bounds import comparison_bounds

INDICATORS = [16.0, 18.5, 22.0, 25.0, 27.5, 31.0, 36.0, 40.0]


def test_the_range_is_the_least_and_the_greatest() -> None:
    assert comparison_bounds(INDICATORS, "range") == pytest.approx((16.0, 40.0))


def test_the_t_interval_is_that_of_one_more_animal() -> None:
    values = np.log(INDICATORS)
    half = stats.t.ppf(0.975, 7) * values.std(ddof=1) * np.sqrt(1 + 1 / 8)
    expected = np.exp([values.mean() - half, values.mean() + half])
    assert comparison_bounds(INDICATORS, "t-interval") == pytest.approx(tuple(expected))


def test_the_kernel_bounds_leave_a_fortieth_on_either_side() -> None:
    low, high = comparison_bounds(INDICATORS, "kernel density")
    values = np.log(INDICATORS)
    quartiles = np.quantile(values, [0.25, 0.75])
    width = 0.9 * min(values.std(ddof=1), np.diff(quartiles)[0] / 1.349) * 8**-0.2
    for bound, share in ((low, 0.025), (high, 0.975)):
        assert np.mean(stats.norm.cdf(np.log(bound), values, width)) == pytest.approx(share)


def test_the_t_interval_holds_one_more_animal_19_times_in_20() -> None:
    rng = np.random.default_rng(4)
    inside = 0
    for _ in range(2000):
        animals = np.exp(rng.normal(3, 0.3, 7))
        low, high = comparison_bounds(list(animals[:6]), "t-interval")
        inside += low <= animals[6] <= high
    assert inside / 2000 == pytest.approx(0.95, abs=0.015)


def test_alike_animals_have_bounds_too() -> None:
    for rule in ("range", "t-interval", "kernel density"):
        assert comparison_bounds([20.0, 20.0, 20.0], rule) == pytest.approx((20, 20))  # type: ignore[arg-type]
