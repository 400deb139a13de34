"""The trees that study.toml names: how many, which tips, and the lost animal's place."""

from pathlib import Path

import pytest

from bonewright.study.load import check_folder, load_study
from bonewright.study.trees import MOST_TREES


def use_tree(folder: Path, text: str, *, settings: str = "") -> None:
    (folder / "files" / "relatives.nwk").write_text(text, encoding="utf-8")
    toml = folder / "study.toml"
    lines = toml.read_text(encoding="utf-8")
    toml.write_text(
        lines.replace('file = "relatives.nwk"', 'file = "relatives.nwk"\n' + settings),
        encoding="utf-8",
    )


def test_every_tree_of_the_file_is_loaded_and_spelled_as_the_table(study_folder: Path) -> None:
    use_tree(study_folder, "(rallus_fictus:1,Rallus_novus:1);\n(Rallus_novus:2,RALLUS_FICTUS:2);")
    trees = load_study(study_folder).trees
    assert [set(tree.tip_names) for tree in trees] == [{"Rallus fictus", "Rallus novus"}] * 2


def test_a_synonym_joins_a_tip_to_the_table(study_folder: Path) -> None:
    use_tree(
        study_folder,
        "(Rallus_vetus:1,Rallus_novus:1);",
        settings='synonyms = [["Rallus vetus", "Rallus fictus"]]',
    )
    assert "Rallus fictus" in (load_study(study_folder).tree_tips or ())


def test_the_lost_animal_is_hung_beside_species_that_the_tree_has(study_folder: Path) -> None:
    text = "((Rallus_fictus:1,Rallus_novus:1):1,Rallus_tertius:2);"
    use_tree(
        study_folder,
        text,
        settings='beside = ["Rallus fictus", "Rallus novus"]\nstem_age = [1.2, 1.8]',
    )
    tree = load_study(study_folder).settings.tree
    assert tree is not None
    assert tree.beside == ("Rallus fictus", "Rallus novus")
    assert tree.stem_age == (1.2, 1.8)


@pytest.mark.parametrize(
    ("settings", "column"),
    [
        ('beside = ["Rallus fictitious"]', "tree.beside"),
        ("stem_age = [3.0, 1.0]", "tree"),
        ("stem_age = [3.0]", "tree"),
        ("stem_age = [0.0, 1.0]", "tree"),
        ('stem_age = ["old", "young"]', "tree.stem_age.0"),
    ],
)
def test_a_wrong_place_in_the_tree_is_named(study_folder: Path, settings: str, column: str) -> None:
    use_tree(study_folder, "(Rallus_fictus:1,Rallus_novus:1);", settings=settings)
    columns = [problem.column for problem in check_folder(study_folder)]
    assert column in columns


def test_trees_of_different_species_are_refused_with_the_one_that_differs(
    study_folder: Path,
) -> None:
    use_tree(study_folder, "(Rallus_fictus:1,Rallus_novus:1);\n(Rallus_fictus:1,Rallus_alter:1);")
    (problem,) = check_folder(study_folder)
    assert "tree 2" in problem.found


def test_two_tips_that_come_out_as_one_species_are_refused(study_folder: Path) -> None:
    use_tree(
        study_folder,
        "(Rallus_fictus:1,Rallus_vetus:1);",
        settings='synonyms = [["Rallus vetus", "Rallus fictus"]]',
    )
    assert [problem.file for problem in check_folder(study_folder)] == ["files/relatives.nwk"]


def test_more_trees_than_can_serve_are_refused(study_folder: Path) -> None:
    use_tree(study_folder, "(Rallus_fictus:1,Rallus_novus:1);\n" * (MOST_TREES + 1))
    (problem,) = check_folder(study_folder)
    assert str(MOST_TREES) in problem.found


def test_a_nexus_file_of_several_trees_is_read(study_folder: Path) -> None:
    use_tree(
        study_folder,
        "#NEXUS\nbegin trees;\n translate 1 Rallus_fictus, 2 Rallus_novus;\n"
        " tree one = [&R] (1:1,2:1);\n tree two = [&R] (1:3,2:3);\nend;\n",
    )
    trees = load_study(study_folder).trees
    assert [float(tree.depth.max()) for tree in trees] == [1.0, 3.0]
