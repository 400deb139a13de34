"""Size of each individual and deviation of each bone, given the model: the exact E-step.

The model says that ln length = mean + loading x size + bone loading x deviation of that
bone + the measurement's own residual + measuring error. Given its parameters, the size of
an individual and the deviations of its bones are normal whatever is missing. The bones'
deviations are integrated out one by one (a rank-one update each), so that only a matrix
as small as the number of general factors is inverted for each individual, all at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.ln_matrix import LnMatrix

__all__ = ["FactorParameters", "FactorPosterior", "factor_posterior", "precision_of_means"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FactorParameters:
    """Parameters of the factor model, on natural logarithms.

    ``mean_ln`` (p,), ``loading`` (p, k), ``factor_variance`` (k,), ``bone_loading`` (p,),
    ``residual_variance`` (p,); ``element`` (p,) numbers the element of each code.
    """

    mean_ln: NDArray[np.float64]
    loading: NDArray[np.float64]
    factor_variance: NDArray[np.float64]
    bone_loading: NDArray[np.float64]
    residual_variance: NDArray[np.float64]
    element: NDArray[np.intp]

    def covariance_ln(self) -> NDArray[np.float64]:
        """Covariance between individuals, (p, p), without measuring error."""
        same_bone = self.element[:, None] == self.element[None, :]
        covariance = (self.loading * self.factor_variance) @ self.loading.T
        covariance += same_bone * np.outer(self.bone_loading, self.bone_loading)
        return np.asarray(covariance + np.diag(self.residual_variance))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FactorPosterior:
    """Normal posterior of the factors, n rows, k general factors, e elements.

    ``weight`` (n, p) is 1 / (residual + error variance), 0 where missing.
    ``precision`` (n, k, k) and ``mean`` (n, k) are those of the general factors;
    a bone's deviation given them is normal with mean
    ``bone_variance * (bone_pull - bone_tie . factors)`` and variance ``bone_variance``,
    arrays (n, e), (n, e) and (n, e, k).
    """

    weight: NDArray[np.float64]
    precision: NDArray[np.float64]
    mean: NDArray[np.float64]
    bone_variance: NDArray[np.float64]
    bone_pull: NDArray[np.float64]
    bone_tie: NDArray[np.float64]


def element_columns(element: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return the (p, e) matrix that sums codes over their elements."""
    return np.eye(int(element.max()) + 1)[element]


def factor_posterior(
    parameters: FactorParameters,
    matrix: LnMatrix,
    *,
    expected: NDArray[np.float64] | None = None,
) -> FactorPosterior:
    """Return the posterior of every row's factors.

    ``expected`` (n, k) is the prior mean of the factors (zero if not given), as for
    individuals of known sex.
    """
    k = parameters.loading.shape[1]
    columns = element_columns(parameters.element)
    bone_columns = columns * parameters.bone_loading[:, None]
    weight = matrix.present / (parameters.residual_variance + matrix.error_sd_ln**2)
    weighted = weight * (matrix.values_ln - parameters.mean_ln)
    bone_variance = 1 / (1 + weight @ (bone_columns * parameters.bone_loading[:, None]))
    bone_pull = weighted @ bone_columns
    bone_tie = np.stack(
        [weight @ (bone_columns * parameters.loading[:, [f]]) for f in range(k)], axis=2
    )
    products = parameters.loading[:, :, None] * parameters.loading[:, None, :]
    precision = (weight @ products.reshape(-1, k * k)).reshape(-1, k, k)
    precision += np.diag(1 / parameters.factor_variance)
    precision -= np.einsum("ne,nef,neg->nfg", bone_variance, bone_tie, bone_tie)
    pull = weighted @ parameters.loading
    pull -= np.einsum("ne,nef->nf", bone_variance * bone_pull, bone_tie)
    if expected is not None:
        pull += expected / parameters.factor_variance
    return FactorPosterior(
        weight=weight,
        precision=precision,
        mean=np.asarray(np.linalg.solve(precision, pull[:, :, None])[:, :, 0], dtype=np.float64),
        bone_variance=bone_variance,
        bone_pull=bone_pull,
        bone_tie=bone_tie,
    )


def precision_of_means(
    parameters: FactorParameters, posterior: FactorPosterior
) -> NDArray[np.float64]:
    """Return the information on the means, (p, p), all factors integrated out.

    It is the sum over rows of the inverse covariance of what each row has, laid back into
    the columns it has, got without inverting a matrix of that size.
    """
    element = parameters.element
    same_bone = element[:, None] == element[None, :]
    weight = posterior.weight
    by_bone = weight * np.sqrt(posterior.bone_variance)[:, element] * parameters.bone_loading
    information = np.diag(weight.sum(axis=0)) - same_bone * (by_bone.T @ by_bone)
    tie = posterior.bone_variance[:, :, None] * posterior.bone_tie
    half = np.linalg.inv(np.linalg.cholesky(posterior.precision))
    pulled = weight[:, :, None] * (
        parameters.loading[None] - parameters.bone_loading[None, :, None] * tie[:, element]
    )
    shared = np.einsum("npf,ngf->npg", pulled, half)
    flat = shared.transpose(0, 2, 1).reshape(-1, len(element))
    return np.asarray(information - flat.T @ flat)
