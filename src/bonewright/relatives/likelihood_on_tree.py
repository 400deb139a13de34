"""How well a model of evolution explains data on a tree, and which parameter does it best.

One response, or several with a rate matrix of their own; the intercept is always fitted.
Where species means carry their own standard errors, the rate of evolution cannot be
written down from the rest and is searched for as well ([Ives2007]_).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.dependence import refuse_dependent
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    Model,
    Traversal,
    arrays_under,
    singular_tree,
)

__all__ = ["Best", "Likelihood", "Method", "likelihood_on", "pull_range"]

Method = Literal["ml", "reml"]

CHI_SQUARED_95 = 3.841458820694124
"""Upper 5 % point of chi-squared with 1 degree of freedom."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """The parameter that explains most, and its objective.

    ``rate`` is 0 where it did not have to be searched for; ``objective`` is -2 log
    likelihood less the constant in 2 pi.
    """

    parameter: float
    rate: float
    objective: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Likelihood:
    """The likelihood of ``values`` (n_tips, n_columns: predictors, then responses).

    ``error_variance`` (n_tips,) is the squared standard error of each response, in its
    squared unit, or None. ``first_rate`` is where the search for the rate begins.
    """

    traversal: Traversal
    values: NDArray[np.float64]
    n_predictors: int
    model: Model
    method: Method
    error_variance: NDArray[np.float64] | None
    observed: NDArray[np.bool_]
    first_rate: float = 0.0

    def at(self, parameter: float, *, rate: float = 0.0) -> float:
        """Evaluate the objective; infinite where the covariance has no inverse."""
        from bonewright.relatives import traversal_kernels

        tip_variance = None if self.error_variance is None else self.error_variance / rate
        arrays, scale = arrays_under(
            self.traversal,
            EvolutionModel(name=self.model, parameter=parameter),
            tip_variance=tip_variance,
            observed=self.observed,
        )
        question = traversal_kernels.Question(
            self.values, self.n_predictors, self.method == "reml", rate
        )
        return traversal_kernels.objective(arrays, question, scale)

    def given(self, parameter: float) -> Best:
        """Find the best rate where it must be searched for, at one parameter."""
        if self.error_variance is None:
            return Best(parameter=parameter, rate=0.0, objective=self.at(parameter))
        rate, objective = self._over_rates(lambda rate: self.at(parameter, rate=rate))
        return Best(parameter=parameter, rate=rate, objective=objective)

    def best(self) -> Best:
        """Find the best parameter, and rate."""
        if self.model == "brownian":
            found = self.given(1.0)
        elif self.model == "ornstein-uhlenbeck":
            found = self._best_pull()
        elif self.error_variance is None:
            parameter, objective = self._best_lambda(0.0)
            found = Best(parameter=parameter, rate=0.0, objective=objective)
        else:
            rate, objective = self._over_rates(lambda rate: self._best_lambda(rate)[1])
            found = Best(parameter=self._best_lambda(rate)[0], rate=rate, objective=objective)
        if not np.isfinite(found.objective):
            raise singular_tree()
        return found

    def _best_lambda(self, rate: float) -> tuple[float, float]:
        from bonewright.relatives import traversal_kernels

        tip_variance = None if self.error_variance is None else self.error_variance / rate
        arrays, _ = arrays_under(
            self.traversal,
            EvolutionModel(name="lambda"),
            tip_variance=tip_variance,
            observed=self.observed,
        )
        question = traversal_kernels.Question(
            self.values, self.n_predictors, self.method == "reml", rate
        )
        return traversal_kernels.best_scale(arrays, question)

    def _best_pull(self) -> Best:
        low, high = pull_range(self.traversal)
        pull, _ = _lowest(
            lambda log_pull: self.given(float(np.exp(log_pull))).objective,
            np.log(low),
            np.log(high),
        )
        return self.given(float(np.clip(np.exp(pull), low, high)))

    def _over_rates(self, objective: Callable[[float], float]) -> tuple[float, float]:
        middle = np.log(self.first_rate)
        log_rate, value = _lowest(
            lambda log_rate: objective(float(np.exp(log_rate))), middle - 16.0, middle + 4.0
        )
        return float(np.exp(log_rate)), value

    def interval(self, best: Best) -> tuple[float, float]:
        """Return the 95 % profile interval of the parameter, cut at the ends of its range.

        All values whose log likelihood lies within half the 5 % point of chi-squared of
        the best. At an end of the range the coverage is only approximate.
        """
        if self.model == "brownian":
            return 1.0, 1.0
        low, high = (0.0, 1.0) if self.model == "lambda" else pull_range(self.traversal)
        limit = best.objective + CHI_SQUARED_95

        def excess(parameter: float) -> float:
            return min(self.given(parameter).objective, 1e300) - limit

        lower = low if excess(low) <= 0 else brentq(excess, low, best.parameter, xtol=1e-10)
        upper = high if excess(high) <= 0 else brentq(excess, best.parameter, high, xtol=1e-10)
        return float(lower), float(upper)


def pull_range(traversal: Traversal) -> tuple[float, float]:
    """Return the pulls tried: half-lives from 700 tree heights down to 1/140 of one.

    Below, the model cannot be told from Brownian motion; above, from no tree at all.
    """
    return 1e-3 / traversal.height, 1e2 / traversal.height


def _lowest(
    function: Callable[[float], float], low: float, high: float, *, steps: int = 24
) -> tuple[float, float]:
    """Scan, then close in on the lowest stretch; an end is returned exactly."""
    points = np.linspace(low, high, steps + 1)
    heights = [function(float(point)) for point in points]
    best = int(np.argmin(heights))
    found = minimize_scalar(
        function,
        bounds=(points[max(best - 1, 0)], points[min(best + 1, steps)]),
        method="bounded",
        options={"xatol": 1e-10},
    )
    if found.fun < heights[best]:
        return float(found.x), float(found.fun)
    return float(points[best]), float(heights[best])


def likelihood_on(
    traversal: Traversal,
    predictors: NDArray[np.float64],
    responses: NDArray[np.float64],
    *,
    model: Model,
    method: Method,
    standard_error: NDArray[np.float64] | None = None,
    observed: NDArray[np.bool_] | None = None,
) -> Likelihood:
    """Join data to a tree after checking that a fit can exist.

    Parameters
    ----------
    traversal : Traversal
        The tree. Rows below stand in the order of its tips.
    predictors : (n_tips, n_predictors) float
    responses : (n_tips, n_responses) float
    model, method : str
    standard_error : (n_tips,) float, optional
        Standard error of each species' mean, in the unit of the one response.
    observed : (n_tips,) bool, optional
        False where a row holds nothing.

    Raises
    ------
    NotEnoughEvidence
        If there are fewer species than the fit has unknowns, plus one.
    OutsideRange
        If a predictor is constant or follows from the others, or the responses follow
        exactly from the predictors.
    """
    seen = np.ones(traversal.n_tips, bool) if observed is None else np.array(observed, bool)
    values = np.column_stack([predictors, responses]).astype(np.float64, copy=False)
    n_predictors = predictors.shape[1]
    used = values if seen.all() else values[seen]
    if not np.all(np.isfinite(used)):
        raise OutsideRange(
            "A measurement used on the tree is not a finite number.",
            remedy="Leave the species out, or measure it.",
        )
    needed = values.shape[1] + 2
    if seen.sum() < needed:
        raise NotEnoughEvidence(
            "There are too few species for this fit.",
            needed=f"at least {needed} species with every measurement and a place in the tree",
            found=str(int(seen.sum())),
            would_help="more living relatives, or fewer predictors",
        )
    if standard_error is not None and responses.shape[1] != 1:
        raise OutsideRange(
            "Standard errors of species means can be used with one response only.",
            remedy="Fit the measurements one by one, or without their standard errors.",
        )
    refuse_dependent(used, n_predictors)
    error_variance = None
    first_rate = 0.0
    if standard_error is not None:
        error = np.where(seen, standard_error, 0.0)
        if not np.all(np.isfinite(error)) or np.any(error < 0):
            raise OutsideRange(
                "A standard error is negative or no number.", remedy="Give it, or leave it empty."
            )
        if np.any(error > 0):
            error_variance = error**2
            first_rate = float(np.var(values[seen, -1]) / traversal.height)
    return Likelihood(
        traversal=traversal,
        values=values if seen.all() else np.where(seen[:, None], values, 0.0),
        n_predictors=n_predictors,
        model=model,
        method=method,
        error_variance=error_variance,
        observed=seen,
        first_rate=first_rate,
    )
