from itertools import combinations, permutations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from bonewright.errors import OutsideRange
from bonewright.skeleton.pair_probability import (
    best_pairing,
    pair_probabilities,
    sampled_probabilities,
)
from bonewright.skeleton.pairing import minimum_individuals_by_element, pair_left_and_right

COVARIANCE = 0.045**2 * np.ones((4, 4)) + 0.012**2 * np.eye(4)


def sides(rng, n):
    animals = rng.normal(0, 0.045, (n, 1)) + rng.normal(0, 0.012, (n, 4))
    return animals + rng.normal(0, 0.006, (n, 4)), animals + rng.normal(0, 0.006, (n, 4))


def paired(left, right, **options):
    return pair_left_and_right(
        left,
        right,
        left_present=np.ones(left.shape, bool),
        right_present=np.ones(right.shape, bool),
        covariance_ln=COVARIANCE,
        rng=np.random.default_rng(1),
        **options,
    )


def every_pairing(ln_weight):
    """Sum over all pairings one by one: slow, plain, and right."""
    n, m = ln_weight.shape
    total, with_pair = 0.0, np.zeros((n, m))
    for k in range(min(n, m) + 1):
        for lefts in combinations(range(n), k):
            for rights in permutations(range(m), k):
                weight = np.exp(sum(ln_weight[pair] for pair in zip(lefts, rights, strict=True)))
                total += weight
                for pair in zip(lefts, rights, strict=True):
                    with_pair[pair] += weight
    return with_pair / total


@pytest.mark.parametrize("shape", [(1, 1), (3, 5), (5, 4)])
@pytest.mark.parametrize("spread", [0.5, 5.0])
def test_pair_probabilities_agree_with_the_sum_over_every_pairing(shape, spread) -> None:
    ln_weight = np.random.default_rng(2).normal(0, spread, shape)
    found = pair_probabilities(ln_weight, np.random.default_rng(1))
    assert found == pytest.approx(every_pairing(ln_weight), abs=1e-10)


def test_sampled_pairings_agree_with_the_exact_ones() -> None:
    ln_weight = np.random.default_rng(3).normal(-1, 2.0, (8, 7))
    exact = pair_probabilities(ln_weight, np.random.default_rng(1))
    sampled = sampled_probabilities(ln_weight, np.random.default_rng(1))
    assert sampled == pytest.approx(exact, abs=0.04)


def test_pairs_of_one_animal_are_found_and_the_probability_is_honest() -> None:
    right_pairs, promised, stated = 0, 0.0, 0
    for seed in range(30):
        left, right = sides(np.random.default_rng([4, seed]), 8)
        for pair in paired(left, right, share_paired=0.9).pairs:
            stated += 1
            promised += pair.probability
            right_pairs += pair.left == pair.right
    assert right_pairs / stated > 0.85
    assert promised / stated == pytest.approx(right_pairs / stated, abs=0.06)


def test_bones_of_different_animals_are_not_paired() -> None:
    left, right = sides(np.random.default_rng(5), 4)
    assert paired(left, right + 0.3).pairs == ()


def test_bones_with_nothing_to_compare_have_even_size_odds() -> None:
    left, right = sides(np.random.default_rng(6), 2)
    pairing = pair_left_and_right(
        left,
        right,
        left_present=np.array([[True, False, False, False]] * 2),
        right_present=np.array([[False, True, False, False]] * 2),
        covariance_ln=COVARIANCE,
        rng=np.random.default_rng(1),
    )
    assert np.ptp(pairing.probability) == pytest.approx(0.0, abs=1e-12)


def test_more_bones_than_can_be_summed_are_still_paired() -> None:
    left, right = sides(np.random.default_rng(7), 16)
    pairing = paired(left, right, share_paired=0.9)
    assert sum(pair.left == pair.right for pair in pairing.pairs) >= 10
    assert np.all(pairing.probability.sum(axis=1) <= 1 + 1e-9)


def test_no_bone_of_one_side_gives_no_pairs() -> None:
    pairing = paired(np.zeros((0, 4)), np.zeros((3, 4)))
    assert pairing.pairs == ()
    (count,) = minimum_individuals_by_element("femur", pairing)
    assert count.minimum_individuals == 3


def test_a_left_and_a_right_that_cannot_pair_are_two_animals() -> None:
    left, right = sides(np.random.default_rng(8), 3)
    matched = minimum_individuals_by_element("femur", paired(left, right))[0]
    apart = minimum_individuals_by_element("femur", paired(left, right + 0.3))[0]
    assert matched.minimum_individuals == 3
    assert apart.minimum_individuals == 6


def test_size_classes_are_counted_apart() -> None:
    left, right = sides(np.random.default_rng(9), 3)
    whole, large, small = minimum_individuals_by_element(
        "femur",
        paired(left, right, share_paired=0.9),
        left_class=("large", "large", "small"),
        right_class=("large", "small", "small"),
    )
    assert (large.n_left, large.n_right, small.n_left, small.n_right) == (2, 1, 1, 2)
    assert large.minimum_individuals + small.minimum_individuals >= whole.minimum_individuals


@pytest.mark.parametrize("share", [0.0, 1.0, 2.0])
def test_an_impossible_share_of_pairs_is_refused(share) -> None:
    with pytest.raises(OutsideRange):
        paired(np.zeros((2, 4)), np.zeros((2, 4)), share_paired=share)


def test_bones_without_any_asymmetry_or_error_are_refused() -> None:
    with pytest.raises(OutsideRange):
        paired(np.zeros((2, 4)), np.zeros((2, 4)), asymmetry_sd_ln=0.0)


@pytest.mark.parametrize("shape", [(3, 5), (5, 3), (7, 7), (1, 4), (4, 1), (2, 0)])
def test_the_best_pairing_is_worth_what_the_assignment_solver_finds(shape) -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        worth = np.maximum(rng.normal(size=shape), 0.0)
        rows, columns = best_pairing(worth)
        assert len(set(rows)) == len(set(columns)) == min(shape)
        reference = linear_sum_assignment(worth, maximize=True)
        assert worth[rows, columns].sum() == pytest.approx(worth[reference].sum(), rel=1e-12)
