"""How well a measurement predicts: each relative in turn left out and predicted."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from bonewright.relatives.line import (
    LineFit,
    fit_line,
    leave_one_out_residuals,
    leave_one_out_studentised,
    predict,
    prediction_interval,
)
from bonewright.relatives.retransformation import correction_factor, mass_kg_of

__all__ = ["Trial", "least_error", "leave_one_out_trial", "predict_one_species"]

Array = NDArray[np.float64]

ENOUGH_TO_CHOOSE = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """Result of predicting every species from the others.

    ``error_percent`` is the median of 100 |observed - predicted| / predicted, kg after
    correction; ``coverage_percent`` how many of the species the 95 % intervals held;
    ``rms_ln`` the root mean square of the errors of ln mass, steadier than a median and so
    what measurements are compared by.
    """

    n_species: int
    rms_ln: float
    error_percent: float
    coverage_percent: float


def leave_one_out_trial(bone_ln: Array, mass_ln: Array, *, correction: str) -> Trial:
    """Predict every species from the line, and the correction, of all others.

    Needs at least four species. Sources of the percent prediction error: [Smith1984]_;
    note that it divides by the prediction.
    """
    n = len(bone_ln)
    whole = fit_line(bone_ln, mass_ln)
    predicted_ln = mass_ln - leave_one_out_residuals(whole)
    factors = _factors_without_each(bone_ln, mass_ln, whole, correction=correction)
    predicted, observed = mass_kg_of(predicted_ln) * factors, np.exp(mass_ln)
    errors = 100 * np.abs(observed - predicted) / predicted
    limit = float(stdtrit(whole.degrees_of_freedom - 1, 0.975))
    held = np.abs(leave_one_out_studentised(whole)) <= limit
    return Trial(
        n_species=n,
        rms_ln=float(np.sqrt(np.mean(leave_one_out_residuals(whole) ** 2))),
        error_percent=float(np.median(errors)),
        coverage_percent=100 * float(np.mean(held)),
    )


def _factors_without_each(
    bone_ln: Array, mass_ln: Array, whole: LineFit, *, correction: str
) -> Array:
    """Return the correction of the line without each species, (n_species,)."""
    n = len(bone_ln)
    if correction == "lognormal":
        squares = whole.residual_sd**2 * whole.degrees_of_freedom
        left = np.maximum(squares - whole.residuals**2 / (1 - whole.leverages), 0.0)
        return np.asarray(np.exp(left / (n - 3) / 2))
    factors = np.ones(n)
    for left_out in range(n):
        others = np.arange(n) != left_out
        line = fit_line(bone_ln[others], mass_ln[others])
        factors[left_out] = correction_factor(
            correction,
            observed_ln=mass_ln[others],
            residual_ln=line.residuals,
            sd_ln=line.residual_sd,
        )
    return factors


def least_error(trials: Mapping[tuple[str, str], Trial]) -> tuple[str, str]:
    """Return the measurement with the least ``rms_ln`` among those that enough species have.

    Enough is eight species, and half as many as the commonest measurement has; where none
    reaches that, all compete.
    """
    commonest = max(trial.n_species for trial in trials.values())
    enough = max(ENOUGH_TO_CHOOSE, commonest / 2)
    among = {key: trial for key, trial in trials.items() if trial.n_species >= enough} or trials
    return min(sorted(among), key=lambda key: among[key].rms_ln)


def predict_one_species(
    bone_ln: Array, mass_ln: Array, *, at_bone_ln: float
) -> tuple[float, float, float]:
    """Return low, middle and high (95 %) of one more species' mass, kg."""
    line = fit_line(bone_ln, mass_ln)
    at = np.array(at_bone_ln)
    low, high = prediction_interval(line, at)
    kg = [float(mass_kg_of(edge)) for edge in (low, predict(line, at), high)]
    return kg[0], kg[1], kg[2]
