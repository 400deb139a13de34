import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives import traversal_kernels
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    arrays_under,
    conditional_on_others,
    contrast_products_of,
    independent_contrasts,
    traversal_of,
)
from bonewright.study.flat_tree import FlatTree

trees = st.tuples(
    st.integers(0, 2**32 - 1), st.integers(3, 40), st.booleans(), st.booleans(), st.booleans()
)
scales = st.floats(0, 1)


def lambda_covariance(shared, scale):
    covariance = scale * shared
    np.fill_diagonal(covariance, np.diag(shared))
    return covariance


def grow(random_tree, recipe):
    seed, n_tips, polytomies, zeros, timed = recipe
    return random_tree(seed, n_tips, polytomies=polytomies, zeros=zeros, timed=timed)


def dense_products(covariance, values):
    return values.T @ np.linalg.solve(covariance, values)


@settings(deadline=None, max_examples=60)
@given(recipe=trees, scale=scales)
def test_products_with_the_inverse_covariance_equal_dense_algebra(
    recipe, scale, random_tree, shared_paths
):
    tree = grow(random_tree, recipe)
    rng = np.random.default_rng(recipe[0])
    values = rng.normal(size=(tree.n_tips, 3))
    error = rng.exponential(0.2, size=tree.n_tips)
    covariance = lambda_covariance(shared_paths(tree), scale) + np.diag(error)

    found = contrast_products_of(
        traversal_of(tree),
        values,
        model=EvolutionModel(name="lambda", parameter=scale),
        tip_variance=error,
    )

    with_ones = np.column_stack([np.ones(tree.n_tips), values])
    expected = dense_products(covariance, with_ones)
    root, v = found.root_value, found.root_variance
    np.testing.assert_allclose(
        found.products + np.outer(root, root) / v, expected[1:, 1:], rtol=1e-9, atol=1e-10
    )
    np.testing.assert_allclose(root / v, expected[0, 1:], rtol=1e-9, atol=1e-10)
    np.testing.assert_allclose(1 / v, expected[0, 0], rtol=1e-10)
    np.testing.assert_allclose(
        found.log_determinant, np.linalg.slogdet(covariance)[1], rtol=1e-9, atol=1e-9
    )


@settings(deadline=None, max_examples=40)
@given(recipe=trees, scale=scales)
def test_tips_without_data_count_for_nothing(recipe, scale, random_tree, shared_paths):
    tree = grow(random_tree, recipe)
    rng = np.random.default_rng(recipe[0])
    observed = rng.random(tree.n_tips) < 0.6
    observed[rng.choice(tree.n_tips, 2, replace=False)] = True
    values = rng.normal(size=(tree.n_tips, 2))
    covariance = lambda_covariance(shared_paths(tree), scale)[np.ix_(observed, observed)]

    found = contrast_products_of(
        traversal_of(tree),
        np.where(observed[:, None], values, np.nan),
        model=EvolutionModel(name="lambda", parameter=scale),
        observed=observed,
    )

    inverse = np.linalg.inv(covariance)
    ones = inverse.sum(axis=1)
    centred = inverse - np.outer(ones, ones) / ones.sum()
    np.testing.assert_allclose(
        found.products, values[observed].T @ centred @ values[observed], rtol=1e-8, atol=1e-9
    )
    assert found.n == observed.sum()
    np.testing.assert_allclose(
        found.log_determinant, np.linalg.slogdet(covariance)[1], rtol=1e-8, atol=1e-8
    )


@settings(deadline=None, max_examples=40)
@given(recipe=trees, scale=scales)
def test_what_the_others_say_of_each_tip_equals_dense_kriging_with_unknown_mean(
    recipe, scale, random_tree, shared_paths
):
    tree = grow(random_tree, recipe)
    rng = np.random.default_rng(recipe[0])
    observed = rng.random(tree.n_tips) < 0.7
    observed[rng.choice(tree.n_tips, 3, replace=False)] = True
    values = rng.normal(size=(tree.n_tips, 2))
    covariance = lambda_covariance(shared_paths(tree), scale)

    mean, variance = conditional_on_others(
        traversal_of(tree),
        values,
        model=EvolutionModel(name="lambda", parameter=scale),
        observed=observed,
    )

    for tip in range(tree.n_tips):
        others = observed.copy()
        others[tip] = False
        inverse = np.linalg.inv(covariance[np.ix_(others, others)])
        cross = covariance[tip, others]
        total = inverse.sum()
        root = inverse.sum(axis=0) @ values[others] / total
        expected = root + cross @ inverse @ (values[others] - root)
        gap = 1 - cross @ inverse.sum(axis=1)
        expected_variance = covariance[tip, tip] - cross @ inverse @ cross + gap**2 / total
        np.testing.assert_allclose(mean[tip], expected, rtol=1e-8, atol=1e-8)
        np.testing.assert_allclose(variance[tip], expected_variance, rtol=1e-8, atol=1e-9)


@settings(deadline=None, max_examples=30)
@given(recipe=trees, pull=st.floats(0.01, 3))
def test_ornstein_uhlenbeck_equals_covariance_falling_with_distance(
    recipe, pull, random_tree, shared_paths
):
    tree = grow(random_tree, (*recipe[:4], True))
    shared = shared_paths(tree)
    height = np.diag(shared)
    distance = height[:, None] + height[None, :] - 2 * shared
    covariance = np.exp(-pull * distance) / (2 * pull)
    values = np.random.default_rng(recipe[0]).normal(size=(tree.n_tips, 2))

    found = contrast_products_of(
        traversal_of(tree),
        values,
        model=EvolutionModel(name="ornstein-uhlenbeck", parameter=pull),
    )

    expected = dense_products(covariance, np.column_stack([np.ones(tree.n_tips), values]))
    root, v = found.root_value, found.root_variance
    np.testing.assert_allclose(
        found.products + np.outer(root, root) / v, expected[1:, 1:], rtol=1e-7, atol=1e-9
    )
    np.testing.assert_allclose(1 / v, expected[0, 0], rtol=1e-8)
    np.testing.assert_allclose(found.log_determinant, np.linalg.slogdet(covariance)[1], rtol=1e-7)


def test_contrasts_sum_to_the_same_products_as_the_single_walk(random_tree):
    tree = random_tree(4, 50, polytomies=True)
    values = np.random.default_rng(5).normal(size=(50, 3))
    traversal = traversal_of(tree)

    contrast, variance = independent_contrasts(traversal, values)

    found = contrast_products_of(traversal, values, model=EvolutionModel(name="brownian"))
    np.testing.assert_allclose(contrast.T @ contrast, found.products, rtol=1e-12)
    np.testing.assert_allclose(
        np.sum(np.log(variance)) + np.log(found.root_variance), found.log_determinant, rtol=1e-12
    )


def test_compiling_changes_no_number(random_tree):
    tree = random_tree(8, 30, polytomies=True)
    traversal = traversal_of(tree)
    values = np.random.default_rng(1).normal(size=(30, 2))
    arrays, _ = arrays_under(traversal, EvolutionModel(name="brownian"))
    compiled = traversal_kernels.contrast_products(arrays, 0.4, values)
    plain = traversal_kernels.contrast_products.py_func(arrays, 0.4, values)
    np.testing.assert_allclose(compiled[0], plain[0], rtol=1e-13)
    np.testing.assert_allclose(compiled[2:], plain[2:], rtol=1e-13)


def test_a_node_with_one_child_is_passed_through():
    straight = FlatTree(
        parent=np.array([2, 2, 4, 4, -1]),
        length=np.array([1.0, 1.0, 2.0, 1.0, 0.0]),
        tip_names=("a", "b", "c"),
    )
    knotted = FlatTree(
        parent=np.array([3, 2, 3, 5, 5, 6, -1]),
        length=np.array([1.0, 0.4, 0.6, 2.0, 1.0, 0.7, 0.0]),
        tip_names=("a", "b", "c"),
    )
    values = np.array([[1.0, 2.0], [3.0, 1.0], [0.5, 4.0]])
    one, other = (
        contrast_products_of(
            traversal_of(tree), values, model=EvolutionModel(name="lambda", parameter=0.6)
        )
        for tree in (straight, knotted)
    )
    np.testing.assert_allclose(one.products, other.products, rtol=1e-14)
    assert one.log_determinant == pytest.approx(other.log_determinant, rel=1e-14)


def test_two_tips_in_one_place_are_refused_under_brownian_motion_but_not_under_lambda():
    tree = FlatTree(
        parent=np.array([2, 2, 4, 4, -1]),
        length=np.array([0.0, 0.0, 1.0, 1.0, 0.0]),
        tip_names=("a", "b", "c"),
    )
    traversal = traversal_of(tree)
    values = np.array([[1.0], [2.0], [3.0]])
    with pytest.raises(OutsideRange):
        contrast_products_of(traversal, values, model=EvolutionModel(name="brownian"))
    with pytest.raises(OutsideRange):
        conditional_on_others(traversal, values, model=EvolutionModel(name="brownian"))
    found = contrast_products_of(
        traversal, values, model=EvolutionModel(name="lambda", parameter=0.5)
    )
    assert np.isfinite(found.log_determinant)


def test_a_tip_on_the_root_and_a_tree_of_two_are_refused():
    with pytest.raises(OutsideRange):
        traversal_of(
            FlatTree(
                parent=np.array([3, 3, 3, -1]),
                length=np.array([1.0, 0.0, 1.0, 0.0]),
                tip_names=("a", "b", "c"),
            )
        )
    with pytest.raises(NotEnoughEvidence):
        traversal_of(
            FlatTree(
                parent=np.array([2, 2, -1]),
                length=np.array([1.0, 1.0, 0.0]),
                tip_names=("a", "b"),
            )
        )


def test_ornstein_uhlenbeck_is_refused_where_tips_end_at_different_times(random_tree):
    traversal = traversal_of(random_tree(2, 12))
    with pytest.raises(OutsideRange):
        contrast_products_of(
            traversal,
            np.ones((12, 1)),
            model=EvolutionModel(name="ornstein-uhlenbeck", parameter=0.3),
        )


@pytest.mark.parametrize(
    ("name", "parameter"),
    [("lambda", 1.1), ("lambda", -0.1), ("ornstein-uhlenbeck", 0.0), ("brownian", 0.5)],
)
def test_a_parameter_outside_its_range_is_refused(name, parameter):
    with pytest.raises(OutsideRange):
        EvolutionModel(name=name, parameter=parameter)


def test_a_tree_of_a_very_deep_comb_is_walked_without_recursion():
    n = 20_000
    # tip, tip, fork, tip, fork, tip, fork ...
    parent = [2, 2]
    for fork in range(2, 2 * n - 2, 2):
        parent += [fork + 2, fork + 2]
    parent.append(-1)
    tree = FlatTree(
        parent=np.array(parent),
        length=np.ones(2 * n - 1),
        tip_names=tuple(str(number) for number in range(n)),
    )
    values = np.random.default_rng(1).normal(size=(n, 2))
    found = contrast_products_of(
        traversal_of(tree), values, model=EvolutionModel(name="lambda", parameter=0.5)
    )
    assert np.isfinite(found.log_determinant)
    assert found.n == n
