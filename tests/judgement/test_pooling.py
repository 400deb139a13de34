from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Exact, Quantity, Statement
from bonewright.judgement.heterogeneity import (
    between_variance_paule_mandel,
    birge_ratio,
    cochran_q,
    generalised_mean,
    i_squared_percent,
)
from bonewright.judgement.pooling import Line, PooledMass, pool_masses
from bonewright.quantity import Draws

N_DRAWS = 20_000


def line(
    key: str,
    mass_kg: float,
    sd_ln: float,
    *,
    seed: int = 0,
    pooled: bool = True,
    shared: Draws | float = 0.0,
) -> Line:
    noise = np.random.default_rng([seed, len(key)]).normal(0, sd_ln, N_DRAWS)
    return Line(
        key=key,
        title=f"Line {key}",
        mass_draws_kg=mass_kg * np.exp(noise - noise.mean() + shared),
        pooled=pooled,
        reason="a test",
        rests_on=(),
    )


def pool(*lines: Line, scale: float = 0.2, seed: int = 9) -> PooledMass:
    return pool_masses(lines, heterogeneity_scale=scale, rng=np.random.default_rng(seed))


def text_of(pooled: PooledMass, key: str) -> str:
    (finding,) = [finding for finding in pooled.findings if finding.key == key]
    assert isinstance(finding.value, Statement)
    return finding.value.text


def test_with_next_to_no_heterogeneity_it_is_the_inverse_variance_mean() -> None:
    one, two = line("a", 14.0, 0.10, seed=1), line("bb", 16.0, 0.05, seed=2)
    pooled = pool(one, two, scale=1e-4)
    weights = np.array([0.1**-2, 0.05**-2])
    mean = weights @ np.log([14.0, 16.0]) / weights.sum()
    ln_draws = np.log(pooled.mass_draws_kg)
    assert ln_draws.mean() == pytest.approx(mean, abs=0.002)
    assert ln_draws.std() == pytest.approx(weights.sum() ** -0.5, rel=0.02)
    assert pooled.weights_percent == pytest.approx({"a": 20.0, "bb": 80.0}, abs=1.0)


def test_what_two_lines_share_does_not_shrink_by_pooling() -> None:
    shared = np.random.default_rng(3).normal(0, 0.1, N_DRAWS)
    one, two = (
        line("a", 15.0, 0.001, seed=1, shared=shared),
        line("bb", 15.0, 0.001, seed=2, shared=shared),
    )
    assert np.log(pool(one, two, scale=1e-4).mass_draws_kg).std() == pytest.approx(0.1, rel=0.02)


def test_a_single_line_is_widened_by_the_prior_and_says_that_nothing_checks_it() -> None:
    pooled = pool(line("a", 15.0, 0.1), scale=0.2)
    # The variance of a half-normal's square is its scale squared.
    assert np.log(pooled.mass_draws_kg).std() == pytest.approx(np.hypot(0.1, 0.2), rel=0.03)
    assert pooled.without == {}
    assert pooled.weights_percent == {"a": pytest.approx(100.0)}
    assert "one line" in {caveat.code for caveat in pooled.findings[0].caveats}
    assert "nothing checks it" in text_of(pooled, "judgement.agreement")


def test_no_pooled_line_is_not_enough_evidence() -> None:
    with pytest.raises(NotEnoughEvidence):
        pool(line("a", 15.0, 0.1, pooled=False))


def test_lines_that_agree_are_said_to_agree() -> None:
    pooled = pool(line("a", 15.0, 0.1), line("bb", 16.0, 0.1))
    assert "agree within their uncertainty" in text_of(pooled, "judgement.agreement")
    assert pooled.q_p_value > 0.05


def test_lines_that_contradict_each_other_are_named_and_widen_the_pooled_mass() -> None:
    near = pool(line("a", 15.0, 0.05), line("bb", 15.0, 0.05))
    far = pool(line("a", 12.0, 0.05), line("bb", 19.0, 0.05))
    assert "disagree" in text_of(far, "judgement.agreement")
    assert "lines disagree" in {caveat.code for caveat in far.findings[0].caveats}
    assert np.log(far.mass_draws_kg).std() > 2 * np.log(near.mass_draws_kg).std()
    assert far.tau_ln > near.tau_ln
    assert far.i_squared_percent > 90
    assert far.q_p_value < 0.001


def test_leaving_a_line_out_gives_the_pool_of_the_others() -> None:
    lines = (line("a", 14.0, 0.1), line("bb", 15.0, 0.08), line("ccc", 25.0, 0.1))
    pooled = pool(*lines)
    again = pool(*lines[:2], seed=10)
    assert set(pooled.without) == {"a", "bb", "ccc"}
    assert pooled.without["ccc"].median == pytest.approx(np.median(again.mass_draws_kg), rel=0.01)


def test_lines_that_are_not_pooled_change_nothing_but_are_compared() -> None:
    lines = (line("a", 14.0, 0.1), line("bb", 15.0, 0.08))
    beside = (line("ccc", 60.0, 0.1, pooled=False), line("dddd", 15.0, 0.1, pooled=False))
    with_beside = pool(*lines, *beside)
    np.testing.assert_array_equal(with_beside.mass_draws_kg, pool(*lines).mass_draws_kg)
    text = text_of(with_beside, "judgement.beside")
    assert "line ccc" in text
    assert "line dddd" not in text


def test_pooled_draws_stay_tied_to_the_lines_draw_by_draw() -> None:
    one, two = line("a", 14.0, 0.2, seed=1), line("bb", 14.0, 0.2, seed=2)
    pooled = pool(one, two, scale=0.01)
    assert np.corrcoef(np.log(pooled.mass_draws_kg), np.log(one.mass_draws_kg))[0, 1] == (
        pytest.approx(0.707, abs=0.03)
    )


def test_the_order_of_lines_does_not_matter_beyond_chance() -> None:
    lines = (line("a", 13.0, 0.1), line("bb", 17.0, 0.06), line("ccc", 15.0, 0.2))
    forward, backward = pool(*lines), pool(*reversed(lines), seed=11)
    assert np.quantile(forward.mass_draws_kg, [0.025, 0.5, 0.975]) == pytest.approx(
        np.quantile(backward.mass_draws_kg, [0.025, 0.5, 0.975]), rel=0.02
    )


def test_the_pooled_interval_covers_the_truth_when_methods_lean_as_assumed() -> None:
    """300 simulated trios with half-normal tau of scale 0.2: coverage within 95 +- 3.5 %."""
    rng = np.random.default_rng(6)
    covered = 0
    for _ in range(300):
        tau = abs(rng.normal(0, 0.2))
        lines = []
        for key, sd in (("a", 0.1), ("b", 0.15), ("c", 0.08)):
            said = np.log(15.0) + rng.normal(0, np.hypot(sd, tau))
            lines.append(
                Line(
                    key=key,
                    title=key,
                    mass_draws_kg=np.exp(rng.normal(said, sd, 1000)),
                    pooled=True,
                    reason="a test",
                    rests_on=(),
                )
            )
        pooled = pool_masses(tuple(lines), heterogeneity_scale=0.2, rng=rng)
        low, high = np.quantile(pooled.mass_draws_kg, [0.025, 0.975])
        covered += bool(low <= 15.0 <= high)
    assert 0.915 <= covered / 300 <= 0.985


def test_tau_has_the_posterior_that_brute_integration_gives() -> None:
    y, sd, scale = np.log([12.0, 15.0, 19.0]), np.array([0.05, 0.08, 0.06]), 0.2
    tau = np.linspace(1e-4, 2.5, 20_001)
    variance = sd[:, None] ** 2 + tau**2
    mean = (y[:, None] / variance).sum(axis=0) / (1 / variance).sum(axis=0)
    density = np.exp(
        -0.5 * np.log(variance).sum(axis=0)
        - 0.5 * np.log((1 / variance).sum(axis=0))
        - 0.5 * ((y[:, None] - mean) ** 2 / variance).sum(axis=0)
        - 0.5 * (tau / scale) ** 2
    )
    median = tau[np.searchsorted(np.cumsum(density), density.sum() / 2)]
    pooled = pool(*(line("x" * (k + 1), np.exp(y[k]), sd[k], seed=k) for k in range(3)))
    assert pooled.tau_ln == pytest.approx(median, rel=0.03)


def test_lines_without_any_uncertainty_do_not_break_the_pool() -> None:
    pooled = pool(line("a", 15.0, 0.0), line("bb", 15.0, 0.0))
    assert np.isfinite(pooled.mass_draws_kg).all()


def test_every_number_has_a_unit_and_exact_ones_say_why_they_have_no_interval() -> None:
    for finding in pool(line("a", 14.0, 0.1), line("bb", 15.0, 0.08)).findings:
        if isinstance(finding.value, Exact):
            assert finding.value.why_no_interval
            assert finding.value.unit
        if isinstance(finding.value, Quantity):
            assert finding.value.unit in {"kg", "%"}


@settings(deadline=None)
@given(
    st.lists(st.floats(-5, 5), min_size=2, max_size=8),
    st.floats(0.001, 10),
)
def test_paule_mandel_brings_q_to_its_degrees_of_freedom_or_is_zero(
    values: list[float], variance: float
) -> None:
    y = np.array(values)
    covariance = variance * np.eye(len(y))
    between = between_variance_paule_mandel(y, covariance)
    q_statistic = cochran_q(y, covariance + between * np.eye(len(y)))
    if between == 0:
        assert q_statistic <= len(y) - 1 + 1e-9
    else:
        assert q_statistic == pytest.approx(len(y) - 1, rel=1e-6)


def test_weights_of_correlated_estimates_give_the_least_variance() -> None:
    covariance = np.array([[0.04, 0.03, 0.0], [0.03, 0.05, 0.01], [0.0, 0.01, 0.02]])
    mean, variance, weights = generalised_mean(np.array([1.0, 2.0, 3.0]), covariance)
    assert weights.sum() == pytest.approx(1)
    assert mean == pytest.approx(weights @ [1, 2, 3])
    assert variance == pytest.approx(weights @ covariance @ weights)
    rng = np.random.default_rng(0)
    for _ in range(50):
        other = weights + (shift := rng.normal(0, 0.1, 3)) - shift.mean()
        assert other @ covariance @ other >= variance - 1e-12


def test_statistics_of_disagreement_need_two_estimates() -> None:
    with pytest.raises(NotEnoughEvidence):
        i_squared_percent(1.0, 1)
    with pytest.raises(NotEnoughEvidence):
        birge_ratio(1.0, 1)


def test_the_same_seed_gives_the_same_mass() -> None:
    lines = (line("a", 14.0, 0.1), line("bb", 15.0, 0.08))
    np.testing.assert_array_equal(pool(*lines).mass_draws_kg, pool(*lines).mass_draws_kg)


@pytest.mark.parametrize("noise", [0.0, 1e-9, 1e-6, 1e-3])
def test_a_line_given_twice_counts_once_and_it_is_said(noise: float) -> None:
    once, other = line("a", 15.0, 0.1), line("bb", 16.0, 0.15)
    off = noise * np.random.default_rng(5).standard_normal(N_DRAWS)
    twin = replace(once, key="twin", mass_draws_kg=once.mass_draws_kg * np.exp(off))
    alone, doubled = pool(once, other), pool(once, twin, other)
    assert np.array_equal(alone.mass_draws_kg, doubled.mass_draws_kg)
    assert doubled.weights_percent == alone.weights_percent
    assert "line counted once" in {caveat.code for caveat in doubled.findings[0].caveats}
    assert [one.pooled for one in doubled.lines] == [True, False, True]


def test_lines_that_move_together_and_disagree_stay_two_and_widen_the_pool() -> None:
    once, other = line("a", 15.0, 0.1), line("bb", 16.0, 0.15)
    heavier = replace(once, key="heavier", mass_draws_kg=1.3 * once.mass_draws_kg)
    together, alone = pool(once, heavier, other), pool(once, other)
    assert len(together.weights_percent) == 3
    assert together.q_p_value < 1e-6
    assert np.isfinite([together.q_statistic, *(together.tau_interval_ln or ())]).all()
    assert np.log(together.mass_draws_kg).std() > 0.9 * np.log(alone.mass_draws_kg).std()


@pytest.mark.parametrize("second", [15.0, 20.0])
def test_lines_without_spread_are_pooled_with_the_spread_that_methods_have(second: float) -> None:
    sure = line("a", 15.0, 0.0)
    spread = np.log(pool(sure, line("bb", second, 0.0)).mass_draws_kg).std()
    assert 0.05 < spread < 0.3


def test_lines_beyond_reason_are_pooled_in_numbers_and_said_to_have_no_measure() -> None:
    pooled = pool(line("a", 1e-13, 0.1), line("bb", 1e13, 0.1))
    assert np.isfinite(pooled.mass_draws_kg).all()
    assert "a factor of a thousand or more" in text_of(pooled, "judgement.q_profile")
