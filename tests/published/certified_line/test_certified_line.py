"""Tolerance: 1e-11 of the certified value, four digits short of the printed 15: the sums of
double-precision numbers cannot promise the last ones.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.line import fit_line

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
LINE = fit_line(np.array(SOURCE["data"]["x"]), np.array(SOURCE["data"]["y"]))


@pytest.mark.parametrize(
    "name", ["intercept", "intercept_se", "slope", "slope_se", "residual_sd", "r_squared"]
)
def test_the_line_agrees_with_the_certified_value_to_eleven_digits(name) -> None:
    certified = float(SOURCE["certified"][name])
    assert getattr(LINE, name) == pytest.approx(certified, rel=1e-11)


def test_the_degrees_of_freedom_are_the_certified_ones() -> None:
    assert LINE.degrees_of_freedom == SOURCE["certified"]["degrees_of_freedom"]
