"""The formulas themselves, on numbers small enough to check by hand or by their own law.

Worked numbers of the corrections on open data are in ``mammals_brain_on_body``.
"""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.line import fit_line
from bonewright.relatives.retransformation import lognormal_factor, ratio_factor, smearing_factor

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def test_fits_to_either_base_of_logarithms_give_the_same_lognormal_factor() -> None:
    rng = np.random.default_rng(3)
    bone = rng.uniform(1.0, 3.0, 20)
    mass_ln = 2.4 * bone + rng.normal(0.0, 0.4, 20)
    natural = fit_line(bone, mass_ln).residual_sd
    base_10 = fit_line(bone / math.log(10), mass_ln / math.log(10)).residual_sd
    assert lognormal_factor(natural) == pytest.approx(
        math.exp((base_10 * math.log(10)) ** 2 / 2), rel=1e-12
    )


def test_the_lognormal_factor_is_the_mean_over_the_median_of_a_lognormal() -> None:
    # Simpson's rule over the normal density: an integral the formula does not use.
    sd = 0.6
    z = np.linspace(-12.0, 12.0, 4001)
    weights = np.ones_like(z)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    mean = np.sum(weights * np.exp(sd * z) * density) * (z[1] - z[0]) / 3
    assert lognormal_factor(sd) == pytest.approx(mean, rel=1e-9)


def test_smearing_and_ratio_follow_their_formulas_on_numbers_done_by_hand() -> None:
    # Residuals ln 2 and -ln 2: (2 + 1/2) / 2 = 1.25.
    assert smearing_factor(np.array([math.log(2), -math.log(2)])) == pytest.approx(1.25)
    # Observed 4 and 8 (mean 6), predicted 3 and 5 (mean 4): 6 / 4 = 1.5.
    assert ratio_factor(np.array([4.0, 8.0]), np.array([3.0, 5.0])) == pytest.approx(1.5)


def test_the_printed_factor_belongs_to_the_printed_interval() -> None:
    printed = SOURCE["printed"]
    # s is at most half-width / 1.96, and not below it by more than a tenth: with few dozen
    # specimens t is a little above 1.96 and the leverage a little above zero.
    most = float(printed["half_width_ln"][0]) / 1.96
    factor = float(printed["factor"][0])
    assert lognormal_factor(0.9 * most) - 0.0005 <= factor <= lognormal_factor(most) + 0.0005
