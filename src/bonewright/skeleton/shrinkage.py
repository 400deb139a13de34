"""What covariance the bones are pulled towards when they are too few to tell.

With nothing else known, the target is an animal that grows larger in all parts alike (each
measurement in proportion to size) and whose bones otherwise vary as much in one
measurement as in another. Living relatives make a better target: how steeply each of
their measurements follows size, which measurements of one bone move together, and which
are loose. Their spread is that between species, so that only its pattern is taken; its
amount is learned from the lost animal.

How strongly the pull acts is not chosen by hand: the spread about the target is itself
unknown, and is learned with the rest (:mod:`bonewright.skeleton.mean_draws`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["BETWEEN_SPECIES", "Pull", "ShrinkageTarget", "alike_in_all_parts"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShrinkageTarget:
    """Pattern of a covariance of log measurements, without its amount.

    ``size_loading`` (n_codes,): rise of ln length with ln size; mean 1.
    ``bone_loading`` (n_codes,): pattern of the deviation shared by the codes of one bone,
    up to a factor; 0 where nothing is known.
    ``residual_variance`` (n_codes,): pattern of each code's own variance; geometric mean 1.
    """

    size_loading: NDArray[np.float64]
    bone_loading: NDArray[np.float64]
    residual_variance: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """How strongly, to begin with, the covariance is pulled to its target.

    Each spread is a standard deviation in natural logarithms (``loading_spread`` is of
    loadings, which have no unit). ``size_weight`` is the number of imagined individuals that
    the size variance counts for: few enough to give way to a dozen real ones, enough that
    two bones alone do not allow for sizes that no animal has. ``residual_weight`` is half
    that number for the variance of a code, and is itself learned from ``weight_choices``.
    The defaults are common practice for grown birds of one species: size varies by about
    4 %, proportions by 1 %.
    """

    size_sd: float = 0.04
    size_weight: float = 4.0
    loading_spread: float = 0.2
    bone_spread: float = 0.01
    residual_sd: float = 0.012
    residual_weight: float = 2.0
    weight_choices: tuple[float, ...] = (2.0, 4.0, 8.0, 16.0)


BETWEEN_SPECIES = Pull(size_sd=0.5, loading_spread=0.3, bone_spread=0.08, residual_sd=0.08)
"""The same for means of species, which differ in size and build: common practice."""


def alike_in_all_parts(n_codes: int) -> ShrinkageTarget:
    """Return the target in which all measurements follow size one to one."""
    return ShrinkageTarget(
        size_loading=np.ones(n_codes),
        bone_loading=np.zeros(n_codes),
        residual_variance=np.ones(n_codes),
    )
