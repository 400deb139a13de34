"""The trees of relatives that study.toml names, joined to the names in the tables."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from pathlib import Path

from bonewright.errors import Problem, StudyProblems
from bonewright.study.flat_tree import FlatTree, relabelled
from bonewright.study.raw import whole_file
from bonewright.study.tree_files import NameMatch, match_names, read_trees

__all__ = ["MOST_TREES", "StudyTrees", "join_names", "read_study_trees"]

MOST_TREES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StudyTrees:
    """The trees of one file; tips that are in the table of relatives bear its spelling."""

    trees: tuple[FlatTree, ...]
    match: NameMatch


def read_study_trees(path: Path, file: str) -> tuple[tuple[FlatTree, ...], tuple[Problem, ...]]:
    """Read all trees of a file, 10,000 at most.

    Parameters
    ----------
    path : Path
        The file, known to exist inside the study.
    file : str
        Its name in the study, for problems.
    """
    status = path.stat()
    return _read_version(path, file, status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=4)
def _read_version(
    path: Path, file: str, changed_ns: int, size: int
) -> tuple[tuple[FlatTree, ...], tuple[Problem, ...]]:
    del changed_ns, size  # they name the version of the file
    try:
        trees = tuple(islice(read_trees(path, file), MOST_TREES + 1))
    except StudyProblems as wrong:
        return (), wrong.problems
    except UnicodeDecodeError:
        problem = whole_file(
            file,
            found="a file that is no text in UTF-8",
            expected="a tree in Newick or NEXUS",
            mend="Export the tree anew from the program that made it.",
        )
        return (), (problem,)
    if len(trees) > MOST_TREES:
        problem = whole_file(
            file,
            found=f"more than {MOST_TREES} trees",
            expected=f"{MOST_TREES} trees at most",
            mend="Thin the sample: every second or tenth tree says as much.",
        )
        return (), (problem,)
    tips = set(trees[0].tip_names)
    for number, tree in enumerate(trees[1:], start=2):
        if set(tree.tip_names) != tips:
            differing = sorted(tips.symmetric_difference(tree.tip_names))
            problem = whole_file(
                file,
                found=f"tree {number}, which differs from the first in {differing[0]}",
                expected="the same species in every tree",
                mend="Cut the trees down to the species that all share.",
            )
            return (), (problem,)
    return trees, ()


def join_names(
    trees: Iterable[FlatTree],
    species: Iterable[str],
    *,
    file: str,
    synonyms: Mapping[str, str],
) -> StudyTrees:
    """Spell the tips as the table of relatives does.

    Raises
    ------
    StudyProblems
        If two tips come out as one species.
    """
    all_trees = tuple(trees)
    match = match_names(all_trees[0].tip_names, species, file=file, synonyms=synonyms)
    spelled = match.species_of_tip
    return StudyTrees(
        trees=tuple(
            relabelled(tree, tuple(spelled.get(tip, tip) for tip in tree.tip_names))
            for tree in all_trees
        ),
        match=match,
    )
