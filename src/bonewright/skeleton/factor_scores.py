"""Size of each individual given the model, whatever it has left, and the model's parameters.

The model says that ln length = mean + loading x size + bone loading x deviation of that
bone + the measurement's own residual + measuring error. Given its parameters, the size of
an individual and the deviations of its bones are normal whatever is missing. The sums run
over the measurements there are (:mod:`bonewright.skeleton.factor_kernels`).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.shrinkage import Pull, ShrinkageTarget

if TYPE_CHECKING:
    from bonewright.skeleton.factor_kernels import Cells, Chain, Prior

__all__ = ["FactorParameters", "cells_of", "chain_from", "prior_of", "size_posterior"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FactorParameters:
    """Parameters of the factor model, on natural logarithms.

    ``mean_ln``, ``loading``, ``bone_loading`` and ``residual_variance`` are (p,);
    ``element`` (p,) numbers the element of each code.
    """

    mean_ln: Array
    loading: Array
    size_variance: float
    bone_loading: Array
    residual_variance: Array
    element: NDArray[np.intp]

    def covariance_ln(self) -> Array:
        """Covariance between individuals, (p, p), without measuring error."""
        same_bone = self.element[:, None] == self.element[None, :]
        covariance = self.size_variance * np.outer(self.loading, self.loading)
        covariance += same_bone * np.outer(self.bone_loading, self.bone_loading)
        return np.asarray(covariance + np.diag(self.residual_variance))


def size_posterior(parameters: FactorParameters, matrix: LnMatrix) -> tuple[Array, Array]:
    """Return mean and precision of every row's size given its measurements, (n_rows,) each."""
    from bonewright.skeleton.factor_kernels import scores_of_rows

    return scores_of_rows(cells_of(matrix), chain_from(parameters, len(matrix.rows)))


def cells_of(matrix: LnMatrix) -> "Cells":
    """Lay a table out as the cells that it has."""
    from bonewright.skeleton.factor_kernels import Cells

    element = matrix.element_of_code
    row, column = np.nonzero(matrix.present)
    return Cells(
        start=np.searchsorted(row, np.arange(len(matrix.rows) + 1)).astype(np.int64),
        column=column.astype(np.int64),
        value=matrix.values_ln[row, column],
        error2=matrix.error_sd_ln[row, column] ** 2,
        element=element.astype(np.int64),
        n_elements=int(element.max()) + 1,
        several=np.bincount(element)[element] > 1,
    )


def chain_from(parameters: FactorParameters, n_rows: int, *, pull: Pull | None = None) -> "Chain":
    """Lay parameters out as a chain that begins with them; one sex, its scales as in ``pull``."""
    from bonewright.skeleton import factor_kernels as kernels

    pull = pull or Pull()
    single = np.zeros(8)
    single[kernels.SIZE_VARIANCE] = parameters.size_variance
    single[kernels.LOADING_SPREAD2] = pull.loading_spread**2
    single[kernels.BONE_SPREAD2] = pull.bone_spread**2
    single[kernels.RESIDUAL_SCALE] = pull.residual_sd**2
    single[kernels.RESIDUAL_WEIGHT] = pull.residual_weight
    single[kernels.SHARE] = 0.5
    return kernels.Chain(
        mean=np.array(parameters.mean_ln),
        loading=np.array(parameters.loading),
        bone=np.array(parameters.bone_loading),
        residual=np.array(parameters.residual_variance),
        single=single,
        larger=np.full(n_rows, 0.5),
    )


def prior_of(target: ShrinkageTarget, pull: Pull, *, pulled: bool = True) -> "Prior":
    """Lay target and pull out for the compiled loops; without ``pulled`` they have no force."""
    from bonewright.skeleton.factor_kernels import Prior

    return Prior(
        pulled=pulled,
        size_loading=np.array(target.size_loading),
        bone_loading=np.array(target.bone_loading),
        residual_variance=np.array(target.residual_variance),
        size_sd=pull.size_sd,
        size_weight=pull.size_weight,
        loading_spread=pull.loading_spread,
        bone_spread=pull.bone_spread,
        residual_sd=pull.residual_sd,
        residual_weight=pull.residual_weight,
        weight_choices=np.array(pull.weight_choices),
    )
