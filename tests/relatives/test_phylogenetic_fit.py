import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.tree_algebra import traversal_of


def simulated(tree, shared, *, seed, scale=0.7, n_predictors=1, error=0.0):
    rng = np.random.default_rng(seed)
    covariance = scale * shared
    np.fill_diagonal(covariance, np.diag(shared))
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(len(shared)))
    x = root @ rng.normal(size=(tree.n_tips, n_predictors))
    y = 0.5 + x @ np.linspace(0.3, 0.9, n_predictors) + 0.4 * root @ rng.normal(size=tree.n_tips)
    return x, y + error * rng.normal(size=tree.n_tips)


def dense(covariance, x, y):
    """Write down the likelihoods and the coefficients with a full matrix."""
    n, design = len(y), np.column_stack([np.ones(len(y)), x])
    k = design.shape[1]
    inverse = np.linalg.inv(covariance)
    information = design.T @ inverse @ design
    coefficients = np.linalg.solve(information, design.T @ inverse @ y)
    residual = y - design @ coefficients
    squares = residual @ inverse @ residual
    log_v = np.linalg.slogdet(covariance)[1]
    ml = -0.5 * (n * np.log(2 * np.pi * squares / n) + log_v + n)
    reml = -0.5 * ((n - k) * (np.log(2 * np.pi * squares / (n - k)) + 1) + log_v)
    reml -= 0.5 * np.linalg.slogdet(information)[1]
    return coefficients, ml, reml


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000), scale=st.floats(0.05, 0.95), k=st.integers(0, 3))
def test_coefficients_and_both_likelihoods_equal_dense_algebra(
    seed, scale, k, random_tree, shared_paths
):
    tree = random_tree(seed, 25, polytomies=True, zeros=True)
    shared = shared_paths(tree)
    x, y = simulated(tree, shared, seed=seed, n_predictors=k)
    covariance = scale * shared
    np.fill_diagonal(covariance, np.diag(shared))
    coefficients, ml, reml = dense(covariance, x, y)
    traversal = traversal_of(tree)
    fit = fit_on_tree(traversal, x, y, parameter=scale)
    np.testing.assert_allclose(fit.coefficients, coefficients, rtol=1e-7, atol=1e-9)
    assert fit.log_likelihood == pytest.approx(ml, rel=1e-9)
    restricted = fit_on_tree(traversal, x, y, parameter=scale, method="reml")
    assert restricted.log_likelihood == pytest.approx(reml, rel=1e-9)
    np.testing.assert_allclose(fit.residual, y - fit.fitted, rtol=1e-12)


@pytest.mark.parametrize("method", ["ml", "reml"])
@pytest.mark.parametrize("model", ["lambda", "ornstein-uhlenbeck"])
@pytest.mark.parametrize("seed", range(4))
def test_no_other_parameter_explains_more_than_the_one_found(
    method, model, seed, random_tree, shared_paths
):
    tree = random_tree(seed, 60, timed=True)
    x, y = simulated(tree, shared_paths(tree), seed=seed, scale=0.5)
    traversal = traversal_of(tree)
    best = fit_on_tree(traversal, x, y, model=model, method=method, with_interval=True)
    tried = np.linspace(0, 1, 101) if model == "lambda" else np.geomspace(1e-3, 1e2, 101)
    tried = tried if model == "lambda" else tried / traversal.height
    heights = [
        fit_on_tree(traversal, x, y, model=model, method=method, parameter=float(one))
        for one in tried
    ]
    assert best.log_likelihood >= max(fit.log_likelihood for fit in heights) - 1e-9
    low, high = best.parameter_interval
    assert low <= best.model.parameter <= high
    inside = [
        fit.model.parameter
        for fit in heights
        if fit.log_likelihood > best.log_likelihood - 1.920729
    ]
    assert low <= min(inside)
    assert max(inside) <= high


def test_lambda_at_an_end_of_its_range_is_said_to_be_there(random_tree):
    tree = random_tree(3, 80, timed=True)
    rng = np.random.default_rng(3)
    x = rng.normal(size=(80, 1))
    fit = fit_on_tree(traversal_of(tree), x, x[:, 0] + rng.normal(size=80))
    assert fit.model.parameter == 0.0
    assert fit.limit == "lower"


def test_standard_errors_of_species_means_enter_the_likelihood(random_tree, shared_paths):
    tree = random_tree(5, 40, timed=True)
    shared = shared_paths(tree)
    rng = np.random.default_rng(5)
    error = rng.uniform(0.1, 1.0, 40)
    x, y = simulated(tree, shared, seed=5, scale=1.0)
    y = y + error * rng.normal(size=40)
    fit = fit_on_tree(traversal_of(tree), x, y, standard_error=error)
    covariance = fit.model.parameter * shared
    np.fill_diagonal(covariance, np.diag(shared))

    def log_likelihood(rate):
        total = rate * covariance + np.diag(error**2)
        design = np.column_stack([np.ones(40), x])
        inverse = np.linalg.inv(total)
        line = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse @ y)
        return multivariate_normal(design @ line, total).logpdf(y), line

    at_best, line = log_likelihood(fit.rate)
    assert fit.log_likelihood == pytest.approx(at_best, rel=1e-9)
    np.testing.assert_allclose(fit.coefficients, line, rtol=1e-8)
    for other in (0.97, 1.03):
        assert log_likelihood(fit.rate * other)[0] < at_best


def test_standard_errors_of_nothing_change_nothing(random_tree, shared_paths):
    tree = random_tree(6, 30)
    x, y = simulated(tree, shared_paths(tree), seed=6)
    traversal = traversal_of(tree)
    plain = fit_on_tree(traversal, x, y)
    with_zero = fit_on_tree(traversal, x, y, standard_error=np.zeros(30))
    np.testing.assert_array_equal(plain.coefficients, with_zero.coefficients)
    tiny = fit_on_tree(traversal, x, y, standard_error=np.full(30, 1e-6))
    np.testing.assert_allclose(plain.coefficients, tiny.coefficients, rtol=1e-4)


def test_rescaling_time_and_units_changes_only_what_carries_the_unit(random_tree, shared_paths):
    tree = random_tree(7, 50, timed=True)
    x, y = simulated(tree, shared_paths(tree), seed=7)
    one = fit_on_tree(traversal_of(tree), x, y)
    slower = type(tree)(parent=tree.parent, length=tree.length * 1e6, tip_names=tree.tip_names)
    other = fit_on_tree(traversal_of(slower), x * 10, y * 100)
    assert other.model.parameter == pytest.approx(one.model.parameter, abs=1e-6)
    np.testing.assert_allclose(other.coefficients, one.coefficients * [100, 10], rtol=1e-6)
    assert other.rate == pytest.approx(one.rate * 1e4 / 1e6, rel=1e-5)
    assert other.r_squared == pytest.approx(one.r_squared, rel=1e-6)


def test_what_cannot_be_fitted_is_refused_with_the_reason(random_tree):
    traversal = traversal_of(random_tree(8, 20))
    rng = np.random.default_rng(8)
    x, y = rng.normal(size=(20, 1)), rng.normal(size=20)
    few = np.arange(20) < 3
    with pytest.raises(NotEnoughEvidence):
        fit_on_tree(traversal, x, y, observed=few)
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, np.ones((20, 1)), y)
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, np.column_stack([x, 2 * x]), y)
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, x, 3 * x[:, 0])
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, x, np.where(y > 1, np.inf, y))
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, x, y, standard_error=-np.ones(20))
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, x, y, parameter=1.5)
