"""Each bone's line by several ways of fitting, and whether two groups share one.

Mass on a bone by least squares answers 'what mass for this bone?'. How mass and bone grow
together is another question: where both scatter, the slope of least squares is too flat for
it, and a symmetric line or one on the tree is asked ([Warton2006]_).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError
from bonewright.relatives.line import fit_line
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.symmetric_lines import common_slope, elevation_test, fit_symmetric_line
from bonewright.relatives.tree_algebra import Traversal
from bonewright.relatives.tree_samples import fit_over_trees
from bonewright.study.flat_tree import FlatTree, pruned

__all__ = ["BoneLines", "GroupTest", "compare_groups", "compare_lines"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneLines:
    """Slopes of ln mass on one ln bone, each with 95 % limits.

    ``least_squares``, ``major_axis`` (standardised), ``on_tree`` are (slope, low, high);
    ``scale`` is lambda with its profile limits. ``over_trees`` holds low and high of 90 % of
    the slopes and of the lambdas over the sample of trees, None with a single tree.
    """

    bone: tuple[str, str]
    n: int
    least_squares: tuple[float, float, float]
    major_axis: tuple[float, float, float]
    on_tree: tuple[float, float, float]
    scale: tuple[float, float, float]
    over_trees: tuple[float, float, float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupTest:
    """Whether two groups of species share a slope, and then a line.

    ``slope_p`` and ``elevation_p`` are p values of symmetric lines that differ no more than by
    chance; the second means little where the first is small.
    """

    bone: tuple[str, str]
    groups: tuple[str, str]
    n: tuple[int, int]
    common: tuple[float, float, float]
    slope_p: float
    elevation_p: float


def compare_lines(
    bone: tuple[str, str],
    traversal: Traversal,
    bone_ln: Array,
    mass_ln: Array,
    *,
    trees: Sequence[FlatTree] = (),
) -> BoneLines:
    """Fit one bone's line in every way; arrays stand in the order of the tips.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        As the fits do.
    """
    from scipy.special import stdtrit

    plain = fit_line(bone_ln, mass_ln)
    reach = float(stdtrit(plain.degrees_of_freedom, 0.975)) * plain.slope_se
    axis = fit_symmetric_line(bone_ln, mass_ln)
    tree = fit_on_tree(traversal, bone_ln[:, None], mass_ln, with_interval=True)
    slope, error = float(tree.coefficients[1]), float(tree.standard_errors[1])
    tree_reach = float(stdtrit(tree.degrees_of_freedom, 0.975)) * error
    low, high = tree.parameter_interval or (0.0, 1.0)
    over = None
    if len(trees) > 1:
        names = traversal.tip_names
        fits = fit_over_trees(
            (pruned(one, names) for one in trees),
            np.column_stack([bone_ln, mass_ln]),
            row_names=names,
            choices=((0, 1),),
        )
        ends = [0.05, 0.95]
        slopes = np.quantile(fits.coefficients[:, 0, 1], ends)
        scales = np.quantile(fits.scale[:, 0], ends)
        over = (float(slopes[0]), float(slopes[1]), float(scales[0]), float(scales[1]))
    return BoneLines(
        bone=bone,
        n=len(mass_ln),
        least_squares=(plain.slope, plain.slope - reach, plain.slope + reach),
        major_axis=(axis.slope, axis.slope_low or axis.slope, axis.slope_high or axis.slope),
        on_tree=(slope, slope - tree_reach, slope + tree_reach),
        scale=(tree.model.parameter, low, high),
        over_trees=over,
    )


def compare_groups(
    bone: tuple[str, str],
    bone_ln: Array,
    mass_ln: Array,
    *,
    members: NDArray[np.bool_],
    names: tuple[str, str],
) -> GroupTest | None:
    """Test whether members and others share slope and line; None where they are too few."""
    samples = tuple((bone_ln[side], mass_ln[side]) for side in (members, ~members))
    try:
        shared = common_slope(samples)
        elevation = elevation_test(samples, shared=shared)
    except BonewrightError:
        return None
    return GroupTest(
        bone=bone,
        groups=names,
        n=(int(members.sum()), int((~members).sum())),
        common=(shared.slope, shared.low, shared.high),
        slope_p=shared.p_value,
        elevation_p=elevation.p_value,
    )
