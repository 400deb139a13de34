"""Whole trees of relatives: read from Newick or NEXUS, joined to the names in the tables.

A file may hold one tree or thousands (a sample of what the tree may be). They are read one
after another through DendroPy and flattened at once, so that memory holds one tree.
"""

import math
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from bonewright.errors import Problem, StudyProblems
from bonewright.study.flat_tree import FlatTree
from bonewright.study.spelling import shown

__all__ = ["NameMatch", "match_names", "read_trees", "unreadable_tree"]

_DEEPEST_TREE = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class NameMatch:
    """How the tips of a tree and the species of a table go together.

    ``species_of_tip`` pairs a tip as the tree spells it with a species as the table does.
    ``missing`` are species without a tip, ``extra`` tips without a species.
    """

    species_of_tip: Mapping[str, str]
    missing: tuple[str, ...]
    extra: tuple[str, ...]


def read_trees(path: Path, file: str) -> Iterator[FlatTree]:
    """Read every tree of a Newick or NEXUS file, one at a time.

    Parameters
    ----------
    path : Path
        The file.
    file : str
        Its name in the study, for problems.

    Yields
    ------
    FlatTree
        Tip names with spaces for underscores. Labelled inner nodes become clades.

    Raises
    ------
    StudyProblems
        If a tree cannot be read, has nameless or repeated tips, lacks branch lengths or has
        negative ones, or has no root. A tree counts as rooted where the file says so
        (``[&R]``), where all its tips end at one time, or where nothing is said and its root
        has two branches. Forks of many branches and branches of no length are accepted.
    """
    number = 0
    with _deep_trees_allowed():
        for number, tree in enumerate(_parsed(path, file), start=1):
            flat, problems = _flattened(tree, file, number)
            if problems:
                raise StudyProblems(tuple(problems))
            yield flat
    if number == 0:
        raise StudyProblems((_problem(file, 0, "no tree", "at least one tree"),))


@contextmanager
def _deep_trees_allowed() -> Iterator[None]:
    """Let the parser, which calls itself at every fork, go as deep as a comb of tips."""
    before = sys.getrecursionlimit()
    sys.setrecursionlimit(max(before, _DEEPEST_TREE))
    try:
        yield
    finally:
        sys.setrecursionlimit(before)


def _parsed(path: Path, file: str) -> Iterator[Any]:
    import dendropy
    from dendropy.utility.error import DataParseError

    try:
        with path.open(encoding="utf-8-sig") as opened:
            beginning = opened.read(2000).lstrip()
            if not beginning:
                return
            opened.seek(0)
            yield from dendropy.Tree.yield_from_files(
                files=[opened],
                schema="nexus" if beginning[:6].upper() == "#NEXUS" else "newick",
                preserve_underscores=True,
                extract_comment_metadata=False,
                suppress_internal_node_taxa=True,
            )
    # A damaged file breaks the parser in many ways; all mean the same to the person.
    except (
        DataParseError,
        ValueError,
        TypeError,
        AttributeError,
        LookupError,
        RecursionError,
    ) as error:
        raise StudyProblems(
            (_problem(file, 0, unreadable_tree(error), "Newick or NEXUS"),)
        ) from error


def unreadable_tree(error: Exception) -> str:
    """Say what was found where the parser stopped, in words fit to show."""
    reason = " ".join(str(error).split())
    if "Multiple occurrences" in reason:
        label = re.search(r"labels?: (.+)", reason)
        which = f"the tip {shown(label[1])}" if label else "a tip"
        return f"{which} more than once in one tree"
    if place := re.search(r"line (\d+)(?: at)? column (\d+)", reason):
        return (
            f"a tree that cannot be read: something is wrong near line {place[1]}, column"
            f" {place[2]}"
        )
    return "a tree that cannot be read: it ends too early, or its brackets are not in pairs"


def _flattened(tree: Any, file: str, number: int) -> tuple[FlatTree, list[Problem]]:
    place: dict[Any, int] = {}
    parent: list[int] = []
    length: list[float] = []
    names: list[str] = []
    clades: list[tuple[str, int]] = []
    without_length = negative = endless = nameless = 0
    for node in tree.postorder_node_iter():
        here = place[node] = len(parent)
        parent.append(-1)
        children = node.child_nodes()
        for child in children:
            parent[place[child]] = here
        if children and node.label:
            clades.append((_plain(node.label), here))
        if not children:
            name = _plain(node.taxon.label) if node.taxon is not None else ""
            nameless += not name
            names.append(name)
        own = node.edge.length
        if node.parent_node is None:
            own = 0.0
        without_length += own is None
        negative += own is not None and own < 0
        usable = own is not None and math.isfinite(own)
        endless += own is not None and not usable
        length.append(max(float(own), 0.0) if usable else 0.0)
    faults = []
    repeated = [name for name, count in Counter(names).items() if name and count > 1]
    if len(names) < 2:
        faults.append((f"{len(names)} tips", "at least two"))
    if nameless:
        faults.append((f"{nameless} tips without a name", "a species' name at every tip"))
    if repeated:
        faults.append((f"the tip {repeated[0]} more than once", "every species once"))
    if without_length:
        faults.append((f"{without_length} branches without a length", "a length on each branch"))
    if negative:
        faults.append((f"{negative} branches of negative length", "lengths of 0 or more"))
    if endless:
        faults.append((f"{endless} branches whose length is no number", "lengths of 0 or more"))
    problems = [_problem(file, number, found, expected) for found, expected in faults]
    flat = FlatTree(
        parent=np.array(parent),
        length=np.array(length),
        tip_names=tuple(names),
        clades=tuple(clades),
    )
    if not problems and not _is_rooted(tree, flat):
        problems = [_problem(file, number, "a tree without a root", "a rooted tree")]
    return flat, problems


def _is_rooted(tree: Any, flat: FlatTree) -> bool:
    if tree.is_rooted or flat.is_ultrametric():
        return True
    return tree.is_rooted is None and int(flat.n_children[-1]) == 2


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").split())


def _problem(file: str, number: int, found: str, expected: str) -> Problem:
    which = f"tree {number}: " if number else ""
    mend = "Export the tree anew, rooted and with branch lengths."
    return Problem(
        file=file, row=None, column=None, found=which + found, expected=expected, mend=mend
    )


def match_names(
    tip_names: Iterable[str],
    species: Iterable[str],
    *,
    file: str,
    synonyms: Mapping[str, str] | None = None,
) -> NameMatch:
    """Match tips to species, heedless of case, underscores and spacing, through synonyms.

    Parameters
    ----------
    tip_names, species : iterable of str
        Names as the tree and as the table spell them.
    file : str
        The tree file's name in the study, for problems.
    synonyms : mapping, optional
        From another name to the table's.

    Raises
    ------
    StudyProblems
        If two tips come out as one species.
    """
    wanted = {_folded(name): name for name in species}
    accepted = {_folded(old): _folded(new) for old, new in (synonyms or {}).items()}
    species_of_tip: dict[str, str] = {}
    tip_of_species: dict[str, str] = {}
    extra: list[str] = []
    problems: list[Problem] = []
    for tip in tip_names:
        folded = _folded(tip)
        name = wanted.get(folded) or wanted.get(accepted.get(folded, ""))
        if name is None:
            extra.append(tip)
        elif name in tip_of_species:
            found = f"the tips {tip_of_species[name]} and {tip}, both of which are {name}"
            problems.append(_problem(file, 0, found, "one tip a species"))
        else:
            species_of_tip[tip] = name
            tip_of_species[name] = tip
    if problems:
        raise StudyProblems(tuple(problems))
    missing = tuple(name for name in wanted.values() if name not in tip_of_species)
    return NameMatch(species_of_tip=species_of_tip, missing=missing, extra=tuple(extra))


def _folded(name: str) -> str:
    return _plain(name).casefold()
