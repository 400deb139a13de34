import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from bonewright.skeleton.variation import technical_error

READINGS = st.floats(1.0, 500.0)


@given(arrays(float, st.tuples(st.integers(1, 12), st.just(2)), elements=READINGS))
def test_with_two_measures_it_is_the_root_of_the_squared_differences_over_2n(readings) -> None:
    differences = readings[:, 0] - readings[:, 1]
    by_formula = np.sqrt(np.sum(differences**2) / (2 * len(readings)))
    assert technical_error(readings.tolist()) == pytest.approx(by_formula, rel=1e-9, abs=1e-9)


@given(arrays(float, st.tuples(st.integers(1, 8), st.integers(2, 6)), elements=READINGS))
def test_with_k_measures_it_is_the_formula_for_k_measures(readings) -> None:
    n, k = readings.shape
    within = np.sum(readings**2, axis=1) - np.sum(readings, axis=1) ** 2 / k
    by_formula = np.sqrt(max(np.sum(within), 0.0) / (n * (k - 1)))
    # The formula as printed subtracts large squares, which costs it half of its digits.
    assert technical_error(readings.tolist()) == pytest.approx(by_formula, rel=1e-6, abs=1e-3)
