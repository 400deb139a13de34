"""Lines fitted over living relatives that are not independent of one another.

Close relatives resemble each other, so ten rails are not ten witnesses. Phylogenetic least
squares weighs each species by what it adds to its relatives: residuals covary with the
time two species share ([Grafen1989]_, [Pagel1999]_, [MartinsHansen1997]_). Where the tree
or the model of evolution is wrong the coefficients stay unbiased but their standard errors,
and every prediction at a place in the tree, are wrong without warning.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.relatives.likelihood_on_tree import (
    Best,
    Method,
    likelihood_on,
    pull_range,
)
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    Model,
    Traversal,
    contrast_products_of,
)

__all__ = ["PhylogeneticFit", "fit_on_tree"]

LOG_TWO_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PhylogeneticFit:
    """A phylogenetic regression of one response.

    ``coefficients``, ``standard_errors`` (n_predictors + 1,): intercept first, in the units
    of the data. ``unscaled_covariance`` is inv(X'inv(V)X); times the rate it is the
    covariance of the coefficients. ``rate`` is the variance that gathers along one unit of
    branch length, unbiased (divided by the degrees of freedom); ``rate_ml`` divided by n.
    With standard errors of species means both are the rate the search found. ``predictors``,
    ``response``, ``fitted``, ``residual`` have a row a tip; rows where ``observed`` is False
    mean nothing. ``tip_variance`` (n_tips,) is what sampling error adds, as a multiple of
    the rate, or None. ``r_squared`` is against the mean alone under the same covariance.
    ``limit`` says whether the model's parameter ended at the lower or upper end of its range.
    """

    traversal: Traversal
    model: EvolutionModel
    method: Method
    n: int
    degrees_of_freedom: int
    coefficients: NDArray[np.float64]
    standard_errors: NDArray[np.float64]
    unscaled_covariance: NDArray[np.float64]
    rate: float
    rate_ml: float
    log_likelihood: float
    r_squared: float
    parameter_interval: tuple[float, float] | None
    limit: str
    predictors: NDArray[np.float64]
    response: NDArray[np.float64]
    observed: NDArray[np.bool_]
    tip_variance: NDArray[np.float64] | None

    def __post_init__(self) -> None:
        for name in ("coefficients", "standard_errors", "unscaled_covariance"):
            getattr(self, name).flags.writeable = False

    @property
    def fitted(self) -> NDArray[np.float64]:
        """What the line alone says of each tip, (n_tips,)."""
        line: NDArray[np.float64] = self.coefficients[0] + self.predictors @ self.coefficients[1:]
        return line

    @property
    def residual(self) -> NDArray[np.float64]:
        """Response less the line, (n_tips,)."""
        return self.response - self.fitted


def fit_on_tree(
    traversal: Traversal,
    predictors: NDArray[np.float64],
    response: NDArray[np.float64],
    *,
    model: Model = "lambda",
    parameter: float | None = None,
    method: Method = "ml",
    standard_error: NDArray[np.float64] | None = None,
    observed: NDArray[np.bool_] | None = None,
    with_interval: bool = False,
) -> PhylogeneticFit:
    """Fit a response on predictors over a tree, in time proportional to the tips.

    Parameters
    ----------
    traversal : Traversal
        The tree; every row below stands in the order of its tips.
    predictors : (n_tips, n_predictors) float
        Without an intercept, which is always fitted. May have no column.
    response : (n_tips,) float
    model : {'brownian', 'lambda', 'ornstein-uhlenbeck'}
    parameter : float, optional
        The model's parameter where it is given; searched for otherwise.
    method : {'ml', 'reml'}
        Which likelihood is made greatest, and reported. The restricted one has no term in
        X'X, so it may only be compared between fits on the same predictors.
    standard_error : (n_tips,) float, optional
        Standard error of each species' mean response, in the response's unit.
    observed : (n_tips,) bool, optional
        False where a row is left out of the fit.
    with_interval : bool
        Whether the 95 % profile interval of the parameter is wanted.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        See :func:`bonewright.relatives.likelihood_on_tree.likelihood_on`.
    """
    likelihood = likelihood_on(
        traversal,
        predictors,
        response[:, None],
        model=model,
        method=method,
        standard_error=standard_error,
        observed=observed,
    )
    best = likelihood.best() if parameter is None else likelihood.given(parameter)
    chosen = EvolutionModel(name=model, parameter=best.parameter)
    searched = likelihood.error_variance is not None
    tip_variance = (
        None if likelihood.error_variance is None else likelihood.error_variance / best.rate
    )
    values = likelihood.values
    parts = contrast_products_of(
        traversal, values, model=chosen, tip_variance=tip_variance, observed=likelihood.observed
    )
    n_predictors = predictors.shape[1]
    inner = parts.products[:n_predictors, :n_predictors]
    towards = parts.products[:n_predictors, -1]
    inverse = np.linalg.inv(inner)
    slopes = inverse @ towards
    total = float(parts.products[-1, -1])
    unexplained = _unexplained(parts.products)
    root = parts.root_value[:n_predictors]
    intercept = parts.root_value[-1] - root @ slopes
    unscaled = np.empty((n_predictors + 1, n_predictors + 1))
    unscaled[1:, 1:] = inverse
    unscaled[0, 1:] = unscaled[1:, 0] = -inverse @ root
    unscaled[0, 0] = parts.root_variance + root @ inverse @ root
    freedom = parts.n - n_predictors - 1
    rate = best.rate if searched else unexplained / freedom
    counted = parts.n if method == "ml" else freedom
    return PhylogeneticFit(
        traversal=traversal,
        model=chosen,
        method=method,
        n=parts.n,
        degrees_of_freedom=freedom,
        coefficients=np.concatenate([[intercept], slopes]),
        standard_errors=np.sqrt(rate * np.diag(unscaled)),
        unscaled_covariance=unscaled,
        rate=rate,
        rate_ml=best.rate if searched else unexplained / parts.n,
        log_likelihood=-0.5 * (best.objective + counted * LOG_TWO_PI),
        r_squared=1.0 - unexplained / total,
        parameter_interval=likelihood.interval(best) if with_interval else None,
        limit=_limit(traversal, best, model) if parameter is None else "",
        predictors=np.array(values[:, :n_predictors]),
        response=np.array(values[:, -1]),
        observed=likelihood.observed,
        tip_variance=tip_variance,
    )


def _unexplained(products: NDArray[np.float64]) -> float:
    """Sum of squared contrasts of the response that the predictors leave over."""
    factor = np.linalg.cholesky(products)
    return float(factor[-1, -1] ** 2)


def _limit(traversal: Traversal, best: Best, model: Model) -> str:
    if model == "brownian":
        return ""
    low, high = (0.0, 1.0) if model == "lambda" else pull_range(traversal)
    if best.parameter <= low * (1 + 1e-6):
        return "lower"
    return "upper" if best.parameter >= high * (1 - 1e-6) else ""
