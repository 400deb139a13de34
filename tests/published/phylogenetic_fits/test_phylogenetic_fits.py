import csv
import json
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.phylogenetic_prediction import leave_each_out, predictions_at_tips
from bonewright.relatives.tree_algebra import independent_contrasts, traversal_of
from bonewright.study.flat_tree import pruned
from bonewright.study.tree_files import read_trees
from bonewright.study.trees import join_names

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
REPOSITORY = Path(__file__).parents[3]
REFERENCE = Path(os.environ.get("BONEWRIGHT_REFERENCE", REPOSITORY.parent / "shared/reference"))
TOLERANCE = SOURCE["tolerance"]

pytestmark = pytest.mark.skipif(
    not (REFERENCE / "phylogenetic_fits.json").exists(),
    reason="the reference folder (BONEWRIGHT_REFERENCE) is not on this machine",
)


@pytest.fixture(scope="module", params=SOURCE["data"], ids=lambda data: data["key"])
def case(request):
    data = request.param
    fits = json.loads((REFERENCE / "phylogenetic_fits.json").read_text(encoding="utf-8"))
    tree_file = REFERENCE / "data" / f"{data['table']}.nwk"
    (tree,) = read_trees(tree_file, tree_file.name)
    with (REFERENCE / "data" / f"{data['table']}.csv").open(encoding="utf-8") as opened:
        rows = {row[data["species"]]: row for row in csv.DictReader(opened)}
    (tree,) = join_names((tree,), rows, file=tree_file.name, synonyms={}).trees
    tree = pruned(tree, tuple(name for name in tree.tip_names if name in rows))
    traversal = traversal_of(tree)
    columns = np.array(
        [
            [float(rows[name][data["predictor"]]), float(rows[name][data["response"]])]
            for name in traversal.tip_names
        ]
    )
    if data["logarithm"].startswith("log10"):
        columns = np.log10(columns)
    return traversal, columns[:, :1], columns[:, 1], fits[data["key"]]


def close(expected, *, rel=TOLERANCE["relative"]):
    return pytest.approx(expected, rel=rel)


def agrees(fit, given):
    assert fit.coefficients == close(np.array(given["coef"]))
    assert fit.standard_errors == close(np.array(given["se"]))
    if "sigma2_ml" in given:
        assert fit.rate_ml == close(given["sigma2_ml"])
    if "sigma2_reml" in given:
        assert fit.rate == close(given["sigma2_reml"])


def test_the_tree_is_the_one_meant(case):
    traversal, _, _, given = case
    assert traversal.n_tips == given["n"]
    assert traversal.height == close(given["tree_height"], rel=1e-5)


def test_the_brownian_fit_agrees(case):
    traversal, x, y, given = case
    fit = fit_on_tree(traversal, x, y, model="brownian")
    agrees(fit, given["pgls_brownian"])
    agrees(fit, given["pgls_brownian_phylolm"])
    assert fit.log_likelihood == close(given["pgls_brownian"]["logLik_ml"])


def test_the_fit_without_a_tree_is_the_ordinary_one(case):
    traversal, x, y, given = case
    if not np.ptp(traversal.depth) < 1e-9:
        pytest.skip("lambda 0 is ordinary least squares only where all tips end at one time")
    fit = fit_on_tree(traversal, x, y, parameter=0.0)
    assert fit.coefficients == close(np.array(given["ols"]["coef"]))
    assert fit.standard_errors == close(np.array(given["ols"]["se"]))
    assert fit.r_squared == close(given["ols"]["r2"])
    assert fit.log_likelihood == close(given["ols"]["logLik"])


def test_lambda_and_the_fit_at_it_agree(case):
    traversal, x, y, given = case
    best = fit_on_tree(traversal, x, y, with_interval=True)
    reference = given["pgls_lambda"]
    assert best.model.parameter == pytest.approx(reference["lambda"], abs=TOLERANCE["lambda"])
    agrees(best, reference)
    assert best.log_likelihood == close(reference["logLik_ml"])
    assert best.r_squared == close(reference["r2_vs_null_same_lambda"])
    assert best.parameter_interval == pytest.approx(
        tuple(reference["lambda_ci95_profile"]), rel=TOLERANCE["interval"]
    )


@pytest.mark.parametrize(
    "key", ["pgls_lambda_phylolm", "pgls_lambda_gls_corPagel", "pgls_lambda_caper"]
)
def test_the_other_packages_agree_at_their_own_lambda(case, key):
    traversal, x, y, given = case
    if key not in given:
        pytest.skip("this package has no fit of these data")
    fit = fit_on_tree(traversal, x, y, parameter=given[key]["lambda"])
    agrees(fit, given[key])
    assert fit.log_likelihood == close(given[key]["logLik"])


def test_the_log_likelihood_at_both_ends_agrees(case):
    traversal, x, y, given = case
    for scale in (0, 1):
        fit = fit_on_tree(traversal, x, y, parameter=float(scale))
        assert fit.log_likelihood == close(given["pgls_lambda"][f"logLik_lambda{scale}"])


def test_the_regression_of_contrasts_agrees(case):
    traversal, x, y, given = case
    contrast, _ = independent_contrasts(traversal, np.column_stack([x, y]))
    assert len(contrast) == given["pic"]["n_contrasts"]
    slope = contrast[:, 0] @ contrast[:, 1] / (contrast[:, 0] @ contrast[:, 0])
    assert slope == close(given["pic"]["slope"])
    if given["pic"]["polytomies"]:
        return  # single contrasts depend on how a fork of many branches was resolved
    ours = np.sort(np.where(contrast[:, 0] < 0, -1, 1) * contrast[:, 1])
    theirs = np.array([[row["x"], row["y"]] for row in given["pic"]["contrasts"]])
    assert ours == close(np.sort(np.where(theirs[:, 0] < 0, -1, 1) * theirs[:, 1]))
    assert np.sort(np.abs(contrast[:, 0])) == close(np.sort(np.abs(theirs[:, 0])))


@pytest.mark.parametrize("name", ["brownian", "lambda"])
def test_each_species_left_out_is_predicted_alike_at_its_place(case, name):
    traversal, x, y, given = case
    if not given["leave_one_out"]:
        pytest.skip("the reference leaves none of these species out")
    for left_out in given["leave_one_out"]:
        reference = left_out[name]
        tip = traversal.tip_names.index(reference["tip"])
        observed = np.arange(traversal.n_tips) != tip
        fit = fit_on_tree(traversal, x, y, parameter=reference["lambda"], observed=observed)
        found = predictions_at_tips(fit, np.array([tip]), predictors=x[[tip]])
        assert fit.coefficients == close(np.array(reference["coef"]))
        assert found.line[0] == close(reference["line_only"])
        assert found.mean[0] == close(reference["predicted"])
        assert found.standard_error[0] == close(reference["se"])
        assert found.degrees_of_freedom == reference["df"]
        low, high = found.interval()
        assert (low[0], high[0]) == close((reference["lo95"], reference["hi95"]))
        at_once = leave_each_out(fit_on_tree(traversal, x, y, parameter=reference["lambda"]))
        assert at_once.mean[tip] == close(reference["predicted"])
        assert at_once.standard_error[tip] == close(reference["se"])
