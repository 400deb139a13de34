"""The slow proof on a study's relatives: every method, every line, every group."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.relatives.doubts import relatives_doubts
from bonewright.relatives.gathering import SpeciesPoints, points_by_measurement
from bonewright.relatives.in_trees import star_of
from bonewright.relatives.kin_and_size import BonesAndMass
from bonewright.relatives.leg_bones import rows_out
from bonewright.relatives.line import of_different_sizes
from bonewright.relatives.lines_compared import (
    BoneLines,
    GroupTest,
    compare_groups,
    compare_lines,
)
from bonewright.relatives.methods_compared import MethodScore, compare_methods
from bonewright.relatives.telling_lines import LEAST_SPECIES
from bonewright.relatives.tree_algebra import traversal_of
from bonewright.study.flat_tree import FlatTree, pruned
from bonewright.study.model import Relative, RelativeMeasurement

__all__ = ["MethodsTried", "try_methods"]

Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodsTried:
    """What every method made of the study's relatives.

    ``scores`` are on ``bones`` together; ``lines`` and ``groups`` on each bone by itself.
    """

    bones: tuple[Key, ...]
    n_species: int
    n_trees: int
    scores: tuple[MethodScore, ...]
    lines: tuple[BoneLines, ...]
    groups: tuple[GroupTest, ...]


def try_methods(
    relatives: Sequence[Relative],
    measurements: Sequence[RelativeMeasurement],
    *,
    bones: tuple[Key, ...],
    trees: Sequence[FlatTree],
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
) -> MethodsTried:
    """Try every method on relatives of known mass.

    Parameters
    ----------
    relatives, measurements
        Checked rows, as the step itself takes them.
    bones : tuple of (element, code)
        The bones of the joint line.
    trees : sequence of FlatTree
        Trees of the relatives; none takes species for independent.
    kept, set_aside
        The person's decisions.

    Raises
    ------
    NotEnoughEvidence
        If too few relatives have all of the bones and a place in the tree.
    """
    doubts = relatives_doubts(tuple(relatives), tuple(measurements), kept=kept, set_aside=set_aside)
    out = rows_out(relatives, measurements, doubts, set_aside=set_aside)
    rows = {row.species: row for row in relatives if row.ref not in out}
    points = points_by_measurement(
        rows.values(), (row for row in measurements if row.ref not in out)
    )
    if any(key not in points for key in bones):
        raise NotEnoughEvidence(
            "The methods could not be compared.",
            needed="relatives with the bones of the joint line",
            found="none for some of them",
            would_help="rows in relative_measurements.csv",
        )
    tree = trees[0] if trees else star_of(tuple(rows))
    table = _table(points, rows, bones=bones, tree=tree)
    lines, groups = [], []
    for key, entry in points.items():
        if len(entry.species) < LEAST_SPECIES + 1 or not of_different_sizes(entry.bone_mm):
            continue
        one = _table(points, rows, bones=(key,), tree=tree)
        bone_ln = one.bones_ln[:, 0]
        lines.append(compare_lines(key, one.traversal, bone_ln, one.mass_ln, trees=trees))
        flightless = np.array(
            [rows[name].flight == "flightless" for name in one.traversal.tip_names]
        )
        test = compare_groups(
            key, bone_ln, one.mass_ln, members=flightless, names=("flightless", "others")
        )
        if test is not None:
            groups.append(test)
    names = table.traversal.tip_names
    return MethodsTried(
        bones=bones,
        n_species=len(names),
        n_trees=len(trees),
        scores=compare_methods(table, families=tuple(rows[name].family or "" for name in names)),
        lines=tuple(lines),
        groups=tuple(groups),
    )


def _table(
    points: Mapping[Key, SpeciesPoints],
    rows: Mapping[str, Relative],
    *,
    bones: tuple[Key, ...],
    tree: FlatTree,
) -> BonesAndMass:
    """Return the species that have all of the bones, in the order of the tree's tips."""
    value = [
        dict(zip(points[key].species, points[key].bone_mm.tolist(), strict=True)) for key in bones
    ]
    shared = set.intersection(*(set(of_bone) for of_bone in value)) & set(tree.tip_names)
    least = len(bones) + LEAST_SPECIES + 1
    if len(shared) < least:
        raise NotEnoughEvidence(
            "The methods could not be compared.",
            needed=f"at least {least} relatives with all of the bones and a place in the tree",
            found=str(len(shared)),
            would_help="rows in relative_measurements.csv, or a tree that names the relatives",
        )
    traversal = traversal_of(pruned(tree, tuple(shared)))
    names = traversal.tip_names
    return BonesAndMass(
        traversal=traversal,
        mass_ln=np.log([rows[name].body_mass_kg for name in names]),
        bones_ln=np.log([[of_bone[name] for of_bone in value] for name in names]),
        groups=np.zeros((len(names), 0)),
    )
