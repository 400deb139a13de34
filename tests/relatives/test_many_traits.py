import numpy as np
import pytest
from scipy.stats import multivariate_normal, multivariate_t

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.inverse_calibration import (
    CalibrationPrior,
    calibrate_each_left_out,
    calibrate_tip,
    draws_of,
)
from bonewright.relatives.many_traits import fit_many_traits
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.tree_algebra import traversal_of

RATES = 0.05 * np.array([[1.0, 0.7, 0.3], [0.7, 1.2, 0.2], [0.3, 0.2, 0.8]])


def lambda_covariance(shared, scale):
    covariance = scale * shared
    np.fill_diagonal(covariance, np.diag(shared))
    return covariance


def simulated(shared, *, seed, scale=0.8, slopes=(0.35, 0.4, 0.3)):
    rng = np.random.default_rng(seed)
    root = np.linalg.cholesky(lambda_covariance(shared, scale))
    mass = root @ rng.normal(size=len(shared))
    noise = root @ rng.normal(size=(len(shared), 3)) @ np.linalg.cholesky(RATES).T
    return mass, np.array([1.0, 2.0, 3.0]) + np.outer(mass, slopes) + 0.3 * noise


@pytest.fixture
def case(random_tree, shared_paths):
    tree = random_tree(21, 30, timed=True)
    shared = shared_paths(tree)
    mass, bones = simulated(shared, seed=21)
    return traversal_of(tree), shared, mass, bones


def test_coefficients_rates_and_likelihood_equal_dense_algebra(case):
    traversal, shared, mass, bones = case
    fit = fit_many_traits(traversal, mass[:, None], bones, parameter=0.6)
    covariance = lambda_covariance(shared, 0.6)
    inverse = np.linalg.inv(covariance)
    design = np.column_stack([np.ones(30), mass])
    line = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse @ bones)
    residual = bones - design @ line
    squares = residual.T @ inverse @ residual
    np.testing.assert_allclose(fit.coefficients, line, rtol=1e-9)
    np.testing.assert_allclose(fit.rates, squares / 28, rtol=1e-9)
    whole = np.kron(squares / 30, covariance)
    expected = multivariate_normal((design @ line).T.ravel(), whole).logpdf(bones.T.ravel())
    assert fit.log_likelihood == pytest.approx(expected, rel=1e-9)


def test_one_response_gives_the_single_fit(case):
    traversal, _, mass, bones = case
    many = fit_many_traits(traversal, mass[:, None], bones[:, :1])
    one = fit_on_tree(traversal, mass[:, None], bones[:, 0])
    assert many.model.parameter == pytest.approx(one.model.parameter, abs=1e-7)
    np.testing.assert_allclose(many.coefficients[:, 0], one.coefficients, rtol=1e-9)
    assert many.rates[0, 0] == pytest.approx(one.rate)
    assert many.log_likelihood == pytest.approx(one.log_likelihood)


def test_the_shared_lambda_explains_most(case):
    traversal, _, mass, bones = case
    best = fit_many_traits(traversal, mass[:, None], bones)
    for scale in np.linspace(0, 1, 41):
        other = fit_many_traits(traversal, mass[:, None], bones, parameter=float(scale))
        assert other.log_likelihood <= best.log_likelihood + 1e-9


def test_the_posterior_of_mass_equals_the_multivariate_t_of_the_bones(case):
    traversal, shared, mass, bones = case
    tip, scale = 9, 0.6
    others = np.arange(30) != tip
    fit = fit_many_traits(traversal, mass[:, None], bones, parameter=scale, observed=others)
    found = calibrate_tip(fit, tip, responses=bones[[tip]])

    covariance = lambda_covariance(shared, scale)
    inverse = np.linalg.inv(covariance[np.ix_(others, others)])
    cross = covariance[tip, others]
    design = np.column_stack([np.ones(29), mass[others]])
    information = design.T @ inverse @ design
    line = np.linalg.solve(information, design.T @ inverse @ bones[others])
    residual = bones[others] - design @ line
    squares = residual.T @ inverse @ residual
    freedom = 27

    def bones_density(value):
        point = np.array([1.0, value])
        beyond = point - design.T @ inverse @ cross
        variance = covariance[tip, tip] - cross @ inverse @ cross
        variance += beyond @ np.linalg.solve(information, beyond)
        shape = squares * variance / (freedom - 2)
        centre = point @ line + cross @ inverse @ residual
        return multivariate_t(centre, shape, df=freedom - 2).pdf(bones[tip])

    middle = found.grid[0, 300:500:20]
    expected = np.array([bones_density(value) for value in middle])
    density = found.density[0, 300:500:20]
    np.testing.assert_allclose(density / density.max(), expected / expected.max(), rtol=1e-6)
    assert np.trapezoid(found.density[0], found.grid[0]) == pytest.approx(1)


def test_the_plug_in_answer_is_the_generalised_least_squares_one(case):
    traversal, _, mass, bones = case
    fit = fit_many_traits(traversal, mass[:, None], bones, observed=np.arange(30) != 4)
    found = calibrate_tip(fit, 4, responses=bones[[4]])
    at_best = found.plug_in[0]
    b, s = fit.coefficients[1], np.linalg.inv(fit.rates)
    moved = calibrate_tip(fit, 4, responses=bones[[4]] + 0.7 * b)
    assert moved.plug_in[0] == pytest.approx(at_best + 0.7)
    assert moved.disagreement[0] == pytest.approx(found.disagreement[0])
    across = np.array([[1.0, -1.0, 0.0]])
    across = across - (across @ s @ b)[:, None] * b / (b @ s @ b)
    apart = calibrate_tip(fit, 4, responses=bones[[4]] + across)
    assert apart.plug_in[0] == pytest.approx(at_best)
    assert apart.disagreement[0] > found.disagreement[0]
    width = np.ptp(apart.quantiles(np.array([0.025, 0.975])))
    assert width > np.ptp(found.quantiles(np.array([0.025, 0.975])))


def test_all_left_out_at_once_equal_each_left_out_by_itself(case):
    traversal, _, mass, bones = case
    flightless = (np.arange(30) % 3 == 0).astype(float)
    predictors = np.column_stack([mass, flightless])
    fit = fit_many_traits(traversal, predictors, bones)
    at_once = calibrate_each_left_out(fit)
    for tip in (0, 13, 29):
        without = fit_many_traits(
            traversal,
            predictors,
            bones,
            parameter=fit.model.parameter,
            observed=np.arange(30) != tip,
        )
        alone = calibrate_tip(
            without, tip, responses=bones[[tip]], other_predictors=flightless[[tip]]
        )
        assert at_once.plug_in[tip] == pytest.approx(alone.plug_in[0], rel=1e-8)
        assert at_once.plug_in_sd[tip] == pytest.approx(alone.plug_in_sd[0], rel=1e-8)
        np.testing.assert_allclose(at_once.grid[tip], alone.grid[0], rtol=1e-7)
        np.testing.assert_allclose(at_once.density[tip], alone.density[0], rtol=1e-6, atol=1e-12)


def test_intervals_hold_as_often_as_they_say(random_tree, shared_paths):
    tree = random_tree(22, 50, timed=True)
    shared = shared_paths(tree)
    inside = []
    for seed in range(20):
        mass, bones = simulated(shared, seed=seed)
        fit = fit_many_traits(traversal_of(tree), mass[:, None], bones, parameter=0.8)
        low, high = calibrate_each_left_out(fit).quantiles(np.array([0.025, 0.975])).T
        inside.append((low < mass) & (mass < high))
    assert 0.93 < np.mean(inside) < 0.97  # 1,000 calibrations


def test_a_prior_narrows_and_pulls(case):
    traversal, _, mass, bones = case
    fit = fit_many_traits(traversal, mass[:, None], bones, observed=np.arange(30) != 4)
    flat = calibrate_tip(fit, 4, responses=bones[[4]])
    goal = flat.plug_in[0] + 2 * flat.plug_in_sd[0]
    prior = CalibrationPrior(mean=goal, sd=flat.plug_in_sd[0])
    pulled = calibrate_tip(fit, 4, responses=bones[[4]], prior=prior)
    low, middle, high = flat.quantiles(np.array([0.025, 0.5, 0.975]))[0]
    low_after, after, high_after = pulled.quantiles(np.array([0.025, 0.5, 0.975]))[0]
    assert middle < after < goal
    assert high_after - low_after < high - low


def test_draws_follow_the_posterior_and_carry_the_bones_own_uncertainty(case):
    traversal, _, mass, bones = case
    fit = fit_many_traits(traversal, mass[:, None], bones, observed=np.arange(30) != 4)
    one = calibrate_tip(fit, 4, responses=bones[[4]])
    drawn = draws_of(one, rng=np.random.default_rng(1), n=20_000)
    shares = np.array([0.1, 0.5, 0.9])
    found = np.array([np.mean(drawn < value) for value in one.quantiles(shares)[0]])
    np.testing.assert_allclose(found, shares, atol=0.012)
    rng = np.random.default_rng(2)
    uncertain = bones[4] + 0.2 * rng.normal(size=(5000, 3))
    each = calibrate_tip(fit, 4, responses=uncertain)
    assert np.std(draws_of(each, rng=rng, n=5000)) > np.std(drawn)
    with pytest.raises(ValueError, match="draws"):
        draws_of(each, rng=rng, n=100)


def test_bones_that_do_not_change_with_mass_are_refused(random_tree, shared_paths):
    tree = random_tree(23, 30, timed=True)
    mass, bones = simulated(shared_paths(tree), seed=1, slopes=(0.0, 0.0, 0.0))
    fit = fit_many_traits(traversal_of(tree), mass[:, None], bones, observed=np.arange(30) != 4)
    with pytest.raises(OutsideRange):
        calibrate_tip(fit, 4, responses=bones[[4]])


def test_a_species_that_took_part_is_not_calibrated(case):
    traversal, _, mass, bones = case
    fit = fit_many_traits(traversal, mass[:, None], bones)
    with pytest.raises(NotEnoughEvidence):
        calibrate_tip(fit, 4, responses=bones[[4]])
