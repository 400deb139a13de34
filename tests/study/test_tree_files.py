import sys

import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence, StudyProblems
from bonewright.study.flat_tree import pruned
from bonewright.study.tree_files import match_names, read_trees
from bonewright.study.trees import join_names


def trees_of(tmp_path, text):
    path = tmp_path / "relatives.tree"
    path.write_text(text, encoding="utf-8")
    return list(read_trees(path, "files/relatives.tree"))


def test_a_newick_tree_comes_out_with_names_lengths_and_labelled_clades(tmp_path):
    (tree,) = trees_of(tmp_path, "((Rallus_a:1,'Rallus b':1)Rallus:2,(Fulica_c:1.5,D:1.5):1.5);")
    assert tree.tip_names == ("Rallus a", "Rallus b", "Fulica c", "D")
    np.testing.assert_array_equal(tree.parent, [2, 2, 6, 5, 5, 6, -1])
    np.testing.assert_array_equal(tree.length, [1, 1, 2, 1.5, 1.5, 1.5, 0])
    assert tree.clades == (("Rallus", 2),)
    assert tree.is_ultrametric()


def test_every_tree_of_a_nexus_file_is_read_with_its_translation(tmp_path):
    trees = trees_of(
        tmp_path,
        "#NEXUS\nbegin trees;\ntranslate 1 Rallus_a, 2 'Rallus b', 3 Fulica_c;\n"
        "tree one = [&R] ((1:1,2:1):1,3:2);\ntree two = [&R] ((1:1,3:1):1,2:2);\nend;\n",
    )
    assert [tree.tip_names for tree in trees] == [
        ("Rallus a", "Rallus b", "Fulica c"),
        ("Rallus a", "Fulica c", "Rallus b"),
    ]


def test_a_thousand_trees_are_read_one_after_another(tmp_path):
    path = tmp_path / "many.nwk"
    path.write_text("((a:1,b:1):1,c:2);\n" * 1000, encoding="utf-8")
    reader = read_trees(path, "files/many.nwk")
    assert next(reader).tip_names == ("a", "b", "c")
    assert sum(1 for _ in reader) == 999


def test_a_comb_of_five_thousand_tips_is_read_and_the_recursion_limit_put_back(tmp_path):
    before = sys.getrecursionlimit()
    n = 5000
    text = "(" * (n - 1) + "t0:1" + "".join(f",t{i}:{i}):1" for i in range(1, n)) + ";"
    (tree,) = trees_of(tmp_path, text)
    assert tree.n_tips == n
    assert tree.is_ultrametric()
    assert sys.getrecursionlimit() == before


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("((a:1,b:1):1,c);", "without a length"),
        ("((a:1,b:-1):1,c:2);", "negative"),
        ("((a:1,a:1):1,c:2);", "more than once"),
        ("((a:1,:1):1,c:2);", "without a name"),
        ("(a:1,b:2,c:3);", "without a root"),
        ("[&U] ((a:1,b:2):1,c:3);", "without a root"),
        ("((a:1,b:1):1,c:2", "cannot be read"),
        ("", "no tree"),
    ],
)
def test_a_tree_that_cannot_serve_is_refused_with_the_reason(tmp_path, text, word):
    with pytest.raises(StudyProblems) as caught:
        trees_of(tmp_path, text)
    (problem,) = caught.value.problems
    assert problem.file == "files/relatives.tree"
    assert word in problem.found


@pytest.mark.parametrize(
    "text",
    ["(a:1,b:1,c:1);", "[&R] (a:1,b:2,c:3);", "((a:1,b:2):1,c:3);", "[&U] ((a:1,b:1):0,c:1);"],
)
def test_a_tree_counts_as_rooted_by_word_by_time_or_by_two_branches(tmp_path, text):
    (tree,) = trees_of(tmp_path, text)
    assert tree.n_tips == 3


def test_names_match_whatever_their_case_and_underscores_and_through_synonyms():
    match = match_names(
        ["Rallus a", "RALLUS_b", "Gallus x", "Other y"],
        ["rallus A", "Rallus b", "Gallus z", "Lost one"],
        file="t.nwk",
        synonyms={"gallus_X": "Gallus z"},
    )
    assert match.species_of_tip == {
        "Rallus a": "rallus A",
        "RALLUS_b": "Rallus b",
        "Gallus x": "Gallus z",
    }
    assert match.missing == ("Lost one",)
    assert match.extra == ("Other y",)


def test_two_tips_of_one_species_are_a_problem():
    with pytest.raises(StudyProblems):
        match_names(["a b", "a_B"], ["A b"], file="t.nwk")


def test_a_tree_is_cut_down_to_the_table_without_changing_path_lengths(tmp_path):
    (tree,) = trees_of(tmp_path, "(((a:1,b:1):1,c:2):1,(d:2,e:2):1);")
    (spelled,) = join_names((tree,), ["A", "C", "D"], file="t.nwk", synonyms={}).trees
    small = pruned(spelled, ("A", "C", "D"))
    assert small.tip_names == ("A", "C", "D")
    np.testing.assert_allclose(small.depth[small.tip_nodes], 3)
    np.testing.assert_allclose(small.length[:2], 2)
    with pytest.raises(NotEnoughEvidence):
        pruned(spelled, ("A",))
