import tomllib
import warnings
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.line import (
    fit_line,
    leave_one_out_studentised,
    mean_interval,
    predict,
    prediction_interval,
)
from bonewright.relatives.retransformation import correction_factor

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def penguins():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the data package warns of its own way of loading
        palmerpenguins = pytest.importorskip("palmerpenguins")
        table = palmerpenguins.load_penguins()
    table = table.dropna(subset=["flipper_length_mm", "body_mass_g"])
    return table["flipper_length_mm"].to_numpy(float), table["body_mass_g"].to_numpy(float)


@pytest.fixture(scope="module")
def reference(penguins):
    linear_model = pytest.importorskip("statsmodels.regression.linear_model")
    flipper_mm, mass_g = penguins
    return linear_model.OLS(mass_g, np.column_stack([np.ones(len(mass_g)), flipper_mm])).fit()


def test_the_line_agrees_with_the_reference_library(penguins, reference) -> None:
    line = fit_line(*penguins)
    assert line.n == SOURCE["raw"]["n"]
    assert [line.intercept, line.slope] == pytest.approx(reference.params, rel=1e-10)
    assert [line.intercept_se, line.slope_se] == pytest.approx(reference.bse, rel=1e-10)
    assert line.covariance == pytest.approx(reference.cov_params()[0, 1], rel=1e-9)
    assert line.r_squared == pytest.approx(reference.rsquared, rel=1e-10)
    assert line.residual_sd**2 == pytest.approx(reference.mse_resid, rel=1e-10)


def test_both_intervals_agree_with_the_reference_library(penguins, reference) -> None:
    line = fit_line(*penguins)
    at_mm = np.array([160.0, 200.0, 250.0])
    theirs = reference.get_prediction(np.column_stack([np.ones(3), at_mm]))
    assert np.column_stack(prediction_interval(line, at_mm)) == pytest.approx(
        theirs.conf_int(obs=True, alpha=0.05), rel=1e-9
    )
    assert np.column_stack(mean_interval(line, at_mm, level=0.5)) == pytest.approx(
        theirs.conf_int(obs=False, alpha=0.5), rel=1e-9
    )


def test_leverages_and_studentised_residuals_agree_with_the_reference_library(
    penguins, reference
) -> None:
    line, influence = fit_line(*penguins), reference.get_influence()
    assert line.leverages == pytest.approx(influence.hat_matrix_diag, rel=1e-9)
    assert leave_one_out_studentised(line) == pytest.approx(
        influence.resid_studentized_external, rel=1e-8, abs=1e-9
    )


def test_the_line_agrees_with_the_second_reference(penguins) -> None:
    line, raw = fit_line(*penguins), SOURCE["raw"]
    at = np.array(float(raw["at_mm"]))
    for ours, theirs in (
        (line.intercept, raw["intercept_g"]),
        (line.intercept_se, raw["intercept_se_g"]),
        (line.slope, raw["slope_g_per_mm"]),
        (line.slope_se, raw["slope_se_g_per_mm"]),
        (line.residual_sd, raw["residual_sd_g"]),
        (line.r_squared, raw["r_squared"]),
        (predict(line, at), raw["line_g"]),
        (prediction_interval(line, at)[0], raw["prediction_95_g"][0]),
        (prediction_interval(line, at)[1], raw["prediction_95_g"][1]),
        (mean_interval(line, at)[0], raw["mean_95_g"][0]),
        (mean_interval(line, at)[1], raw["mean_95_g"][1]),
    ):
        assert ours == pytest.approx(float(theirs), rel=1e-9)


@pytest.mark.parametrize("name", ["lognormal", "smearing", "ratio"])
def test_the_corrections_on_logarithms_agree_with_the_second_reference(penguins, name) -> None:
    flipper_ln, mass_ln = (np.log(values) for values in penguins)
    line = fit_line(flipper_ln, mass_ln)
    factor = correction_factor(
        name, observed_ln=mass_ln, residual_ln=line.residuals, sd_ln=line.residual_sd
    )
    assert factor == pytest.approx(float(SOURCE["corrections_log10"][name]), rel=1e-9)
