"""A family tree as plain arrays: what the steps see of a tree file.

Nodes stand in postorder: every child before its parent, the root last, and the nodes of
a subtree side by side. Nothing here knows of files; :mod:`bonewright.study.trees` reads them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError, NotEnoughEvidence, OutsideRange

__all__ = ["FlatTree", "beside_clade", "pruned", "relabelled"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlatTree:
    """A rooted tree with branch lengths.

    ``parent`` (n_nodes,) holds the place of each node's parent, -1 for the root, which is
    last. ``length`` (n_nodes,) is the branch above each node, in the tree's own unit
    (million years in a time tree); the root's own branch is kept at 0, since no
    comparison between tips depends on it. ``tip_names`` name the childless nodes in
    their order; ``clades`` pairs the name of a labelled inner node with its place.

    Raises
    ------
    BonewrightError
        If the arrays do not describe such a tree.
    """

    parent: NDArray[np.int64]
    length: NDArray[np.float64]
    tip_names: tuple[str, ...]
    clades: tuple[tuple[str, int], ...] = ()

    def __post_init__(self) -> None:
        parent = np.array(self.parent, dtype=np.int64, copy=True)
        length = np.array(self.length, dtype=np.float64, copy=True)
        fault = _fault(parent, length, n_names=len(self.tip_names))
        if fault:
            raise BonewrightError(fault, remedy="Build the tree from a file or from its clades.")
        length[-1] = 0.0
        parent.flags.writeable = False
        length.flags.writeable = False
        object.__setattr__(self, "parent", parent)
        object.__setattr__(self, "length", length)

    @property
    def n_tips(self) -> int:
        """Number of tips."""
        return len(self.tip_names)

    @property
    def n_children(self) -> NDArray[np.int64]:
        """Number of children of each node, (n_nodes,)."""
        return np.bincount(self.parent[:-1], minlength=self.parent.size).astype(np.int64)

    @property
    def tip_nodes(self) -> NDArray[np.int64]:
        """Place of each tip among the nodes, in the order of ``tip_names``."""
        return np.flatnonzero(self.n_children == 0)

    @property
    def depth(self) -> NDArray[np.float64]:
        """Distance of each node from the root, (n_nodes,), in the unit of ``length``."""
        depth = np.zeros(self.length.size)
        parents = self.parent.tolist()
        lengths = self.length.tolist()
        depths = depth.tolist()
        for node in range(len(parents) - 2, -1, -1):
            depths[node] = depths[parents[node]] + lengths[node]
        depth[:] = depths
        return depth

    def is_ultrametric(self, *, relative_tolerance: float = 1e-4) -> bool:
        """Say whether all tips stand at one distance from the root, within a share of it.

        Branch lengths rounded to a few digits in a file stay within it.
        """
        heights = self.depth[self.tip_nodes]
        return bool(np.ptp(heights) <= relative_tolerance * np.max(heights))


def _fault(parent: NDArray[np.int64], length: NDArray[np.float64], *, n_names: int) -> str:
    if parent.ndim != 1 or parent.size == 0 or parent.shape != length.shape:
        return "A tree needs one parent and one branch length a node."
    if parent[-1] != -1 or np.any(parent[:-1] <= np.arange(parent.size - 1)):
        return "A tree's nodes must stand children first, the root last."
    if np.any(parent[:-1] >= parent.size):
        return "A tree's parent lies outside the tree."
    if not np.all(np.isfinite(length)) or np.any(length < 0):
        return "A tree's branch lengths must be finite and not negative."
    n_tips = int(np.sum(np.bincount(parent[:-1], minlength=parent.size) == 0))
    if n_tips != n_names:
        return f"A tree of {n_tips} tips came with {n_names} names."
    if not _subtrees_stand_together(parent):
        return "The nodes of each subtree must stand side by side."
    return ""


def _subtrees_stand_together(parent: NDArray[np.int64]) -> bool:
    """Check that reading the nodes in order and folding children into parents never skips."""
    size = np.ones(parent.size, dtype=np.int64).tolist()
    parents = parent.tolist()
    for node in range(len(parents) - 1):
        size[parents[node]] += size[node]
    # In a true postorder the last child stands just before its parent, and each earlier
    # child just before the subtree of the next.
    first = [node - size[node] + 1 for node in range(len(parents))]
    expected_end = [node - 1 for node in range(len(parents))]
    for node in range(len(parents) - 2, -1, -1):
        mother = parents[node]
        if expected_end[mother] != node:
            return False
        expected_end[mother] = first[node] - 1
    return True


def relabelled(tree: FlatTree, tip_names: Sequence[str]) -> FlatTree:
    """Give the tips other names, in the same order."""
    return FlatTree(
        parent=tree.parent, length=tree.length, tip_names=tuple(tip_names), clades=tree.clades
    )


def pruned(tree: FlatTree, keep: Sequence[str]) -> FlatTree:
    """Keep only the named tips; nodes left with one child are joined to it.

    Path lengths between the tips that stay are unchanged. The branch from the old root to
    the new one is dropped.

    Raises
    ------
    NotEnoughEvidence
        If fewer than two of the names are tips of the tree.
    """
    wanted = set(keep)
    names = iter(tree.tip_names)
    n_children = tree.n_children.tolist()
    parents, lengths = tree.parent.tolist(), tree.length.tolist()
    clade_at = {node: name for name, node in tree.clades}
    waiting: dict[int, list[int]] = {}
    # new nodes in creation order; a parent is always created after its children
    new_parent: list[int] = []
    new_length: list[float] = []
    tip_names: list[str] = []
    clades: list[tuple[str, int]] = []
    for node, mother in enumerate(parents):
        if n_children[node] == 0:
            name = next(names)
            if name not in wanted:
                continue
            tip_names.append(name)
            here = _append(new_parent, new_length, lengths[node])
        else:
            children = waiting.pop(node, [])
            if not children:
                continue
            if len(children) == 1:
                here = children[0]
                new_length[here] += lengths[node]
            else:
                here = _append(new_parent, new_length, lengths[node])
                for child in children:
                    new_parent[child] = here
                if node in clade_at:
                    clades.append((clade_at[node], here))
        if mother >= 0:
            waiting.setdefault(mother, []).append(here)
    if len(tip_names) < 2:
        raise NotEnoughEvidence(
            "The tree cannot be cut down to these species.",
            needed="at least two species that are tips of the tree",
            found=str(len(tip_names)),
            would_help="relatives whose names stand in the tree, or a row of synonyms",
        )
    return FlatTree(
        parent=np.array(new_parent),
        length=np.array(new_length),
        tip_names=tuple(tip_names),
        clades=tuple(clades),
    )


def _append(parents: list[int], lengths: list[float], length: float) -> int:
    parents.append(-1)
    lengths.append(length)
    return len(parents) - 1


def beside_clade(
    tree: FlatTree,
    name: str,
    *,
    clade: Sequence[str],
    stem_age: float,
    tip_age: float = 0.0,
) -> FlatTree:
    """Hang a new tip beside a clade, on the stem above it.

    Parameters
    ----------
    tree : FlatTree
        A time tree: all its tips live at age 0.
    name : str
        The new tip.
    clade : sequence of str
        Tips whose youngest common ancestor is the clade, or the one label of an inner
        node. A single tip may be given.
    stem_age : float
        When the new tip's line left the clade's, before the present, in the tree's unit.
        Draw it from its range and call once a draw. Where it is older than the stem's
        start, the line leaves an older branch further down; where it is younger than the
        clade itself, no such stem exists.
    tip_age : float
        When the new tip lived, before the present, in the same unit.

    Raises
    ------
    NotEnoughEvidence
        If the clade is not in the tree.
    OutsideRange
        If the tree is no time tree, or the age lies below the clade's own or above the root.
    """
    if not tree.is_ultrametric():
        raise OutsideRange(
            "Ages can only be given on a tree whose living tips all end at the same time.",
            remedy="Use a time tree, or hang the animal in the tree file itself.",
        )
    if name in tree.tip_names:
        raise OutsideRange(
            f"{name} is a tip of the tree already.", remedy="Place it once, in file or table."
        )
    depth = tree.depth
    height = float(np.max(depth))
    node = _clade_node(tree, clade)
    clade_age = height - float(depth[node])
    slack = 1e-9 * height
    if not clade_age - slack <= stem_age <= height + slack or not 0 <= tip_age <= stem_age:
        raise OutsideRange(
            f"{name} cannot leave the stem of this clade {stem_age:g} before the present:"
            f" the clade itself is {clade_age:g} old, the tree {height:g}.",
            remedy="Give a stem age between the two, older than the animal itself.",
        )
    while tree.parent[node] >= 0 and height - depth[tree.parent[node]] < stem_age:
        node = int(tree.parent[node])
    below = min(max(stem_age - (height - float(depth[node])), 0.0), float(tree.length[node]))
    return _with_sister(tree, name, node, below=below, tip_length=stem_age - tip_age)


def _clade_node(tree: FlatTree, clade: Sequence[str]) -> int:
    labels = dict(tree.clades)
    if len(clade) == 1 and clade[0] in labels:
        return labels[clade[0]]
    place: dict[str, int] = dict(zip(tree.tip_names, tree.tip_nodes.tolist(), strict=True))
    absent = [tip for tip in clade if tip not in place]
    if absent or not clade:
        raise NotEnoughEvidence(
            "The clade the lost animal hangs beside is not in the tree.",
            needed="names of tips, or the label of a clade",
            found=", ".join(absent) or "no name",
            would_help="the clade's species as the tree spells them",
        )
    # The last of two nodes in postorder is never below the other: walk the earlier one up.
    node = place[clade[0]]
    for tip in clade[1:]:
        other = place[tip]
        while node != other:
            if node < other:
                node = int(tree.parent[node])
            else:
                other = int(tree.parent[other])
    return node


def _with_sister(
    tree: FlatTree, name: str, node: int, *, below: float, tip_length: float
) -> FlatTree:
    """Insert, just after ``node``, a tip and the fork that joins the two."""
    tip, fork = node + 1, node + 2
    shift = np.where(np.arange(tree.parent.size) <= node, 0, 2)
    new_place = np.arange(tree.parent.size) + shift
    parent = np.empty(tree.parent.size + 2, dtype=np.int64)
    length = np.empty(tree.parent.size + 2)
    moved = np.where(tree.parent >= 0, new_place[tree.parent], -1)
    parent[new_place], length[new_place] = moved, tree.length
    parent[fork], length[fork] = moved[node], max(float(tree.length[node]) - below, 0.0)
    parent[[node, tip]] = fork
    length[node], length[tip] = below, tip_length
    if moved[node] < 0:
        length[fork] = 0.0
    tips_before = int(np.searchsorted(tree.tip_nodes, node, side="right"))
    names = (*tree.tip_names[:tips_before], name, *tree.tip_names[tips_before:])
    clades = tuple((label, int(new_place[place])) for label, place in tree.clades)
    return FlatTree(parent=parent, length=length, tip_names=names, clades=clades)
