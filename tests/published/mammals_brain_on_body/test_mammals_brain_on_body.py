"""A prediction interval and three retransformation corrections worked on one open data set.

Full-precision values are held to 1e-9, two digits short of what they carry, since another
program's rounding is in them; printed values to half a unit in their last place.
"""

import csv
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.line import fit_line, mean_interval, predict, prediction_interval
from bonewright.relatives.retransformation import correction_factor

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
REFERENCE = Path(
    os.environ.get("BONEWRIGHT_REFERENCE")
    or Path(__file__).resolve().parents[4] / "shared" / "reference"
)
DATA = REFERENCE / "data" / "MASS_mammals.csv"


def half_a_unit(text: str) -> float:
    """Return half a unit in the last printed place."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


@pytest.fixture(scope="module")
def mammals():
    if not DATA.is_file():
        pytest.skip("the open data set mammals is not beside the project (BONEWRIGHT_REFERENCE)")
    with DATA.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return np.array([float(row["body"]) for row in rows]), np.array(
        [float(row["brain"]) for row in rows]
    )


@pytest.fixture(scope="module")
def line_log10(mammals):
    body_kg, brain_g = mammals
    return fit_line(np.log10(body_kg), np.log10(brain_g))


def test_the_line_and_its_errors_agree(line_log10) -> None:
    ols = SOURCE["ols"]
    assert line_log10.n == ols["n"]
    for ours, theirs in (
        (line_log10.slope, ols["slope"]),
        (line_log10.slope_se, ols["slope_se"]),
        (line_log10.intercept, ols["intercept_log10"]),
        (line_log10.intercept_se, ols["intercept_log10_se"]),
        (line_log10.residual_sd, ols["residual_sd_log10"]),
        (line_log10.r_squared, ols["r_squared"]),
    ):
        assert ours == pytest.approx(float(theirs), rel=1e-9)


def test_natural_logarithms_give_the_same_line_in_their_own_unit(mammals) -> None:
    body_kg, brain_g = mammals
    line, natural = fit_line(np.log(body_kg), np.log(brain_g)), SOURCE["ols_natural"]
    for ours, printed in (
        (line.slope, natural["slope"]),
        (line.intercept, natural["intercept_ln"]),
        (line.residual_sd, natural["residual_sd_ln"]),
    ):
        assert ours == pytest.approx(float(printed), abs=half_a_unit(printed))


def test_the_prediction_interval_and_that_of_the_mean_agree(line_log10) -> None:
    worked = SOURCE["prediction_interval"]
    at = np.array(float(worked["at_log10_kg"]))
    assert predict(line_log10, at) == pytest.approx(float(worked["line_log10_g"]), rel=1e-9)
    for ours, theirs in (
        (prediction_interval(line_log10, at), worked["prediction_95_log10_g"]),
        (mean_interval(line_log10, at), worked["mean_95_log10_g"]),
    ):
        assert np.array(ours) == pytest.approx([float(text) for text in theirs], rel=1e-9)


def test_the_prediction_at_100_kg_agrees_as_printed(line_log10) -> None:
    worked = SOURCE["prediction_at_100_kg"]
    low, high = prediction_interval(line_log10, np.array(2.0))
    middle = predict(line_log10, np.array(2.0))
    for ours, printed in (
        (middle, worked["line_log10_g"]),
        (low, worked["prediction_95_log10_g"][0]),
        (high, worked["prediction_95_log10_g"][1]),
        (10**middle, worked["line_g"]),
        (10**low, worked["prediction_95_g"][0]),
        (10**high, worked["prediction_95_g"][1]),
    ):
        assert ours == pytest.approx(float(printed), abs=half_a_unit(printed))


@pytest.mark.parametrize("name", ["lognormal", "smearing", "ratio"])
def test_the_three_corrections_agree(mammals, name) -> None:
    body_kg, brain_g = mammals
    line = fit_line(np.log(body_kg), np.log(brain_g))
    factor = correction_factor(
        name, observed_ln=np.log(brain_g), residual_ln=line.residuals, sd_ln=line.residual_sd
    )
    assert factor == pytest.approx(float(SOURCE["corrections"][name]), rel=1e-9)
