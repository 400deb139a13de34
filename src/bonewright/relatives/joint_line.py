"""The lost animal's mass from several leg bones at once, on the trees of its relatives."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from bonewright.errors import NotEnoughEvidence
from bonewright.quantity import Draws
from bonewright.relatives.gathering import SpeciesPoints
from bonewright.relatives.in_trees import (
    Spread,
    TreePlace,
    TreeTask,
    in_one_process,
    masses_on_tree,
    star_of,
    table_on,
)
from bonewright.relatives.joint_proof import (
    BoneSet,
    GroupTerm,
    Proved,
    bone_sets,
    needed_species,
    proved_best,
)
from bonewright.relatives.kin_and_size import BonesAndMass, fit_kin_and_size
from bonewright.relatives.results import Foretold, JointLine
from bonewright.study.flat_tree import FlatTree
from bonewright.study.model import Relative

__all__ = ["JointEvidence", "JointQuestion", "joint_line"]

Array = NDArray[np.float64]
Key = tuple[str, str]

_INTERVAL = np.array([0.025, 0.5, 0.975])


@dataclass(frozen=True, slots=True, kw_only=True)
class JointQuestion:
    """What is asked besides the bones: trees, the animal's place, its flight and gait.

    ``flight`` is 'flying', 'flightless' or 'unknown'; ``locomotion`` a way of moving of the
    table of relatives, or empty.
    """

    trees: tuple[FlatTree, ...] = ()
    place: TreePlace = field(default_factory=lambda: TreePlace(name="lost animal"))
    flight: str = "unknown"
    locomotion: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointEvidence:
    """The line, and what it says of the species of the blind proof (None if it cannot)."""

    line: JointLine
    blind: Foretold | None


def joint_line(
    points: Mapping[Key, SpeciesPoints],
    relatives: Sequence[Relative],
    *,
    bone_draws_mm: Mapping[Key, Draws],
    question: JointQuestion,
    blind_species: str | None,
    rng: np.random.Generator,
    spread: Spread = in_one_process,
) -> JointEvidence:
    """Choose bones and groups by proof, then draw the lost animal's mass on every tree.

    Parameters
    ----------
    points : mapping
        Usable measurements over species.
    relatives : sequence of Relative
        Their rows, for families, flight and gait.
    bone_draws_mm : mapping of (element, code) to (n_draws,) float
        The average skeleton.
    question : JointQuestion
    blind_species : str, optional
    rng
        Source of the scatter.
    spread : Spread, optional
        How the trees' tasks are shared out; the numbers do not depend on it.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        If too few relatives share the bones, or the animal cannot hang in a tree.
    """
    keys = tuple(key for key in points if key in bone_draws_mm)
    rows = {row.species: row for row in relatives}
    star = not question.trees
    in_tree = set(rows) if star else set(question.trees[0].tip_names)

    def species_with(chosen: tuple[Key, ...]) -> tuple[str, ...]:
        shared = set.intersection(*(set(points[key].species) for key in chosen)) & in_tree
        return tuple(name for name in rows if name in shared)

    def task_of(bones: BoneSet, group: GroupTerm | None = None) -> TreeTask:
        species = species_with(bones.keys)
        return _task(
            points, rows, bones=bones, group=group, species=species, question=question, star=star
        )

    def table_of(bones: BoneSet) -> tuple[BonesAndMass, Sequence[str]]:
        table = table_on(task_of(bones))
        return table, tuple(rows[name].family or "" for name in table.traversal.tip_names)

    best, trials = proved_best(
        bone_sets(keys, n_species=lambda chosen: len(species_with(chosen))),
        lambda names: _groups(names, rows, question=question),
        table_of=table_of,
    )
    lost_ln = np.column_stack([np.log(bone_draws_mm[key]) for key in best.bones.keys])
    uniform = rng.random(len(lost_ln))
    trees = question.trees or (star_of(tuple(rows)),)
    first = task_of(best.bones, best.group)
    tasks = [
        _with_draws(first, tree, lost_ln[number :: len(trees)], uniform[number :: len(trees)])
        for number, tree in enumerate(trees[: len(lost_ln)])
    ]
    answers = spread(masses_on_tree, tasks)
    mass_ln = np.empty(len(lost_ln))
    for number, answer in enumerate(answers):
        mass_ln[number :: len(tasks)] = answer.mass_ln
    heavy, descent, misfit, lines = np.mean(
        [(a.heavy, a.by_descent, a.misfit, a.from_lines) for a in answers], axis=0
    )
    n_bones = len(best.bones.keys)
    line = JointLine(
        bones=best.bones.keys,
        species=best.fit.table.traversal.tip_names,
        mass_draws_kg=np.exp(mass_ln),
        trial=best.trial,
        trials=trials,
        each_left_out=best.each,
        heaviest_out=best.heaviest,
        heaviest_kg=float(np.exp(np.max(best.fit.table.mass_ln))),
        heavy_percent=100 * float(heavy),
        by_descent_percent=100 * float(descent),
        misfit_p=float(chdtrc(n_bones - 1, misfit)) if n_bones > 1 else 1.0,
        lines_percent=100 * float(lines),
        n_trees=0 if star else len(tasks),
        placed=_place_words(question),
        rows=tuple(ref for key in best.bones.keys for ref in points[key].rows),
        tasks=tuple(tasks),
    )
    return JointEvidence(line=line, blind=_blind(best, blind_species))


def _task(
    points: Mapping[Key, SpeciesPoints],
    rows: Mapping[str, Relative],
    *,
    bones: BoneSet,
    group: GroupTerm | None,
    species: tuple[str, ...],
    question: JointQuestion,
    star: bool,
) -> TreeTask:
    if len(species) < 3:
        raise NotEnoughEvidence(
            "Several leg bones together could not tell the mass.",
            needed=f"{needed_species()}, all of them in the tree",
            found=str(len(species)),
            would_help="rows in relative_measurements.csv, or a tree that names the relatives",
        )
    columns = []
    for key in bones.keys:
        value = dict(zip(points[key].species, points[key].bone_mm, strict=True))
        columns.append([value[name] for name in species])
    members = np.zeros((len(species), 0))
    lost_groups = np.zeros(0)
    if group is not None:
        members = _members(group.of, species, rows, question)[:, None]
        lost_groups = np.array([group.of_lost])
    return TreeTask(
        tree=star_of(species) if star else question.trees[0],
        place=question.place,
        species=species,
        mass_ln=np.log([rows[name].body_mass_kg for name in species]),
        bones_ln=np.log(np.array(columns).T),
        groups=members,
        interaction=group is not None and group.slope,
        lost_bones_ln=np.zeros((0, len(bones.keys))),
        lost_groups=lost_groups,
        uniform=np.zeros(0),
    )


def _with_draws(task: TreeTask, tree: FlatTree, lost_ln: Array, uniform: Array) -> TreeTask:
    return replace(task, tree=tree, lost_bones_ln=lost_ln, uniform=uniform)


def _members(
    name: str, species: Sequence[str], rows: Mapping[str, Relative], question: JointQuestion
) -> Array:
    if name == "flightless":
        return np.array([float(rows[one].flight == "flightless") for one in species])
    return np.array([float(rows[one].locomotion == question.locomotion) for one in species])


def _groups(
    names: tuple[str, ...], rows: Mapping[str, Relative], *, question: JointQuestion
) -> list[GroupTerm]:
    """List groups on which the lost animal's side is known."""
    found = []
    if question.flight in ("flying", "flightless"):
        found.append(("flightless", float(question.flight == "flightless")))
    if question.locomotion:
        found.append((question.locomotion, 1.0))
    return [
        GroupTerm(
            of=name,
            members=_members(name, names, rows, question),
            of_lost=of_lost,
            slope=slope,
        )
        for name, of_lost in found
        for slope in (False, True)
    ]


def _place_words(question: JointQuestion) -> str:
    place = question.place
    if not question.trees:
        return "no tree: every species taken for as near as any other"
    if place.name in question.trees[0].tip_names:
        return "where the tree file puts it"
    if not place.beside:
        return "at the root of the tree, kin to all relatives alike"
    beside = ", ".join(place.beside)
    if place.stem_age is None:
        return f"anywhere on the stem of {beside}"
    low, high = place.stem_age
    return f"beside {beside}, its line leaving {low:g} to {high:g} before the present"


def _blind(best: Proved, species: str | None) -> Foretold | None:
    """Foretell the species of the blind proof with both covariances refitted without it."""
    table = best.fit.table
    names = table.traversal.tip_names
    if species not in names:
        return None
    row = names.index(species)
    others = np.arange(len(names)) != row
    told = fit_kin_and_size(table, observed=others, start=best.fit).of_left_out(np.array([row]))
    low, middle, high = np.exp(told.quantiles_ln(_INTERVAL)[0])
    return Foretold(
        species=species,
        known_kg=float(np.exp(table.mass_ln[row])),
        low_kg=float(low),
        middle_kg=float(middle),
        high_kg=float(high),
    )
