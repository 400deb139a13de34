"""Tolerance: half a unit in the last printed place, or the looser one whose reason is in
source.toml, whichever is wider.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.phylogenetic_prediction import leave_each_out, predictions_at_tips
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    contrast_products_of,
    independent_contrasts,
    traversal_of,
)
from bonewright.study.tree_files import read_trees

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def printed(text):
    places = len(text.split(".")[1])
    half_unit = 0.5 * 10.0**-places * 1.0001
    return pytest.approx(float(text), abs=max(half_unit, SOURCE["looser"]["absolute"]))


@pytest.fixture(scope="module")
def primates(tmp_path_factory):
    path = tmp_path_factory.mktemp("primates") / "tree.nwk"
    path.write_text(SOURCE["data"]["tree"], encoding="utf-8")
    (tree,) = read_trees(path, "tree.nwk")
    mass = np.array([SOURCE["data"]["mass_ln"][name] for name in tree.tip_names])
    longevity = np.array([SOURCE["data"]["longevity_ln"][name] for name in tree.tip_names])
    return traversal_of(tree), mass[:, None], longevity


def test_the_contrasts_and_their_variances_agree(primates):
    traversal, mass, longevity = primates
    contrast, variance = independent_contrasts(traversal, np.column_stack([mass, longevity]))
    given = SOURCE["contrasts"]
    for row, place in enumerate(reversed(range(4))):  # ours begin at the tips
        assert abs(contrast[place, 0]) == printed(given["mass"][row])
        assert abs(contrast[place, 1]) == printed(given["longevity"][row])
        assert variance[place] == printed(given["variance"][row])
    assert np.all(np.sign(contrast[:, 0]) == np.sign(contrast[:, 1]))


@pytest.mark.parametrize(("key", "scale"), [("brownian", 1.0), ("no_tree", 0.0), ("half", 0.5)])
def test_coefficients_and_standard_errors_agree_at_each_lambda(primates, key, scale):
    traversal, mass, longevity = primates
    fit = fit_on_tree(traversal, mass, longevity, parameter=scale)
    for place, name in enumerate(("intercept", "slope")):
        value, error = SOURCE[key][name]
        assert fit.coefficients[place] == printed(value)
        assert fit.standard_errors[place] == printed(error)
    assert fit.degrees_of_freedom == SOURCE["brownian"]["degrees_of_freedom"]


def test_the_log_likelihood_agrees_and_is_best_without_a_tree(primates):
    traversal, mass, longevity = primates
    given = SOURCE["log_likelihood"]
    for scale, value in zip(given["at_lambda"], given["value"], strict=True):
        fit = fit_on_tree(traversal, mass, longevity, parameter=scale)
        assert fit.log_likelihood == printed(value)
    best = fit_on_tree(traversal, mass, longevity)
    assert best.model.parameter == given["best_lambda"]
    assert best.limit == "lower"


def test_the_means_at_the_root_agree(primates):
    traversal, mass, longevity = primates
    parts = contrast_products_of(
        traversal, np.column_stack([mass, longevity]), model=EvolutionModel(name="brownian")
    )
    assert parts.root_value[0] == printed(SOURCE["root_mean"]["mass"])
    assert parts.root_value[1] == printed(SOURCE["root_mean"]["longevity"])


def test_homo_predicted_from_the_other_four_at_its_place_agrees(primates):
    traversal, mass, longevity = primates
    given = SOURCE["without_homo"]
    homo = traversal.tip_names.index("Homo")
    observed = np.arange(5) != homo
    fit = fit_on_tree(traversal, mass, longevity, model="brownian", observed=observed)
    found = predictions_at_tips(fit, np.array([homo]), predictors=mass[[homo]])
    assert fit.coefficients[0] == printed(given["intercept"])
    assert fit.coefficients[1] == printed(given["slope"])
    assert fit.rate == printed(given["rate"])
    assert found.line[0] == printed(given["line"])
    assert found.mean[0] == printed(given["predicted"])
    assert found.standard_error[0] == printed(given["standard_error"])
    assert found.degrees_of_freedom == given["degrees_of_freedom"]
    all_at_once = leave_each_out(fit_on_tree(traversal, mass, longevity, model="brownian"))
    assert all_at_once.mean[homo] == printed(given["predicted"])
    assert all_at_once.standard_error[homo] == printed(given["standard_error"])
