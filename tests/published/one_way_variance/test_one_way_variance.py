"""The technical error of measurement is the within-group component of variance.

Tolerance: 1e-12 relative against the certified standard deviation, whose data carry seven
digits; 1e-4 against the mixed model, which stops its search about there.
"""

import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from bonewright.skeleton.variation import technical_error

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
READINGS = [values for name, values in SOURCE["data"].items() if name != "unit"]


def test_five_readings_each_have_the_certified_residual_standard_deviation() -> None:
    certified = float(SOURCE["certified"]["residual_sd"])
    assert technical_error(READINGS) == pytest.approx(certified, rel=1e-12)


def test_the_other_certified_values_follow_from_it() -> None:
    values = np.array(READINGS)
    within = technical_error(READINGS)
    assert within is not None
    between = 5 * np.var(values.mean(axis=1), ddof=1)
    assert between / within**2 == pytest.approx(
        float(SOURCE["certified"]["f_statistic"]), rel=1e-12
    )
    squares = 20 * within**2
    assert 4 * between / (4 * between + squares) == pytest.approx(
        float(SOURCE["certified"]["r_squared"]), rel=1e-12
    )


def components(readings):
    """Variances between bones and within them, by the library's mixed model."""
    rows = pd.DataFrame(
        [(bone, value) for bone, of in enumerate(readings) for value in of],
        columns=["bone", "value"],
    )
    model = MixedLM(rows["value"], np.ones((len(rows), 1)), groups=rows["bone"])
    fitted = model.fit(reml=True)
    return float(fitted.cov_re.iloc[0, 0]), float(fitted.scale)


def bones(rng, n, readings):
    length = rng.normal(160, 8, n)
    return [list(mm + rng.normal(0, 0.8, int(k))) for mm, k in zip(length, readings, strict=True)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_error_and_reliability_agree_with_a_mixed_model(seed) -> None:
    rng = np.random.default_rng(seed)
    readings = bones(rng, 30, np.full(30, 3))
    between, within = components(readings)
    error = technical_error(readings)
    assert error is not None
    assert error**2 == pytest.approx(within, rel=1e-4)
    # Of the means of three readings, a third of the error's variance is left in SD^2.
    spread = np.var([np.mean(of) for of in readings], ddof=1)
    assert spread - error**2 / 3 == pytest.approx(between, rel=1e-3)


def test_with_uneven_repeats_it_lies_within_two_per_cent_of_the_mixed_model() -> None:
    # Restricted likelihood also uses bones measured once; the two differ where repeats do.
    rng = np.random.default_rng(4)
    readings = bones(rng, 60, rng.integers(1, 5, 60))
    error = technical_error(readings)
    assert error is not None
    assert error == pytest.approx(np.sqrt(components(readings)[1]), rel=0.02)
