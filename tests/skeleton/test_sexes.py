import numpy as np
import pytest
from scipy.optimize import minimize

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.sexes import SizeScores, compare_one_and_two_sizes
from bonewright.skeleton.two_sizes_kernels import two_curves


def scores(sizes, error=0.005):
    return SizeScores(
        rows=tuple(str(number) for number in range(len(sizes))),
        size_ln=np.asarray(sizes, float),
        error_ln=np.full(len(sizes), error),
    )


def test_two_clear_sizes_are_found_with_their_gap_and_share() -> None:
    rng = np.random.default_rng(1)
    larger = np.arange(40) < 28
    sizes = rng.normal(0, 0.02, 40) + 0.12 * larger
    found = compare_one_and_two_sizes(scores(sizes), rng=rng)
    assert found.p_value < 0.02
    assert found.gap_ln == pytest.approx(0.12, abs=0.02)
    assert found.share_larger == pytest.approx(0.7, abs=0.08)
    assert found.within_sd_ln == pytest.approx(0.02, abs=0.007)
    assert np.mean((found.chance_larger > 0.5) == larger) >= 0.95


def test_one_size_is_taken_for_two_about_once_in_twenty() -> None:
    small = 0
    for seed in range(60):
        rng = np.random.default_rng([2, seed])
        sizes = rng.normal(0, 0.04, 25)
        small += compare_one_and_two_sizes(scores(sizes), rng=rng, n_simulated=99).p_value <= 0.05
    assert small <= 8  # 3 expected; above 8 has a chance below 1 %


def test_known_sexes_show_a_gap_that_sizes_alone_do_not() -> None:
    rng = np.random.default_rng(3)
    larger = np.arange(24) % 2 == 0
    sizes = rng.normal(0, 0.04, 24) + 0.06 * larger
    blind = compare_one_and_two_sizes(scores(sizes), rng=np.random.default_rng(1))
    told = compare_one_and_two_sizes(
        scores(sizes), known_larger=larger.astype(float), rng=np.random.default_rng(1)
    )
    assert blind.p_value > 0.05
    assert told.p_value < 0.02
    assert told.gap_ln == pytest.approx(sizes[larger].mean() - sizes[~larger].mean(), abs=1e-3)


def test_a_sex_wrongly_thought_larger_comes_out_smaller() -> None:
    rng = np.random.default_rng(4)
    larger = np.arange(24) % 2 == 0
    sizes = rng.normal(0, 0.02, 24) + 0.1 * larger
    turned = compare_one_and_two_sizes(scores(sizes), known_larger=(~larger).astype(float), rng=rng)
    assert turned.gap_ln < 0


def test_five_individuals_are_too_few() -> None:
    with pytest.raises(NotEnoughEvidence):
        compare_one_and_two_sizes(scores(np.zeros(5)), rng=np.random.default_rng(1))


def test_no_general_optimiser_finds_two_curves_that_fit_better() -> None:
    rng = np.random.default_rng(5)
    sizes = rng.normal(0, 0.03, 40) + 0.09 * (np.arange(40) < 25)
    error2 = rng.uniform(0.004, 0.02, 40) ** 2
    larger = np.empty(40)
    unknown = np.full(40, np.nan)
    found, variance, gap, share = two_curves(
        sizes, error2, unknown, float(np.median(sizes)), larger
    )

    def ln_likelihood(low, gap, ln_sd, odds):
        total = np.exp(2 * ln_sd) + error2
        share = 1 / (1 + np.exp(-odds))
        curves = [
            np.log(weight) - ((sizes - centre) ** 2 / total + np.log(2 * np.pi * total)) / 2
            for centre, weight in ((low + gap, share), (low, 1 - share))
        ]
        return float(np.logaddexp(*curves).sum()), share

    def less_likely(unknowns):
        fit, share = ln_likelihood(*unknowns)
        return -fit - np.log(share) - np.log(1 - share)  # one imagined individual of each

    low = np.average(sizes, weights=(1 - larger) / (variance + error2))
    start = np.array([low, gap, np.log(variance) / 2, np.log(share / (1 - share))])
    best = minimize(less_likely, start + 0.1 * rng.standard_normal(4), method="Nelder-Mead")
    best = minimize(less_likely, best.x, method="Nelder-Mead", options={"xatol": 1e-8})
    assert ln_likelihood(*start)[0] == pytest.approx(found, abs=1e-3)
    assert less_likely(start) <= best.fun + 1e-4
    assert abs(best.x[1]) == pytest.approx(gap, abs=1e-4)  # either curve may be named the larger
