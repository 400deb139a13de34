"""The lost animal hung in every tree of the sample, and its mass drawn at each place.

One task is one tree: whoever computes it, in whatever order, gets the same numbers, so that
tasks may be spread over many machines.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.relatives.kin_and_size import BonesAndMass, KinAndSize, fit_kin_and_size
from bonewright.relatives.mass_posterior import MassPosterior
from bonewright.relatives.tree_algebra import Traversal, traversal_of
from bonewright.remembering import tell_progress
from bonewright.study.flat_tree import FlatTree, beside_clade, pruned

__all__ = [
    "OnOneTree",
    "Spread",
    "TreePlace",
    "TreeTask",
    "at_root",
    "draws_on_tree",
    "fit_on_tree",
    "in_one_process",
    "masses_on_tree",
    "star_of",
    "stem_limits",
]

Array = NDArray[np.float64]
Task = TypeVar("Task")
Answer = TypeVar("Answer")

_PLACES = 8
_ANCHORS = 9
_STEPS = 801


class Spread(Protocol):
    """Compute one function of many tasks, answers in the order of the tasks."""

    def __call__(self, function: Callable[[Task], Answer], tasks: Sequence[Task]) -> list[Answer]:
        """Return ``function`` of every task."""
        ...


def in_one_process(function: Callable[[Task], Answer], tasks: Sequence[Task]) -> list[Answer]:
    """Compute tasks one after the other, here."""
    answers: list[Answer] = []
    for task in tasks:
        tell_progress(len(answers), len(tasks))
        answers.append(function(task))
    return answers


@dataclass(frozen=True, slots=True, kw_only=True)
class TreePlace:
    """Where the lost animal hangs: its name, the species it stands beside, its stem's age.

    Without ``beside`` it hangs at the root; without ``stem_age`` anywhere on the stem of the
    species beside it, in the tree's unit before the present.
    """

    name: str
    beside: tuple[str, ...] = ()
    stem_age: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TreeTask:
    """Everything one tree needs. Arrays stand in the order of ``species``.

    ``lost_bones_ln`` (n_draws, n_bones) and ``uniform`` (n_draws,) are the draws that fall to
    this tree; ``lost_groups`` (n_groups,).
    """

    tree: FlatTree
    place: TreePlace
    species: tuple[str, ...]
    mass_ln: Array
    bones_ln: Array
    groups: Array
    interaction: bool
    lost_bones_ln: Array
    lost_groups: Array
    uniform: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnOneTree:
    """Draws of ln mass on one tree, and what was found on the way (see ``JointLine``)."""

    mass_ln: Array
    heavy: float
    by_descent: float
    misfit: float
    from_lines: float


def star_of(names: tuple[str, ...]) -> FlatTree:
    """Return a tree in which no species is kin to another."""
    n = len(names)
    return FlatTree(
        parent=np.array([*[n] * n, -1]), length=np.array([*[1.0] * n, 0.0]), tip_names=names
    )


def at_root(tree: FlatTree, name: str) -> FlatTree:
    """Hang a tip on the root, as far from it as the other tips stand on the average."""
    root = tree.parent.size - 1
    parent = np.where(tree.parent == root, root + 1, tree.parent)
    reach = float(np.mean(tree.depth[tree.tip_nodes]))
    return FlatTree(
        parent=np.array([*parent[:-1], root + 1, -1]),
        length=np.array([*tree.length[:-1], reach, 0.0]),
        tip_names=(*tree.tip_names, name),
    )


def _hung(tree: FlatTree, place: TreePlace, share: float) -> FlatTree:
    """Hang the lost animal at ``share`` of the way through the range of its stem's age."""
    if place.name in tree.tip_names:
        return tree
    if not place.beside:
        return at_root(tree, place.name)
    absent = [name for name in place.beside if name not in tree.tip_names]
    if absent:
        raise NotEnoughEvidence(
            "The lost animal cannot be hung in the tree.",
            needed="the species it stands beside, as tips of the tree",
            found="a tree without " + ", ".join(absent),
            would_help="the names as the tree or the table of relatives spells them",
        )
    clade_age, stem_start = stem_limits(tree, place.beside)
    height = float(np.max(tree.depth))
    low, high = place.stem_age or (clade_age, stem_start)
    age = float(np.clip(low + share * (high - low), clade_age, height))
    return beside_clade(tree, place.name, clade=place.beside, stem_age=age)


def stem_limits(tree: FlatTree, beside: Sequence[str]) -> tuple[float, float]:
    """Return the ages, before the present, between which the stem of some species runs."""
    heights = tree.depth
    height = float(np.max(heights))
    node = _common(tree, tuple(beside))
    above = int(tree.parent[node])
    stem_start = height if above < 0 else height - float(heights[above])
    return height - float(heights[node]), stem_start


def _common(tree: FlatTree, names: tuple[str, ...]) -> int:
    """Return the youngest node above all the named tips."""
    nodes = [int(tree.tip_nodes[tree.tip_names.index(name)]) for name in names]
    here = nodes[0]
    for other in nodes[1:]:
        while here != other:
            if here < other:
                here = int(tree.parent[here])
            else:
                other = int(tree.parent[other])
    return here


def table_on(task: TreeTask) -> BonesAndMass:
    """Return the task's species as a table in the order of the tree's tips."""
    traversal = traversal_of(pruned(task.tree, task.species))
    rows = traversal.rows_of(task.species)
    return BonesAndMass(
        traversal=traversal,
        mass_ln=task.mass_ln[rows],
        bones_ln=task.bones_ln[rows],
        groups=task.groups[rows],
        interaction=task.interaction,
    )


def masses_on_tree(task: TreeTask) -> OnOneTree:
    """Fit the joint model on one tree and draw the lost animal's mass there.

    Raises
    ------
    NotEnoughEvidence
        If the tree lacks some of the species.
    OutsideRange
        If the animal cannot hang there.
    """
    return _read_on_tree(task, fit_on_tree(task))


def fit_on_tree(task: TreeTask) -> KinAndSize:
    """Fit the joint model to the relatives on one tree; the lost animal has no part in it."""
    absent = set(task.species) - set(task.tree.tip_names)
    if absent:
        raise NotEnoughEvidence(
            "A tree of the sample lacks species that the first one has.",
            needed="the same species in every tree",
            found="a tree without " + ", ".join(sorted(absent)[:5]),
            would_help="trees exported with the same species",
        )
    return fit_kin_and_size(table_on(task))


def _read_on_tree(task: TreeTask, fit: KinAndSize) -> OnOneTree:
    """Draw the lost animal's mass where the task hangs it, by a fit on the same tree."""
    drawn = np.empty(len(task.uniform))
    told = []
    for here, read in _places_of(task, fit):
        drawn[here] = _drawn(read, task.lost_bones_ln[here], task.uniform[here])
        middle, heavy = read(np.mean(task.lost_bones_ln, axis=0, keepdims=True))
        told.append((float(heavy[0]), float(middle.misfit[0]), float(middle.from_lines[0])))
    heavy, misfit, from_lines = np.mean(told, axis=0)
    return OnOneTree(
        mass_ln=drawn,
        heavy=float(heavy),
        by_descent=_by_descent(fit),
        misfit=float(misfit),
        from_lines=float(from_lines),
    )


def draws_on_tree(task: TreeTask, fit: KinAndSize) -> Array:
    """Draw ln mass, (n_draws,), as :func:`masses_on_tree` does, and nothing else."""
    drawn = np.empty(len(task.uniform))
    for here, read in _places_of(task, fit):
        drawn[here] = _drawn(read, task.lost_bones_ln[here], task.uniform[here])
    return drawn


Read = Callable[[Array], tuple[MassPosterior, Array]]


def _places_of(task: TreeTask, fit: KinAndSize) -> Iterator[tuple[slice, Read]]:
    """Yield each place where the animal is hung: the draws that fall to it, and how to read."""
    placed_in_file = task.place.name in task.tree.tip_names or not task.place.beside
    n_places = 1 if placed_in_file else min(_PLACES, len(task.uniform))
    for number in range(n_places):
        hung = _hung(task.tree, task.place, (number + 0.5) / n_places)
        larger = traversal_of(pruned(hung, (*task.species, task.place.name)))

        def read(bones_ln: Array, larger: Traversal = larger) -> tuple[MassPosterior, Array]:
            return fit.of_new_tip(
                larger, task.place.name, bones_ln=bones_ln, groups=task.lost_groups
            )

        yield slice(number, None, n_places), read


def _by_descent(fit: KinAndSize) -> float:
    """Return the share of the bones' deviations from their lines that came by descent."""
    descent, own = np.trace(fit.size.descent), np.trace(fit.size.own)
    return float(descent / (descent + own))


def _drawn(read: Read, bones_ln: Array, uniform: Array) -> Array:
    """Draw ln mass for each draw of the bones.

    The answer changes with the bones almost along one direction only, that of a larger
    animal. It is worked out whole at a few sizes along it and taken between them, so that each
    draw keeps its place among the draws of its own bones.
    """
    if len(bones_ln) <= _ANCHORS:
        told = read(bones_ln)[0]
        return np.array(
            [
                np.interp(share, below, grid)
                for share, below, grid in zip(uniform, told.cumulative, told.grid_ln, strict=True)
            ]
        )
    centre = np.mean(bones_ln, axis=0)
    # Which bones tell most of the mass: how the middle answer moves with each.
    step = 0.01
    moved = np.vstack([centre, centre + step * np.eye(len(centre))])
    middle = read(moved)[0].quantiles_ln(np.array([0.5]))[:, 0]
    size = (bones_ln - centre) @ ((middle[1:] - middle[0]) / step)
    spread = float(np.std(size))
    if spread < 1e-9:
        anchors, stands = np.zeros(2), np.vstack([centre, centre])
        anchors[1] = 1.0
    else:
        along = (bones_ln - centre).T @ size / float(size @ size)
        anchors = np.linspace(float(np.min(size)), float(np.max(size)), _ANCHORS)
        stands = centre + anchors[:, None] * along
    shares = (np.arange(_STEPS) + 0.5) / _STEPS
    # Finer toward the ends, where draws are few and far apart.
    shares = np.clip(0.5 - 0.5 * np.cos(np.pi * shares), 1e-6, 1 - 1e-6)
    table = read(stands)[0].quantiles_ln(shares)
    place = np.clip((size - anchors[0]) / (anchors[1] - anchors[0]), 0, len(anchors) - 1)
    before = np.minimum(place.astype(np.int64), len(anchors) - 2)
    step_in = np.interp(uniform, shares, np.arange(_STEPS))
    low = np.minimum(step_in.astype(np.int64), _STEPS - 2)
    rest = step_in - low
    at_before = table[before, low] * (1 - rest) + table[before, low + 1] * rest
    at_after = table[before + 1, low] * (1 - rest) + table[before + 1, low + 1] * rest
    toward = place - before
    return np.asarray(at_before * (1 - toward) + at_after * toward)
