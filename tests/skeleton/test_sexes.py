import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.sexes import SizeScores, compare_one_and_two_sizes


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
