import numpy as np
import pytest

from bonewright.errors import BonewrightError, NotEnoughEvidence, OutsideRange
from bonewright.study.flat_tree import FlatTree, beside_clade, pruned


@pytest.fixture
def timed() -> FlatTree:
    return FlatTree(
        parent=np.array([2, 2, 6, 5, 5, 6, -1]),
        length=np.array([1, 1, 1, 0.5, 0.5, 1.5, 0]),
        tip_names=("a", "b", "c", "d"),
        clades=(("ab", 2),),
    )


def path_between(tree: FlatTree, one: str, other: str) -> float:
    depth = tree.depth
    first, second = (int(tree.tip_nodes[tree.tip_names.index(tip)]) for tip in (one, other))
    total = depth[first] + depth[second]
    while first != second:
        if first < second:
            first = int(tree.parent[first])
        else:
            second = int(tree.parent[second])
    return float(total - 2 * depth[first])


def test_pruning_keeps_the_paths_between_the_tips_that_stay(timed):
    small = pruned(timed, ("a", "c", "d"))
    assert small.tip_names == ("a", "c", "d")
    for one, other in (("a", "c"), ("c", "d"), ("a", "d")):
        assert path_between(small, one, other) == path_between(timed, one, other)
    assert small.clades == ()


@pytest.mark.parametrize(
    ("clade", "age", "to_c", "to_a"),
    [
        (("c", "d"), 1.2, 2.4, 4.0),  # on the stem of c and d
        (("c", "d"), 0.5, 1.0, 4.0),  # where the stem begins
        (("c",), 0.25, 0.5, 4.0),  # on one tip's own branch
        (("c",), 1.2, 2.4, 4.0),  # older than that branch: further down
        (("ab",), 1.5, 4.0, 3.0),  # by the clade's label
        (("a", "d"), 2.0, 4.0, 4.0),  # at the root
    ],
)
def test_a_lost_animal_hangs_where_its_stem_age_says(timed, clade, age, to_c, to_a):
    grown = beside_clade(timed, "lost", clade=clade, stem_age=age)
    assert path_between(grown, "lost", "c") == pytest.approx(to_c)
    assert path_between(grown, "lost", "a") == pytest.approx(to_a)
    assert path_between(grown, "a", "c") == pytest.approx(4)
    assert grown.is_ultrametric()


def test_an_animal_that_died_out_earlier_ends_earlier(timed):
    grown = beside_clade(timed, "lost", clade=("c", "d"), stem_age=1.2, tip_age=0.3)
    assert path_between(grown, "lost", "c") == pytest.approx(2.1)


@pytest.mark.parametrize("age", [0.4, 2.1])
def test_an_age_younger_than_the_clade_or_older_than_the_tree_is_refused(timed, age):
    with pytest.raises(OutsideRange):
        beside_clade(timed, "lost", clade=("c", "d"), stem_age=age)


def test_a_clade_that_is_not_in_the_tree_is_named(timed):
    with pytest.raises(NotEnoughEvidence) as caught:
        beside_clade(timed, "lost", clade=("c", "x"), stem_age=1)
    assert caught.value.found == "x"


def test_ages_need_a_time_tree_and_a_new_name(timed):
    uneven = FlatTree(
        parent=timed.parent,
        length=np.array([1, 2, 1, 0.5, 0.5, 1.5, 0]),
        tip_names=timed.tip_names,
    )
    with pytest.raises(OutsideRange):
        beside_clade(uneven, "lost", clade=("c",), stem_age=1)
    with pytest.raises(OutsideRange):
        beside_clade(timed, "a", clade=("c",), stem_age=1)


@pytest.mark.parametrize(
    ("parent", "length", "names"),
    [
        ([1, -1], [-1.0, 0.0], ("a",)),
        ([1, -1], [np.nan, 0.0], ("a",)),
        ([2, 2, -1], [1.0, 1.0, 0.0], ("a",)),
        ([-1, 0], [1.0, 1.0], ("a",)),
        ([3, 3, 4, 4, -1], [1.0] * 5, ("a", "b", "c")),  # a fork's tips are not beside it
        ([], [], ()),
    ],
)
def test_arrays_that_are_no_tree_are_refused(parent, length, names):
    with pytest.raises(BonewrightError):
        FlatTree(parent=np.array(parent), length=np.array(length), tip_names=names)
