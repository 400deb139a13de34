"""Several measurements of one animal fitted at once, over a tree.

The bones of one bird deviate together: a stout bird is stout in every bone. One fit of all
of them, with their residuals' correlations, keeps the same fact from being counted once a
bone. One lambda and one tree serve all; their rates and correlations are one matrix.
:mod:`bonewright.relatives.inverse_calibration` reads mass back from such a fit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.relatives.likelihood_on_tree import Method, likelihood_on
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    Model,
    Traversal,
    contrast_products_of,
)

__all__ = ["ManyTraitFit", "fit_many_traits"]

LOG_TWO_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ManyTraitFit:
    """A phylogenetic regression of several responses on the same predictors.

    ``coefficients`` (n_predictors + 1, n_responses), intercepts first; ``slope_covariance``
    (n_predictors, n_predictors) is inv(X'QX), to be multiplied by a response's rate.
    ``rates`` (n_responses, n_responses) is the residual covariance gathered along one unit of
    branch length, divided by ``degrees_of_freedom``; ``log_likelihood`` is at the chosen
    parameter. Rows where ``observed`` is False mean nothing.
    """

    traversal: Traversal
    model: EvolutionModel
    method: Method
    n: int
    degrees_of_freedom: int
    coefficients: NDArray[np.float64]
    slope_covariance: NDArray[np.float64]
    rates: NDArray[np.float64]
    log_likelihood: float
    predictors: NDArray[np.float64]
    responses: NDArray[np.float64]
    observed: NDArray[np.bool_]


def fit_many_traits(
    traversal: Traversal,
    predictors: NDArray[np.float64],
    responses: NDArray[np.float64],
    *,
    model: Model = "lambda",
    parameter: float | None = None,
    method: Method = "ml",
    observed: NDArray[np.bool_] | None = None,
) -> ManyTraitFit:
    """Fit several responses on the same predictors, with one parameter for all.

    Parameters
    ----------
    traversal : Traversal
        The tree; rows below stand in the order of its tips.
    predictors : (n_tips, n_predictors) float
        Without an intercept. For inverse calibration the first is the one to be found.
    responses : (n_tips, n_responses) float
    model, parameter, method, observed
        As in :func:`bonewright.relatives.phylogenetic_fit.fit_on_tree`.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        See :func:`bonewright.relatives.likelihood_on_tree.likelihood_on`.
    """
    likelihood = likelihood_on(
        traversal, predictors, responses, model=model, method=method, observed=observed
    )
    best = likelihood.best() if parameter is None else likelihood.given(parameter)
    chosen = EvolutionModel(name=model, parameter=best.parameter)
    values, k = likelihood.values, likelihood.n_predictors
    parts = contrast_products_of(traversal, values, model=chosen, observed=likelihood.observed)
    inverse = np.asarray(np.linalg.inv(parts.products[:k, :k]), dtype=np.float64)
    slopes = inverse @ parts.products[:k, k:]
    intercepts = parts.root_value[k:] - parts.root_value[:k] @ slopes
    left = parts.products[k:, k:] - parts.products[k:, :k] @ slopes
    freedom = parts.n - k - 1
    n_responses = responses.shape[1]
    counted = n_responses * (parts.n if method == "ml" else freedom)
    return ManyTraitFit(
        traversal=traversal,
        model=chosen,
        method=method,
        n=parts.n,
        degrees_of_freedom=freedom,
        coefficients=np.vstack([intercepts, slopes]),
        slope_covariance=inverse,
        rates=(left + left.T) / (2 * freedom),
        log_likelihood=-0.5 * (best.objective + counted * LOG_TWO_PI),
        predictors=np.array(values[:, :k]),
        responses=np.array(values[:, k:]),
        observed=likelihood.observed,
    )
