import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.phylogenetic_prediction import (
    leave_each_out,
    leave_groups_out,
    prediction_draws,
    predictions_at_tips,
)
from bonewright.relatives.tree_algebra import traversal_of
from bonewright.study.flat_tree import beside_clade


@pytest.fixture
def case(random_tree, shared_paths):
    tree = random_tree(11, 40, polytomies=True, timed=True)
    shared = shared_paths(tree)
    covariance = 0.8 * shared
    np.fill_diagonal(covariance, np.diag(shared))
    root = np.linalg.cholesky(covariance)
    rng = np.random.default_rng(11)
    x = root @ rng.normal(size=(40, 2))
    y = 1 + x @ np.array([0.5, 0.3]) + 0.3 * root @ rng.normal(size=40)
    return tree, shared, x, y


def test_prediction_at_a_place_equals_the_published_formula(case):
    tree, shared, x, y = case
    scale, tip = 0.7, 6
    covariance = scale * shared
    np.fill_diagonal(covariance, np.diag(shared))
    others = np.arange(40) != tip
    design = np.column_stack([np.ones(40), x])
    inverse = np.linalg.inv(covariance[np.ix_(others, others)])
    cross = covariance[tip, others]
    information = design[others].T @ inverse @ design[others]
    line = np.linalg.solve(information, design[others].T @ inverse @ y[others])
    residual = y[others] - design[others] @ line
    rate = residual @ inverse @ residual / (39 - 3)
    beyond = design[tip] - design[others].T @ inverse @ cross
    variance = covariance[tip, tip] - cross @ inverse @ cross
    variance += beyond @ np.linalg.solve(information, beyond)

    fit = fit_on_tree(traversal_of(tree), x, y, parameter=scale, observed=others)
    found = predictions_at_tips(fit, np.array([tip]), predictors=x[[tip]])

    assert found.mean[0] == pytest.approx(design[tip] @ line + cross @ inverse @ residual)
    assert found.standard_error[0] == pytest.approx(np.sqrt(rate * variance))
    assert found.degrees_of_freedom == 36


@pytest.mark.parametrize("error", [None, np.full(40, 0.2)])
def test_all_left_out_at_once_equal_each_left_out_by_itself(case, error):
    tree, _, x, y = case
    traversal = traversal_of(tree)
    fit = fit_on_tree(traversal, x, y, standard_error=error)
    at_once = leave_each_out(fit)
    for tip in (0, 7, 39):
        others = np.arange(40) != tip
        if error is None:
            without = fit_on_tree(traversal, x, y, parameter=fit.model.parameter, observed=others)
            found = predictions_at_tips(without, np.array([tip]), predictors=x[[tip]])
            assert at_once.mean[tip] == pytest.approx(found.mean[0], rel=1e-9)
            assert at_once.standard_error[tip] == pytest.approx(found.standard_error[0], rel=1e-9)
            assert at_once.degrees_of_freedom[tip] == found.degrees_of_freedom
        else:  # an observed mean scatters by its own standard error as well
            assert at_once.standard_error[tip] > 0.2


def test_leaving_groups_out_refits_lambda_and_never_sees_them(case):
    tree, _, x, y = case
    traversal = traversal_of(tree)
    groups = np.zeros((2, 40), dtype=bool)
    groups[0, :5] = groups[1, 20:] = True
    found = leave_groups_out(traversal, x, y, groups=groups)
    spoiled = y.copy()
    spoiled[20:] += 100.0
    again = leave_groups_out(traversal, x, spoiled, groups=groups[1:])
    np.testing.assert_array_equal(found.mean[20:], again.mean[20:])
    alone = fit_on_tree(traversal, x, y, observed=~groups[0])
    assert found.parameter[0] == alone.model.parameter
    expected = predictions_at_tips(alone, np.arange(5), predictors=x[:5])
    np.testing.assert_allclose(found.mean[:5], expected.mean, rtol=1e-12)
    np.testing.assert_array_equal(found.predicted, groups.any(axis=0))
    assert found.covered().shape == (25,)


def test_intervals_hold_as_often_as_they_say(random_tree, shared_paths):
    tree = random_tree(12, 60, timed=True)
    root = np.linalg.cholesky(shared_paths(tree))
    rng = np.random.default_rng(12)
    inside = []
    for _ in range(20):
        x = root @ rng.normal(size=(60, 1))
        y = 0.5 * x[:, 0] + root @ rng.normal(size=60)
        fit = fit_on_tree(traversal_of(tree), x, y, model="brownian")
        inside.append(leave_each_out(fit).covered())
    assert 0.93 < np.mean(inside) < 0.97  # 1,200 predictions


def test_a_tip_that_took_part_is_not_predicted(case):
    tree, _, x, y = case
    fit = fit_on_tree(traversal_of(tree), x, y)
    with pytest.raises(NotEnoughEvidence):
        predictions_at_tips(fit, np.array([3]), predictors=x[[3]])


def test_draws_follow_the_t_distribution_averaged_over_lambda(case):
    tree, _, x, y = case
    traversal = traversal_of(tree)
    observed = np.arange(40) != 6
    draws = prediction_draws(
        traversal,
        x,
        y,
        tip=6,
        predictor_draws=np.tile(x[6], (40_000, 1)),
        rng=np.random.default_rng(1),
        observed=observed,
    )
    scales = np.linspace(0.0, 1.0, 401)
    fits = [
        fit_on_tree(traversal, x, y, parameter=float(scale), method="reml", observed=observed)
        for scale in scales
    ]
    weight = np.exp([fit.log_likelihood - fits[0].log_likelihood for fit in fits])
    found = [predictions_at_tips(fit, np.array([6]), predictors=x[[6]]) for fit in fits]
    means = np.array([one.mean[0] for one in found])
    spread = np.array([one.standard_error[0] for one in found])
    mean = np.average(means, weights=weight)
    variance = np.average(spread**2 * 36 / 34 + (means - mean) ** 2, weights=weight)
    assert np.mean(draws) == pytest.approx(mean, abs=5 * np.sqrt(variance / 40_000))
    assert np.std(draws) == pytest.approx(np.sqrt(variance), rel=0.02)


def test_uncertain_bones_widen_the_draws_and_a_seed_repeats_them(case):
    tree, _, x, y = case
    rng = np.random.default_rng(2)
    observed = np.arange(40) != 6
    uncertain = x[6] + rng.normal(0, 3.0, size=(5000, 2))

    def draw(predictors):
        return prediction_draws(
            traversal_of(tree),
            x,
            y,
            tip=6,
            predictor_draws=predictors,
            rng=np.random.default_rng(3),
            observed=observed,
        )

    wide, narrow = draw(uncertain), draw(np.tile(x[6], (5000, 1)))
    assert np.std(wide) > 1.5 * np.std(narrow)
    np.testing.assert_array_equal(wide, draw(uncertain))


def test_leaving_out_the_only_flightless_ones_says_that_the_predictor_stands_still(case):
    tree, _, x, y = case
    flightless = (np.arange(40) < 5).astype(float)
    predictors = np.column_stack([x, flightless])
    with pytest.raises(OutsideRange) as caught:
        leave_groups_out(traversal_of(tree), predictors, y, groups=flightless[None].astype(bool))
    assert "predictor" in caught.value.remedy


def test_a_lost_animal_hung_beside_a_clade_is_predicted_nearer_to_that_clade(case):
    tree, _, x, y = case
    near, far = tree.tip_names[3], tree.tip_names[30]
    raised = y + 2.0 * (np.array(tree.tip_names) == near)

    def predicted(beside):
        grown = beside_clade(tree, "lost", clade=(beside,), stem_age=0.01)
        rows = {name: row for row, name in enumerate(tree.tip_names)}
        order = np.array([rows.get(name, -1) for name in grown.tip_names])
        observed = order >= 0
        values = np.where(observed, raised[order], np.nan)
        bones = np.where(observed[:, None], x[order], np.nan)
        fit = fit_on_tree(traversal_of(grown), bones, values, model="brownian", observed=observed)
        tip = np.flatnonzero(~observed)
        return predictions_at_tips(fit, tip, predictors=x[[3]])

    beside_near, beside_far = predicted(near), predicted(far)
    assert beside_near.line[0] == pytest.approx(beside_far.line[0])
    assert abs(beside_near.mean[0] - raised[3]) < abs(beside_far.mean[0] - raised[3])
