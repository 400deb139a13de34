"""Tolerance: 1e-6, short of the printed eight places. Both programs climb to the same
maximum and stop when near enough; expectation and maximisation stops a little below.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from palmerpenguins import load_penguins
from scipy.optimize import minimize

from bonewright.skeleton.factor_em import fit_one_factor_without_pull, ln_likelihood
from bonewright.skeleton.ln_matrix import LnMatrix

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
SPECIES = sorted(SOURCE["loadings"])


def measured_ln(species):
    whole = load_penguins().dropna()
    return np.log(whole[whole.species == species][SOURCE["codes"]].to_numpy(float))


def table(values, present):
    return LnMatrix(
        rows=tuple(str(number) for number in range(len(values))),
        codes=tuple((f"part {column}", "length") for column in range(values.shape[1])),
        values_ln=values,
        present=present,
        error_sd_ln=np.zeros_like(values),
    )


@pytest.mark.parametrize("species", SPECIES)
def test_one_factor_of_whole_birds_agrees_with_the_statistics_library(species) -> None:
    values = measured_ln(species)
    fitted = fit_one_factor_without_pull(table(values, np.ones_like(values, bool)))
    sd = np.std(values, axis=0)
    printed = np.abs(SOURCE["loadings"][species])
    assert fitted.loading / sd == pytest.approx(printed, abs=1e-6)
    own = fitted.residual_variance / sd**2
    assert own == pytest.approx(SOURCE["own_variance"][species], abs=1e-6)


@pytest.mark.parametrize("species", SPECIES)
def test_means_of_two_codes_with_gaps_agree_with_the_closed_form(species) -> None:
    values = measured_ln(species)[:, [3, 0]]
    # Bills are known of the lighter half only: the plain mean of bills is too low.
    light = values[:, 0] < np.median(values[:, 0])
    present = np.column_stack([np.ones_like(light), light])
    fitted = fit_one_factor_without_pull(table(values, present))
    mass, bill = values[:, 0], values[light, 1]
    slope = np.cov(mass[light], bill, bias=True)[0, 1] / np.var(mass[light])
    closed_form = bill.mean() + slope * (mass.mean() - mass[light].mean())
    assert fitted.mean_ln == pytest.approx([mass.mean(), closed_form], abs=1e-6)


def test_with_scattered_gaps_no_general_optimiser_finds_a_likelier_factor() -> None:
    values = measured_ln("Gentoo")
    present = np.random.default_rng(1).random(values.shape) > 0.4
    known = table(values, present).known_part()
    fitted = fit_one_factor_without_pull(known)
    found = ln_likelihood(fitted, known)

    def less_likely(unknown):
        mean, loading, ln_variance = np.split(unknown, 3)
        covariance = np.outer(loading, loading) + np.diag(np.exp(ln_variance))
        total = 0.0
        for row, kept in zip(known.values_ln, known.present, strict=True):
            part = covariance[np.ix_(kept, kept)]
            off = (row - mean)[kept]
            total += 0.5 * off @ np.linalg.solve(part, off) + 0.5 * np.linalg.slogdet(part)[1]
            total += 0.5 * kept.sum() * np.log(2 * np.pi)
        return total

    start = np.concatenate(
        [
            [known.values_ln[known.present[:, j], j].mean() for j in range(4)],
            np.full(4, 0.03),
            np.full(4, np.log(0.03**2)),
        ]
    )
    best = minimize(less_likely, start, method="L-BFGS-B", options={"maxiter": 500})
    assert found >= -best.fun - 1e-6
    assert fitted.mean_ln == pytest.approx(best.x[:4], abs=1e-4)
