"""The size-and-bone factor model fitted by expectation and maximisation, gaps and all.

Expectation ([DempsterLairdRubin1977]_) is exact for every pattern of missing values
(:mod:`bonewright.skeleton.factor_scores`). Maximisation regresses each measurement on the
expected factors. Means and scales of the factors are updated as free parameters and
folded back (parameter expansion, [LiuRubinWu1998]_): without it the means creep, because
the size of all individuals and all means can move together almost for nothing.
"""

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.factor_scores import FactorParameters, factor_posterior
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.shrinkage import Pull, ShrinkageTarget, alike_in_all_parts

__all__ = ["fit_factors", "fit_factors_without_pull", "ln_likelihood"]


def fit_factors(
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None = None,
    pull: Pull | None = None,
    start_mean_ln: NDArray[np.float64] | None = None,
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
    start_mean_ln : (n_codes,) float
        Where to begin; plain column means if not given.
    max_rounds, tolerance
        Stops when no mean moves by more than ``tolerance`` x its residual standard
        deviation.

    Returns
    -------
    FactorParameters
        The mode of the posterior: good for telling what fits, too sure of itself for
        intervals, which come from :mod:`bonewright.skeleton.mean_draws`.

    Raises
    ------
    NotEnoughEvidence
        If a code has no value.
    """
    known = matrix.known_part()
    pull = pull or Pull()
    target = target or alike_in_all_parts(len(known.codes))
    element = known.element_of_code
    several = np.bincount(element)[element] > 1
    bone_start = np.where(target.bone_loading != 0, target.bone_loading, 1.0)
    bone_start = bone_start / np.sqrt(np.mean(bone_start**2)) * pull.bone_spread
    parameters = FactorParameters(
        mean_ln=_column_means(known) if start_mean_ln is None else start_mean_ln,
        loading=target.size_loading[:, None].copy(),
        factor_variance=np.array([pull.size_sd**2]),
        bone_loading=np.where(several, bone_start, 0.0),
        residual_variance=target.residual_variance * pull.residual_sd**2,
        element=element,
    )
    for _ in range(max_rounds):
        previous = parameters
        parameters = _one_round(parameters, known, target=target, pull=pull, several=several)
        moved = np.abs(parameters.mean_ln - previous.mean_ln)
        if np.all(moved < tolerance * np.sqrt(parameters.residual_variance)):
            break
    return parameters


def fit_factors_without_pull(
    matrix: LnMatrix, *, n_factors: int, max_rounds: int = 5_000, tolerance: float = 1e-9
) -> FactorParameters:
    """Fit ``n_factors`` general factors by maximum likelihood, without bones or target.

    The textbook factor analysis with missing values. With few individuals it overfits;
    it stands here to be checked against other programs and to show what the pull does.

    Raises
    ------
    NotEnoughEvidence
        If a code has fewer than two values.
    """
    known = matrix.known_part()
    if np.any(known.present.sum(axis=0) < 2):
        raise NotEnoughEvidence(
            "Factors cannot be fitted by maximum likelihood.",
            needed="two values of every code",
            found="fewer",
            would_help="more individuals, or a target to pull to",
        )
    mean = _column_means(known)
    spread = np.where(known.present, known.values_ln - mean, 0.0)
    variance = (spread**2).sum(axis=0) / known.present.sum(axis=0)
    codes = np.arange(len(known.codes))
    # Factors begin with cosines of different lengths, so that no two are alike.
    waves = np.cos(np.pi * np.outer(codes + 0.5, np.arange(n_factors)) / len(codes))
    parameters = FactorParameters(
        mean_ln=mean,
        loading=np.sqrt(variance / 2 / n_factors)[:, None] * waves,
        factor_variance=np.ones(n_factors),
        bone_loading=np.zeros(len(codes)),
        residual_variance=variance / 2,
        element=codes.astype(np.intp),
    )
    spread_ln = np.sqrt(variance)
    for _ in range(max_rounds):
        previous = parameters
        parameters = _one_round(parameters, known, target=None, pull=None, several=None)
        moved = parameters.covariance_ln() - previous.covariance_ln()
        if np.all(np.abs(moved) < tolerance * np.outer(spread_ln, spread_ln)):
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


def _one_round(
    parameters: FactorParameters,
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None,
    pull: Pull | None,
    several: NDArray[np.bool_] | None,
) -> FactorParameters:
    """Run one expectation and one maximisation."""
    element = parameters.element
    k = parameters.loading.shape[1]
    posterior = factor_posterior(parameters, matrix)
    variance = np.linalg.inv(posterior.precision)
    tie = posterior.bone_variance[:, :, None] * posterior.bone_tie
    bone_mean = posterior.bone_variance * posterior.bone_pull
    bone_mean -= np.einsum("nef,nf->ne", tie, posterior.mean)
    cross = -np.einsum("nef,nfg->neg", tie, variance)
    bone_variance = posterior.bone_variance - np.einsum("nef,nef->ne", tie, cross)

    # First and second moments of (1, factors, bone deviation) for every row and element.
    first = np.concatenate(
        [
            np.ones((*bone_mean.shape, 1)),
            np.broadcast_to(posterior.mean[:, None, :], (*bone_mean.shape, k)),
            bone_mean[:, :, None],
        ],
        axis=2,
    )
    second = first[:, :, :, None] * first[:, :, None, :]
    second[:, :, 1 : k + 1, 1 : k + 1] += variance[:, None]
    second[:, :, 1 : k + 1, k + 1] += cross
    second[:, :, k + 1, 1 : k + 1] += cross
    second[:, :, k + 1, k + 1] += bone_variance

    normal = np.einsum("np,npab->pab", posterior.weight, second[:, element])
    right = np.einsum("np,npa->pa", posterior.weight * matrix.values_ln, first[:, element])
    if target is not None and pull is not None and several is not None:
        normal[:, 1, 1] += 1 / pull.loading_spread**2
        right[:, 1] += target.size_loading / pull.loading_spread**2
        normal[:, k + 1, k + 1] += 1 / pull.bone_spread**2
        pinned = ~several
    else:
        pinned = np.ones(len(element), dtype=np.bool_)
    normal[pinned, k + 1, :] = 0.0
    normal[pinned, :, k + 1] = 0.0
    normal[pinned, k + 1, k + 1] = 1.0
    right[pinned, k + 1] = 0.0
    solved = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    mean, loading, bone_loading = solved[:, 0], solved[:, 1 : k + 1], solved[:, k + 1]

    residual = _residual_variance(
        parameters, matrix, solved=solved, first=first, second=second, target=target, pull=pull
    )
    # Fold the free mean and scale of the factors back into means and loadings.
    shift = posterior.mean.mean(axis=0)
    spread = np.mean(variance, axis=0) + np.cov(posterior.mean.T, bias=True).reshape(k, k)
    seen = matrix.present @ np.eye(bone_mean.shape[1], dtype=np.int64)[element] > 0
    bone_shift = (bone_mean * seen).sum(axis=0) / seen.sum(axis=0)
    mean = mean + loading @ shift + bone_loading * bone_shift[element]
    if pull is None:
        loading, factor_variance = loading @ np.linalg.cholesky(spread), np.ones(k)
    else:
        n = len(matrix.rows)
        imagined = pull.size_weight * pull.size_sd**2
        factor_variance = (n * np.diag(spread) + imagined) / (n + pull.size_weight)
    return FactorParameters(
        mean_ln=mean,
        loading=loading,
        factor_variance=factor_variance,
        bone_loading=bone_loading,
        residual_variance=residual,
        element=element,
    )


def _residual_variance(
    parameters: FactorParameters,
    matrix: LnMatrix,
    *,
    solved: NDArray[np.float64],
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    target: ShrinkageTarget | None,
    pull: Pull | None,
) -> NDArray[np.float64]:
    """Update each code's own variance, its known measuring error taken out."""
    element = parameters.element
    fitted = np.einsum("npa,pa->np", first[:, element], solved)
    squared_fit = np.einsum("npab,pa,pb->np", second[:, element], solved, solved)
    squared = (matrix.values_ln - fitted) ** 2 + squared_fit - fitted**2
    old = parameters.residual_variance
    error = matrix.error_sd_ln**2
    own_share = old / (old + error)
    expected = matrix.present * (own_share**2 * squared + own_share * error)
    total, count = expected.sum(axis=0), matrix.present.sum(axis=0)
    if target is None or pull is None:
        return np.asarray(np.maximum(total / count, 1e-12))
    weight = 2 * pull.residual_weight
    aimed = target.residual_variance * pull.residual_sd**2
    return np.asarray((total + weight * aimed) / (count + weight))
