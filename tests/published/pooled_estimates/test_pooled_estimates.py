import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bonewright.judgement.heterogeneity import (
    between_variance_dersimonian_laird,
    between_variance_paule_mandel,
    birge_ratio,
    cochran_q,
    generalised_mean,
    i_squared_percent,
    q_p_value,
)
from bonewright.judgement.meta_analysis import (
    between_variance_reml,
    knapp_hartung_interval,
    normal_interval,
    q_profile_interval,
)

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def as_printed(printed: str) -> object:
    places = len(printed.partition(".")[2])
    return pytest.approx(float(printed), abs=0.5 * 10.0**-places)


def ln_risk_ratios() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    cases, others, control_cases, control_others = np.array(SOURCE["bcg"]["tables"], dtype=float).T
    treated, controls = cases + others, control_cases + control_others
    return (
        np.log(cases / treated / (control_cases / controls)),
        1 / cases - 1 / treated + 1 / control_cases - 1 / controls,
    )


def test_thirteen_bcg_trials_have_the_printed_q() -> None:
    y, variances = ln_risk_ratios()
    assert cochran_q(y, np.diag(variances)) == as_printed(SOURCE["bcg"]["q"])


def test_thirteen_bcg_trials_pooled_without_heterogeneity() -> None:
    y, variances = ln_risk_ratios()
    mean, variance, _ = generalised_mean(y, np.diag(variances))
    assert mean == as_printed(SOURCE["bcg"]["fixed_mean"])
    assert variance**0.5 == as_printed(SOURCE["bcg"]["fixed_se"])
    q_statistic = cochran_q(y, np.diag(variances))
    assert birge_ratio(q_statistic, 13) == as_printed(SOURCE["bcg"]["birge_ratio"])
    assert i_squared_percent(q_statistic, 13) == as_printed(SOURCE["bcg"]["i_squared_percent"])


@pytest.mark.parametrize("method", ["dersimonian_laird", "paule_mandel"])
def test_thirteen_bcg_trials_pooled_with_heterogeneity(method: str) -> None:
    y, variances = ln_risk_ratios()
    between = (
        between_variance_dersimonian_laird(y, variances)
        if method == "dersimonian_laird"
        else between_variance_paule_mandel(y, np.diag(variances))
    )
    assert between == as_printed(SOURCE["bcg"][f"{method}_variance"])
    mean, variance, _ = generalised_mean(y, np.diag(variances + between))
    assert mean == as_printed(SOURCE["bcg"][f"{method}_mean"])
    assert variance**0.5 == as_printed(SOURCE["bcg"][f"{method}_se"])


def test_eight_schools_differ_no_more_than_their_errors_allow() -> None:
    row = SOURCE["eight_schools"]
    y = np.array(row["estimates"], dtype=float)
    covariance = np.diag(np.array(row["standard_errors"], dtype=float) ** 2)
    mean, variance, _ = generalised_mean(y, covariance)
    q_statistic = cochran_q(y, covariance)
    assert mean == as_printed(row["mean"])
    assert variance**0.5 == as_printed(row["se"])
    assert q_statistic == as_printed(row["q"])
    assert birge_ratio(q_statistic, 8) == as_printed(row["birge_ratio"])
    assert i_squared_percent(q_statistic, 8) == float(row["i_squared_percent"])
    assert between_variance_dersimonian_laird(y, np.diag(covariance)) == 0
    assert between_variance_paule_mandel(y, covariance) == 0


def test_six_studies_of_a_textbook() -> None:
    row = SOURCE["six_studies"]
    y, variances = np.array(row["estimates"]), 1 / np.array(row["weights"])
    mean, variance, _ = generalised_mean(y, np.diag(variances))
    assert mean == as_printed(row["fixed_mean"])
    assert variance**0.5 == as_printed(row["fixed_se"])
    q_statistic = cochran_q(y, np.diag(variances))
    assert q_statistic == as_printed(row["q"])
    assert i_squared_percent(q_statistic, 6) == as_printed(row["i_squared_percent"])
    between = between_variance_dersimonian_laird(y, variances)
    assert between == as_printed(row["dersimonian_laird_variance"])
    mean, variance, _ = generalised_mean(y, np.diag(variances + between))
    assert mean == as_printed(row["random_mean"])
    assert variance**0.5 == as_printed(row["random_se"])


def test_the_chance_of_q_agrees_with_the_chi_square_of_scipy() -> None:
    from scipy.stats import chi2

    for q_statistic, count in ((152.233, 13), (4.707, 8), (11.98, 6), (0.0, 2)):
        assert q_p_value(q_statistic, count) == pytest.approx(chi2.sf(q_statistic, count - 1))


def test_thirteen_bcg_trials_by_restricted_maximum_likelihood() -> None:
    row = SOURCE["bcg_reml"]
    y, variances = ln_risk_ratios()
    covariance = np.diag(variances)
    between = between_variance_reml(y, covariance)
    assert between == as_printed(row["between_variance"])
    mean, _, _ = generalised_mean(y, covariance + between * np.eye(13))
    assert np.exp(mean) == as_printed(row["risk_ratio"])
    interval = np.exp(normal_interval(y, covariance, between=between))
    for end, printed in zip(interval, row["risk_ratio_interval"], strict=True):
        assert end == as_printed(printed)


def test_thirteen_bcg_trials_with_the_interval_of_the_variance_by_q() -> None:
    y, variances = ln_risk_ratios()
    found = q_profile_interval(y, np.diag(variances))
    for end, printed in zip(found, SOURCE["bcg_reml"]["q_profile_interval"], strict=True):
        assert end == as_printed(printed)


def test_the_interval_of_knapp_and_hartung_is_that_of_a_weighted_fit_in_statsmodels() -> None:
    import statsmodels.api

    y, variances = ln_risk_ratios()
    between = between_variance_reml(y, np.diag(variances))
    fit = statsmodels.api.WLS(y, np.ones(13), weights=1 / (variances + between)).fit()
    interval = knapp_hartung_interval(y, np.diag(variances), between=between)
    assert interval == pytest.approx(tuple(fit.conf_int()[0]), rel=1e-9)


def test_paule_mandel_agrees_with_statsmodels() -> None:
    from statsmodels.stats.meta_analysis import combine_effects

    y, variances = ln_risk_ratios()
    covariance = np.diag(variances)
    oracle = combine_effects(y, variances, method_re="iterated", use_t=False)
    between = between_variance_paule_mandel(y, covariance)
    assert between == pytest.approx(oracle.tau2, rel=1e-6)
    low, high = normal_interval(y, covariance, between=between)
    summary = oracle.summary_frame()
    assert low == pytest.approx(summary.loc["random effect", "ci_low"], abs=1e-6)
    assert high == pytest.approx(summary.loc["random effect", "ci_upp"], abs=1e-6)
