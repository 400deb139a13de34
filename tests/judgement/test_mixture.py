import numpy as np
import pytest

from bonewright.judgement.mixture import (
    Beliefs,
    covariance_of,
    moments_of_mixture,
    named_above,
    pool_of_mixture,
)
from bonewright.quantity import Draws

HEAVY = Beliefs(heterogeneity_scale=0.2, wrong_share=0.1)


def draws_of(middles_kg: list[float], sd_ln: float = 0.1, n_draws: int = 4000) -> Draws:
    noise = np.random.default_rng(1).normal(0, sd_ln, (len(middles_kg), n_draws))
    return np.log(middles_kg)[:, None] + noise - noise.mean(axis=1, keepdims=True)


def test_a_line_far_from_the_others_is_named_and_loses_its_pull() -> None:
    pool = pool_of_mixture(draws_of([15, 15, 16, 60]), HEAVY, rng=np.random.default_rng(2))
    assert int(np.argmax(pool.wrong)) == 3
    assert pool.wrong[3] > named_above(0.1)
    assert max(pool.wrong[:3]) < 0.1
    normal = pool_of_mixture(
        draws_of([15, 15, 16, 60]), Beliefs(heterogeneity_scale=0.2), rng=np.random.default_rng(2)
    )
    assert np.exp(pool.ln_mass.mean()) < 18 < np.exp(normal.ln_mass.mean())


def test_lines_that_agree_are_none_of_them_named() -> None:
    pool = pool_of_mixture(draws_of([15, 15, 16, 16]), HEAVY, rng=np.random.default_rng(2))
    assert pool.wrong.max() < 0.1


def test_two_lines_cannot_tell_which_of_them_is_wrong() -> None:
    pool = pool_of_mixture(draws_of([15, 60]), HEAVY, rng=np.random.default_rng(2))
    assert pool.wrong == pytest.approx([0, 0])


def test_the_moments_are_those_of_the_draws() -> None:
    ln_masses = draws_of([12, 15, 16, 25])
    pool = pool_of_mixture(ln_masses, HEAVY, rng=np.random.default_rng(3))
    mean, variance, wrong = moments_of_mixture(
        ln_masses.mean(axis=1), covariance_of(ln_masses), HEAVY
    )
    assert pool.ln_mass.mean() == pytest.approx(mean, abs=0.01)
    assert pool.ln_mass.std() == pytest.approx(variance**0.5, rel=0.04)
    assert pool.wrong == pytest.approx(wrong, abs=1e-9)


def test_the_chance_to_be_wrong_is_what_brute_enumeration_gives() -> None:
    """Two sets of one wrong line each, tau fixed near zero: Bayes by hand for three lines."""
    sd, wrong_sd, share = 0.1, 1.0, 0.1
    y = np.log([15.0, 15.0, 40.0])
    beliefs = Beliefs(heterogeneity_scale=1e-4, wrong_share=share, wrong_scale=wrong_sd)
    _, _, wrong = moments_of_mixture(y, np.eye(3) * sd**2, beliefs)
    heights = []
    for out in (None, 0, 1, 2):
        variance = np.full(3, sd**2)
        if out is not None:
            variance[out] += wrong_sd**2
        precision = 1 / variance
        mean = (precision * y).sum() / precision.sum()
        height = np.exp(-0.5 * (precision * (y - mean) ** 2).sum()) / np.sqrt(
            variance.prod() * precision.sum()
        )
        heights.append(height * (share * (1 - share) ** 2 if out is not None else (1 - share) ** 3))
    assert wrong == pytest.approx(np.array(heights[1:]) / sum(heights), abs=1e-3)
