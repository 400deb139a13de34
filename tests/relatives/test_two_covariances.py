"""The joint model of bones against dense algebra, and against simulated birds."""

import numpy as np
import pytest
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.places import left_out_together, places_of_all, without_each
from bonewright.relatives.tree_algebra import Traversal, traversal_of
from bonewright.relatives.two_covariances import (
    TwoCovariances,
    fit_two_covariances,
)
from bonewright.study.flat_tree import FlatTree, pruned


def shared_paths(tree: FlatTree) -> NDArray[np.float64]:
    """Dense covariance of tips, the slow way: the depth of each pair's youngest ancestor."""
    depth = tree.depth
    above = []
    for node in tree.tip_nodes:
        path, here = set(), int(node)
        while here >= 0:
            path.add(here)
            here = int(tree.parent[here])
        above.append(path)
    return np.array([[max(depth[n] for n in a & b) for b in above] for a in above])


def random_tree(n: int, seed: int) -> FlatTree:
    rng = np.random.default_rng(seed)
    standing = [(f"t{number}", 0.0, f"t{number}") for number in range(n)]
    age = 0.0
    parts: list[tuple[str, float]] = [(name, at) for name, at, _ in standing]
    children: dict[str, tuple[str, str]] = {}
    ages = {name: 0.0 for name, _ in parts}
    names = list(ages)
    while len(names) > 1:
        age += float(rng.exponential()) / len(names)
        one, two = (names.pop(int(rng.integers(len(names)))) for _ in range(2))
        fork = f"fork{len(children)}"
        children[fork], ages[fork] = (one, two), age
        names.append(fork)
    parent, length, tips = [], [], []

    def write(name: str, above: float) -> int:
        below = [write(child, ages[name]) for child in children.get(name, ())]
        here = len(parent)
        parent.append(-1)
        length.append(above - ages[name])
        for child in below:
            parent[child] = here
        if not below:
            tips.append(name)
        return here

    write(names[0], ages[names[0]])
    return FlatTree(parent=np.array(parent), length=np.array(length), tip_names=tuple(tips))


DESCENT = np.array([[0.020, 0.012], [0.012, 0.015]])
OWN = np.array([[0.006, -0.002], [-0.002, 0.004]])


def birds(n: int, seed: int) -> tuple[FlatTree, Traversal, NDArray, NDArray]:
    tree = random_tree(n, seed)
    rng = np.random.default_rng(seed + 100)
    root = np.linalg.cholesky(shared_paths(tree) / np.max(tree.depth) + 1e-12 * np.eye(n))
    mass_ln = rng.normal(0.0, 1.2, (n, 1))
    bones = np.array([3.5, 4.0]) + mass_ln * np.array([0.38, 0.42])
    bones += root @ rng.normal(size=(n, 2)) @ np.linalg.cholesky(DESCENT).T
    bones += rng.normal(size=(n, 2)) @ np.linalg.cholesky(OWN).T
    return tree, traversal_of(tree), mass_ln, bones


def dense(fit: TwoCovariances, tree: FlatTree) -> tuple[NDArray, NDArray, NDArray]:
    """Return the whole covariance, the design and the measurements, species within bones."""
    paths = shared_paths(tree) / np.max(tree.depth)
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
def test_restricted_likelihood_is_that_of_dense_algebra(curved, tails) -> None:
    tree, traversal, x, bones = birds(24, 3)
    predictors = np.column_stack([x, x**2]) if curved else x
    sd = np.array([np.inf, 0.1])[: predictors.shape[1]]
    fit = fit_two_covariances(traversal, predictors, bones, prior_sd=sd, tail_freedom=tails)
    plain = fit_two_covariances(traversal, predictors, bones, prior_sd=sd)
    ours = fit.objective - plain.objective
    theirs = restricted(*dense(fit, tree)) - restricted(*dense(plain, tree))
    assert ours == pytest.approx(theirs, rel=1e-7, abs=1e-7)


def test_no_covariances_nearby_explain_more() -> None:
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


def test_species_left_out_in_one_walk_are_those_refitted_without() -> None:
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


def test_what_kin_say_of_a_place_is_the_dense_conditional() -> None:
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


def test_both_covariances_come_back_from_many_birds() -> None:
    descents, owns = [], []
    for seed in range(12):
        _, traversal, x, bones = birds(150, 40 + seed)
        fit = fit_two_covariances(traversal, x, bones)
        descents.append(fit.descent)
        owns.append(fit.own)
    assert np.mean(descents, axis=0) == pytest.approx(DESCENT, abs=0.005)
    assert np.mean(owns, axis=0) == pytest.approx(OWN, abs=0.0012)


def test_an_odd_species_gets_the_least_weight_and_moves_the_line_less() -> None:
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


def test_fit_changes_with_the_units_as_it_should() -> None:
    _, traversal, x, bones = birds(40, 9)
    one = fit_two_covariances(traversal, x, bones)
    other = fit_two_covariances(traversal, x, 2.0 * bones + 1.0)
    assert other.descent == pytest.approx(4 * one.descent, rel=2e-2, abs=1e-5)
    assert other.own == pytest.approx(4 * one.own, rel=2e-2, abs=1e-5)


def test_too_few_species_or_bones_that_follow_from_each_other_are_refused() -> None:
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
