"""The joint model of bones against dense algebra, and against simulated birds."""

import numpy as np
import pytest
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.places import left_out_together, places_of_all, without_each
from bonewright.relatives.tree_algebra import traversal_of
from bonewright.relatives.two_covariances import (
    TwoCovariances,
    fit_two_covariances,
)
from bonewright.study.flat_tree import pruned


def dense(fit: TwoCovariances, paths: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Return the whole covariance, the design and the measurements, species within bones."""
    covariance = np.kron(fit.descent, paths) + np.kron(fit.own, np.diag(1 / fit.weight))
    ones = np.column_stack([np.ones(len(paths)), fit.predictors])
    design = np.kron(np.eye(len(fit.own)), ones)
    for column, sd in enumerate(fit.prior_sd):
        if np.isfinite(sd):  # a coefficient with a prior is one more random effect
            x = fit.predictors[:, [column]]
            covariance += np.kron(sd**2 * fit.own, x @ x.T)
            keep = np.arange(design.shape[1]) % ones.shape[1] != column + 1
            design = design[:, keep]
    return covariance, design, fit.measurements.T.ravel()


def restricted(covariance: NDArray, design: NDArray, y: NDArray) -> float:
    inverse = np.linalg.inv(covariance)
    inner = design.T @ inverse @ design
    left = y - design @ np.linalg.solve(inner, design.T @ inverse @ y)
    return 0.5 * float(
        np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(inner)[1] + left @ inverse @ left
    )


@pytest.mark.parametrize("curved", [False, True])
@pytest.mark.parametrize("tails", [None, 5.0])
def test_restricted_likelihood_is_that_of_dense_algebra(birds, shared_paths, curved, tails) -> None:
    tree, traversal, x, bones = birds(24, 3)
    paths = shared_paths(tree) / np.max(tree.depth)
    predictors = np.column_stack([x, x**2]) if curved else x
    sd = np.array([np.inf, 0.1])[: predictors.shape[1]]
    fit = fit_two_covariances(traversal, predictors, bones, prior_sd=sd, tail_freedom=tails)
    plain = fit_two_covariances(traversal, predictors, bones, prior_sd=sd)
    ours = fit.objective - plain.objective
    theirs = restricted(*dense(fit, paths)) - restricted(*dense(plain, paths))
    assert ours == pytest.approx(theirs, rel=1e-7, abs=1e-7)


def test_no_covariances_nearby_explain_more(birds, shared_paths) -> None:
    tree, traversal, x, bones = birds(60, 4)
    fit = fit_two_covariances(traversal, x, bones)
    # The two species' worth of expectation on the own covariance, written out.
    left = np.linalg.lstsq(np.column_stack([np.ones(60), x]), bones, rcond=None)[1]
    assert left.shape == (2,)
    expected = 0.1 * _spread(x, bones)

    def height(descent: NDArray, own: NDArray) -> float:
        paths = shared_paths(tree) / np.max(tree.depth)
        covariance = np.kron(descent, paths) + np.kron(own, np.eye(60))
        design = np.kron(np.eye(2), np.column_stack([np.ones(60), x]))
        before = np.linalg.slogdet(own)[1] + np.trace(np.linalg.solve(own, expected))
        return restricted(covariance, design, bones.T.ravel()) + before

    best = height(fit.descent, fit.own)
    rng = np.random.default_rng(1)
    for _ in range(30):
        turn = np.eye(2) + rng.normal(0, 0.05, (2, 2))
        other = np.eye(2) + rng.normal(0, 0.05, (2, 2))
        assert height(turn @ fit.descent @ turn.T, other @ fit.own @ other.T) > best - 1e-4


def _spread(x: NDArray, bones: NDArray) -> NDArray:
    design = np.column_stack([np.ones(len(x)), x])
    left = bones - design @ np.linalg.lstsq(design, bones, rcond=None)[0]
    return left.T @ left / (len(x) - 2)


def test_species_left_out_in_one_walk_are_those_refitted_without(birds) -> None:
    _, traversal, x, bones = birds(20, 5)
    fit = fit_two_covariances(
        traversal, np.column_stack([x, x**2]), bones, prior_sd=np.array([np.inf, 0.1])
    )
    walked = without_each(fit)
    for tip in (0, 7, 19):
        group = np.arange(20) == tip
        refitted = left_out_together(fit, group)
        for name in ("predictors", "measurements", "variance", "coefficients", "covariance"):
            one, other = getattr(walked, name)[tip], getattr(refitted, name)[tip]
            assert one == pytest.approx(other, rel=1e-6, abs=1e-9), name


def test_what_kin_say_of_a_place_is_the_dense_conditional(birds, shared_paths) -> None:
    tree, traversal, x, bones = birds(18, 6)
    seen = np.arange(18) != 4
    fit = fit_two_covariances(traversal, x, bones, observed=seen)
    place = places_of_all(fit)
    paths = shared_paths(tree) / np.max(tree.depth)
    for bone, ratio in enumerate(fit.ratio):
        covariance = ratio * paths + np.diag(1 / fit.weight)
        inside = covariance[np.ix_(seen, seen)]
        toward = ratio * paths[4, seen] @ np.linalg.inv(inside)
        ones = np.ones(seen.sum())
        solved = np.linalg.solve(inside, ones)
        z = bones[seen] @ fit.rotation[bone]
        mean = z @ solved / solved.sum()
        missing = 1 - toward @ ones
        expected = mean + toward @ (z - mean)
        variance = ratio * paths[4, 4] - toward @ inside @ toward + missing**2 / solved.sum()
        assert place.measurements[4, bone] == pytest.approx(expected, rel=1e-8)
        assert place.variance[4, bone] == pytest.approx(variance, rel=1e-6)


def test_both_covariances_come_back_from_many_birds(birds, true_covariances) -> None:
    """Mean of 20 worlds against the truth, within three of its own standard errors.

    A little more is allowed, for what is expected of the own covariance beforehand.
    """
    found = []
    for seed in range(20):
        _, traversal, x, bones = birds(300, 40 + seed)
        fit = fit_two_covariances(traversal, x, bones)
        found.append([fit.descent, fit.own])
    error = np.std(found, axis=0) / np.sqrt(len(found))
    assert np.all(np.abs(np.mean(found, axis=0) - true_covariances) < 3 * error + 1e-3)
    assert np.all(error < 0.0012)


def test_an_odd_species_gets_the_least_weight_and_moves_the_line_less(birds) -> None:
    tree, traversal, x, bones = birds(60, 8)
    odd = bones.copy()
    # A species with a near sister: alone on a long branch, descent might have made it odd.
    near = tree.length[tree.tip_nodes] < np.quantile(tree.length[tree.tip_nodes], 0.3)
    place = int(np.argmax(np.where(near, np.abs(x[:, 0]), 0)))
    odd[place] += 1.5
    normal = fit_two_covariances(traversal, x, odd)
    robust = fit_two_covariances(traversal, x, odd, tail_freedom=4.0)
    sound = fit_two_covariances(traversal, x, bones)
    assert np.argmin(robust.weight) == place

    def slopes(fit: TwoCovariances) -> NDArray:
        return np.linalg.solve(fit.rotation, fit.coefficients[:, 0])

    off_normal = np.abs(slopes(normal) - slopes(sound))
    off_robust = np.abs(slopes(robust) - slopes(sound))
    assert np.all(off_robust < 0.5 * off_normal)


def test_fit_changes_with_the_units_as_it_should(birds) -> None:
    _, traversal, x, bones = birds(40, 9)
    one = fit_two_covariances(traversal, x, bones)
    other = fit_two_covariances(traversal, x, 2.0 * bones + 1.0)
    assert other.descent == pytest.approx(4 * one.descent, rel=2e-2, abs=1e-5)
    assert other.own == pytest.approx(4 * one.own, rel=2e-2, abs=1e-5)


def test_too_few_species_or_bones_that_follow_from_each_other_are_refused(birds) -> None:
    tree, traversal, x, bones = birds(20, 10)
    with pytest.raises(OutsideRange):
        fit_two_covariances(traversal, x, np.column_stack([bones, bones.sum(axis=1)]))
    few = pruned(tree, tree.tip_names[:5])
    with pytest.raises(NotEnoughEvidence):
        fit_two_covariances(traversal_of(few), x[:5], bones[:5])
    broken = bones.copy()
    broken[3, 0] = np.nan
    with pytest.raises(OutsideRange):
        fit_two_covariances(traversal, x, broken)
