import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.tree_algebra import traversal_of
from bonewright.relatives.tree_samples import fit_over_trees
from bonewright.study.flat_tree import relabelled

NAMES = tuple(f"tip {number}" for number in range(20))
CHOICES = ((3, 0), (3, 1), (3, 2))


@pytest.fixture(scope="module")
def sample(random_tree):
    rng = np.random.default_rng(1)
    trees = [
        relabelled(random_tree(seed, 20, polytomies=True), tuple(rng.permutation(NAMES)))
        for seed in range(9)
    ]
    table = rng.normal(size=(20, 4))
    table[:, :3] += table[:, 3:]
    return trees, table


@pytest.mark.parametrize("method", ["ml", "reml"])
def test_each_fit_of_the_batch_equals_the_fit_by_itself(sample, method):
    trees, table = sample
    batch = fit_over_trees(iter(trees), table, row_names=NAMES, choices=CHOICES, method=method)
    for place, tree in enumerate(trees):
        traversal = traversal_of(tree)
        rows = traversal.rows_of(NAMES)
        for choice, (predictor, response) in enumerate(CHOICES):
            alone = fit_on_tree(
                traversal, table[rows][:, [predictor]], table[rows, response], method=method
            )
            assert batch.scale[place, choice] == alone.model.parameter
            assert batch.log_likelihood[place, choice] == pytest.approx(alone.log_likelihood)
            assert batch.rate[place, choice] == pytest.approx(alone.rate)
            np.testing.assert_allclose(batch.coefficients[place, choice], alone.coefficients)
            np.testing.assert_allclose(batch.standard_errors[place, choice], alone.standard_errors)


def test_the_number_of_threads_changes_no_number(sample):
    trees, table = sample
    one, three = (
        fit_over_trees(trees, table, row_names=NAMES, choices=CHOICES, workers=workers)
        for workers in (1, 3)
    )
    np.testing.assert_array_equal(one.coefficients, three.coefficients)
    np.testing.assert_array_equal(one.scale, three.scale)


def test_a_sample_that_cannot_be_fitted_is_refused(sample):
    trees, table = sample
    with pytest.raises(NotEnoughEvidence):
        fit_over_trees([], table, row_names=NAMES, choices=CHOICES)
    with pytest.raises(NotEnoughEvidence):
        fit_over_trees(trees, table, row_names=NAMES[1:], choices=CHOICES)
    odd = relabelled(trees[0], (*trees[0].tip_names[1:], "other"))
    more = np.vstack([table, table[:1] + 1])
    with pytest.raises(OutsideRange):
        fit_over_trees([trees[0], odd], more, row_names=(*NAMES, "other"), choices=CHOICES)
    with pytest.raises(OutsideRange):
        fit_over_trees(trees, table, row_names=NAMES, choices=((3, 3),))
    with pytest.raises(OutsideRange):
        fit_over_trees(trees, np.full((20, 4), np.nan), row_names=NAMES, choices=CHOICES)
