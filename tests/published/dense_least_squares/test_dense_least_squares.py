import tomllib
from pathlib import Path

import numpy as np
import pytest
from statsmodels.regression.linear_model import GLS

from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.tree_algebra import EvolutionModel, traversal_of
from bonewright.study.flat_tree import FlatTree

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
RELATIVE = SOURCE["tolerance"]["relative"]


def grown(seed, n_tips):
    """Join random pairs of lineages at random waits: a time tree of n tips."""
    rng = np.random.default_rng(seed)
    age = 0.0
    shared_age = np.zeros((n_tips, n_tips))
    nodes: list[tuple[float, list[int]]] = [(0.0, []) for _ in range(n_tips)]
    standing = list(range(n_tips))
    members = {tip: [tip] for tip in range(n_tips)}
    while len(standing) > 1:
        age += float(rng.exponential())
        one, two = (standing.pop(int(rng.integers(len(standing)))) for _ in range(2))
        nodes.append((age, [one, two]))
        fork = len(nodes) - 1
        members[fork] = members[one] + members[two]
        shared_age[np.ix_(members[one], members[two])] = age
        shared_age[np.ix_(members[two], members[one])] = age
        standing.append(fork)
    parent: list[int] = []
    length: list[float] = []
    names: list[int] = []

    def write(node, mother_age):
        children = [write(child, nodes[node][0]) for child in nodes[node][1]]
        if not children:
            names.append(node)
        parent.append(-1)
        length.append(mother_age - nodes[node][0])
        for child in children:
            parent[child] = len(parent) - 1
        return len(parent) - 1

    write(len(nodes) - 1, age)
    tree = FlatTree(
        parent=np.array(parent),
        length=np.array(length),
        tip_names=tuple(f"tip {name}" for name in names),
    )
    return tree, age - shared_age[np.ix_(names, names)], age


@pytest.mark.parametrize("n_tips", [8, 60, 200])
@pytest.mark.parametrize("scale", [0.0, 0.6, 1.0])
def test_the_fit_equals_dense_generalised_least_squares(n_tips, scale):
    tree, shared, age = grown(n_tips, n_tips)
    rng = np.random.default_rng(7)
    x = rng.normal(size=(n_tips, 2))
    y = x @ np.array([0.4, -1.0]) + rng.normal(size=n_tips)
    covariance = scale * shared
    np.fill_diagonal(covariance, age)
    fit = fit_on_tree(traversal_of(tree), x, y, parameter=scale)
    compare(fit, y, x, covariance)


@pytest.mark.parametrize("pull", [0.02, 0.3])
def test_ornstein_uhlenbeck_equals_dense_generalised_least_squares(pull):
    tree, shared, age = grown(5, 80)
    rng = np.random.default_rng(8)
    x = rng.normal(size=(80, 1))
    y = x[:, 0] + rng.normal(size=80)
    covariance = np.exp(-2 * pull * (age - shared)) / (2 * pull)
    np.fill_diagonal(covariance, 1 / (2 * pull))
    fit = fit_on_tree(traversal_of(tree), x, y, model="ornstein-uhlenbeck", parameter=pull)
    assert fit.model == EvolutionModel(name="ornstein-uhlenbeck", parameter=pull)
    compare(fit, y, x, covariance)


def compare(fit, y, x, covariance):
    dense = GLS(y, np.column_stack([np.ones(len(y)), x]), sigma=covariance).fit()
    assert fit.coefficients == pytest.approx(dense.params, rel=RELATIVE)
    assert fit.standard_errors == pytest.approx(dense.bse, rel=RELATIVE)
    assert fit.log_likelihood == pytest.approx(dense.llf, rel=RELATIVE)
    assert fit.rate == pytest.approx(dense.scale, rel=RELATIVE)
