"""The size-and-bone factor model fitted by expectation and maximisation, gaps and all.

Expectation ([DempsterLairdRubin1977]_) is exact for every pattern of missing values.
Maximisation regresses each measurement on the expected factors. Means and scales of the
factors are updated as free parameters and folded back (parameter expansion,
[LiuRubinWu1998]_): without it the means creep, because the size of all individuals and all
means can move together almost for nothing.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.factor_scores import FactorParameters, cells_of, chain_from, prior_of
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.shrinkage import Pull, ShrinkageTarget, alike_in_all_parts

if TYPE_CHECKING:
    from bonewright.skeleton.factor_kernels import Chain

__all__ = ["fit_factors", "fit_one_factor_without_pull", "ln_likelihood"]


def fit_factors(
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None = None,
    pull: Pull | None = None,
    max_rounds: int = 200,
    tolerance: float = 1e-4,
) -> FactorParameters:
    """Fit one size factor and one factor a bone, pulled towards a target covariance.

    Parameters
    ----------
    matrix : LnMatrix
        Every code needs at least one value.
    target, pull
        What the covariance is pulled to, and how strongly; measurements in proportion to
        size if not given.
    max_rounds, tolerance
        Stops when no mean moves by more than ``tolerance`` x its residual standard
        deviation.

    Returns
    -------
    FactorParameters
        The mode of the posterior: good for telling what fits, too sure of itself for
        intervals, which come from :mod:`bonewright.skeleton.factor_sampling`.

    Raises
    ------
    NotEnoughEvidence
        If a code has no value.
    """
    from bonewright.skeleton.factor_kernels import improve

    known = matrix.known_part()
    pull = pull or Pull()
    target = target or alike_in_all_parts(len(known.codes))
    cells = cells_of(known)
    bone_start = np.where(target.bone_loading != 0, target.bone_loading, 1.0)
    bone_start = bone_start / np.sqrt(np.mean(bone_start**2)) * pull.bone_spread
    start = FactorParameters(
        mean_ln=_column_means(known),
        loading=target.size_loading,
        size_variance=pull.size_sd**2,
        bone_loading=np.where(cells.several, bone_start, 0.0),
        residual_variance=target.residual_variance * pull.residual_sd**2,
        element=known.element_of_code,
    )
    chain = chain_from(start, len(known.rows))
    improve(cells, chain, prior_of(target, pull), max_rounds, tolerance)
    return _parameters(chain, known)


def fit_one_factor_without_pull(
    matrix: LnMatrix, *, max_rounds: int = 5_000, tolerance: float = 1e-9
) -> FactorParameters:
    """Fit one general factor by maximum likelihood, without bones or target.

    The textbook factor analysis with missing values. With few individuals it overfits;
    it stands here to be checked against other programs and to show what the pull does.

    Raises
    ------
    NotEnoughEvidence
        If a code has fewer than two values.
    """
    from bonewright.skeleton.factor_kernels import improve

    known = matrix.known_part()
    counts = known.present.sum(axis=0)
    if np.any(counts < 2):
        raise NotEnoughEvidence(
            "Factors cannot be fitted by maximum likelihood.",
            needed="two values of every code",
            found="fewer",
            would_help="more individuals, or a target to pull to",
        )
    mean = _column_means(known)
    variance = (np.where(known.present, known.values_ln - mean, 0.0) ** 2).sum(axis=0) / counts
    start = FactorParameters(
        mean_ln=mean,
        loading=np.sqrt(variance / 2),
        size_variance=1.0,
        bone_loading=np.zeros(len(mean)),
        residual_variance=variance / 2,
        element=known.element_of_code,
    )
    cells, chain = cells_of(known), chain_from(start, len(known.rows))
    prior = prior_of(alike_in_all_parts(len(mean)), Pull(), pulled=False)
    parameters, allowed = start, tolerance * np.sqrt(np.outer(variance, variance))
    for _ in range(max_rounds):
        previous = parameters
        improve(cells, chain, prior, 1, 0.0)
        parameters = _parameters(chain, known)
        moved = parameters.covariance_ln() - previous.covariance_ln()
        if np.all(np.abs(moved) < allowed):
            break
    return parameters


def ln_likelihood(parameters: FactorParameters, matrix: LnMatrix) -> float:
    """Return the natural logarithm of the likelihood of all present values."""
    covariance = parameters.covariance_ln()
    total = 0.0
    for values, present, error in zip(
        matrix.values_ln, matrix.present, matrix.error_sd_ln, strict=True
    ):
        deviation = (values - parameters.mean_ln)[present]
        factor = np.linalg.cholesky(
            covariance[np.ix_(present, present)] + np.diag(error[present] ** 2)
        )
        white = np.linalg.solve(factor, deviation)
        total -= 0.5 * (white @ white + len(white) * np.log(2 * np.pi))
        total -= float(np.sum(np.log(np.diag(factor))))
    return total


def _column_means(matrix: LnMatrix) -> NDArray[np.float64]:
    return np.asarray(matrix.values_ln.sum(axis=0) / matrix.present.sum(axis=0))


def _parameters(chain: "Chain", matrix: LnMatrix) -> FactorParameters:
    """Return the chain's parameters as they stand now."""
    from bonewright.skeleton.factor_kernels import SIZE_VARIANCE

    return FactorParameters(
        mean_ln=chain.mean.copy(),
        loading=chain.loading.copy(),
        size_variance=float(chain.single[SIZE_VARIANCE]),
        bone_loading=chain.bone.copy(),
        residual_variance=chain.residual.copy(),
        element=matrix.element_of_code,
    )
