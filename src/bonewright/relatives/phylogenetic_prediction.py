"""Predict an unmeasured species at its place in the tree.

A lost rail is not a draw from all birds: what its nearest relatives have beyond the line,
it probably has in part. The prediction adds that part to the line, in proportion to the
shared path ([GarlandIves2000]_). How much it helps, and whether its intervals hold, is
measured by leaving known species out: one at a time, clade by clade, or the largest.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from bonewright.errors import NotEnoughEvidence
from bonewright.quantity import Draws
from bonewright.relatives.likelihood_on_tree import Method, likelihood_on
from bonewright.relatives.phylogenetic_fit import PhylogeneticFit, fit_on_tree
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    Model,
    Traversal,
    arrays_under,
    conditional_on_others,
    singular_tree,
)

__all__ = [
    "LeftOutPredictions",
    "Prediction",
    "leave_each_out",
    "leave_groups_out",
    "prediction_draws",
    "predictions_at_tips",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prediction:
    """What a fit says of tips at their places, (n_tips_asked,) each.

    ``mean`` is line and place together, ``line`` the line alone, in the response's unit;
    ``standard_error`` that of a prediction, scatter and coefficients together, at the
    fit's own parameter. A t distribution with ``degrees_of_freedom`` describes it.
    ``outside`` is how far the predictors lie from what the place leads one to expect,
    squared, over the spread of the relatives' contrasts: the part of the variance
    that grows with extrapolation, as a multiple of the rate.
    """

    tips: NDArray[np.int64]
    mean: NDArray[np.float64]
    line: NDArray[np.float64]
    standard_error: NDArray[np.float64]
    outside: NDArray[np.float64]
    degrees_of_freedom: int

    def interval(self, coverage: float = 0.95) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the central prediction interval, in the response's unit."""
        reach = stdtrit(self.degrees_of_freedom, 0.5 + coverage / 2) * self.standard_error
        return self.mean - reach, self.mean + reach


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftOutPredictions:
    """Each species predicted without itself (or its group), in the tree's order of tips.

    ``observed``, ``mean``, ``standard_error`` in the response's unit; ``parameter`` is the
    model's parameter used for each; rows of tips never left out hold the tip's own value
    and are False in ``predicted``.
    """

    tip_names: tuple[str, ...]
    predicted: NDArray[np.bool_]
    observed: NDArray[np.float64]
    mean: NDArray[np.float64]
    standard_error: NDArray[np.float64]
    degrees_of_freedom: NDArray[np.int64]
    parameter: NDArray[np.float64]

    def covered(self, coverage: float = 0.95) -> NDArray[np.bool_]:
        """Say which predicted species' true value lay inside its interval."""
        reach = stdtrit(self.degrees_of_freedom, 0.5 + coverage / 2) * self.standard_error
        inside: NDArray[np.bool_] = np.abs(self.observed - self.mean) <= reach
        return inside[self.predicted]


def predictions_at_tips(
    fit: PhylogeneticFit,
    tips: NDArray[np.int64],
    *,
    predictors: NDArray[np.float64],
) -> Prediction:
    """Predict tips the fit left out (``fit.observed`` False), at their places.

    Parameters
    ----------
    fit : PhylogeneticFit
    tips : (n_asked,) int
        Places of the tips in the tree's order. One tip may be asked many times, with other
        predictors each time (draws of an uncertain bone).
    predictors : (n_asked, n_predictors) float

    Raises
    ------
    NotEnoughEvidence
        If a tip took part in the fit: predicted so, it would know the answer.
    """
    if np.any(fit.observed[tips]):
        raise NotEnoughEvidence(
            "A species that took part in the fit cannot be predicted by it.",
            needed="a fit without that species",
            found="a fit with it",
            would_help="leaving the species out, or leave_each_out for all of them",
        )
    columns = np.column_stack([fit.predictors, fit.response])
    mean, variance = conditional_on_others(
        fit.traversal,
        columns,
        model=fit.model,
        tip_variance=fit.tip_variance,
        observed=fit.observed,
    )
    slopes = fit.coefficients[1:]
    beyond = predictors - mean[tips, :-1]
    outside = np.einsum("ij,jk,ik->i", beyond, fit.unscaled_covariance[1:, 1:], beyond)
    return Prediction(
        tips=tips,
        mean=mean[tips, -1] + beyond @ slopes,
        line=fit.coefficients[0] + predictors @ slopes,
        standard_error=np.sqrt(fit.rate * (variance[tips] + outside)),
        outside=outside,
        degrees_of_freedom=fit.degrees_of_freedom,
    )


def leave_each_out(fit: PhylogeneticFit) -> LeftOutPredictions:
    """Predict each species from all others, coefficients and rate refitted, parameter kept.

    All predictions come from two walks over the tree and the rules for deleting one row
    ([Dubrule1983]_), in time proportional to the tips. The model's parameter has seen the
    species left out; :func:`leave_groups_out` refits it.
    """
    columns = np.column_stack([fit.predictors, fit.response])
    mean, variance = conditional_on_others(
        fit.traversal,
        columns,
        model=fit.model,
        tip_variance=fit.tip_variance,
        observed=fit.observed,
    )
    seen = fit.observed
    weighted = (columns[seen] - mean[seen]) / variance[seen, None]
    slopes, inverse = fit.coefficients[1:], fit.unscaled_covariance[1:, 1:]
    toward = weighted[:, :-1]
    precision = 1 / variance[seen] - np.einsum("ij,jk,ik->i", toward, inverse, toward)
    if np.any(precision <= 0):
        raise NotEnoughEvidence(
            "One species alone decides the line, so it cannot be left out.",
            needed="predictors that vary among the other species",
            found="a predictor that only one species moves",
            would_help="more relatives, or fewer predictors",
        )
    error = (weighted[:, -1] - toward @ slopes) / precision
    freedom = fit.degrees_of_freedom
    if fit.tip_variance is None:
        freedom -= 1
        rate = (fit.rate * (freedom + 1) - error**2 * precision) / freedom
    else:
        rate = np.full(error.size, fit.rate)
    predicted = fit.response.copy()
    predicted[seen] -= error
    standard_error = np.zeros(predicted.size)
    standard_error[seen] = np.sqrt(np.maximum(rate, 0.0) / precision)
    return LeftOutPredictions(
        tip_names=fit.traversal.tip_names,
        predicted=seen,
        observed=fit.response,
        mean=predicted,
        standard_error=standard_error,
        degrees_of_freedom=np.full(predicted.size, freedom),
        parameter=np.full(predicted.size, fit.model.parameter),
    )


def leave_groups_out(
    traversal: Traversal,
    predictors: NDArray[np.float64],
    response: NDArray[np.float64],
    *,
    groups: NDArray[np.bool_],
    model: Model = "lambda",
    method: Method = "ml",
    standard_error: NDArray[np.float64] | None = None,
) -> LeftOutPredictions:
    """Predict each group from a fit, parameter and all, that never saw it.

    ``groups`` (n_groups, n_tips) says who is left out in each fit: single species, clades,
    the largest ones. A species in several groups keeps its last prediction. Fits with
    lambda and without standard errors run in one compiled batch.

    Raises
    ------
    NotEnoughEvidence
        If a group leaves too few species for a fit.
    """
    parameters = _parameters_without(
        traversal,
        predictors,
        response,
        groups=groups,
        model=model,
        method=method,
        standard_error=standard_error,
    )
    n = response.size
    mean, error = response.astype(np.float64), np.zeros(n)
    freedom, used = np.ones(n, dtype=np.int64), np.zeros(n)
    for group, parameter in zip(groups, parameters, strict=True):
        fit = fit_on_tree(
            traversal,
            predictors,
            response,
            model=model,
            parameter=parameter,
            method=method,
            standard_error=standard_error,
            observed=~group,
        )
        tips = np.flatnonzero(group)
        found = predictions_at_tips(fit, tips, predictors=predictors[tips])
        mean[tips], error[tips] = found.mean, found.standard_error
        freedom[tips], used[tips] = fit.degrees_of_freedom, fit.model.parameter
    return LeftOutPredictions(
        tip_names=traversal.tip_names,
        predicted=np.any(groups, axis=0),
        observed=response,
        mean=mean,
        standard_error=error,
        degrees_of_freedom=freedom,
        parameter=used,
    )


def _parameters_without(
    traversal: Traversal,
    predictors: NDArray[np.float64],
    response: NDArray[np.float64],
    *,
    groups: NDArray[np.bool_],
    model: Model,
    method: Method,
    standard_error: NDArray[np.float64] | None,
) -> list[float | None]:
    """Fit lambda for every group in one batch; None leaves the search to each fit."""
    if model != "lambda" or standard_error is not None:
        return [None] * len(groups)
    from bonewright.relatives import traversal_kernels

    likelihood = likelihood_on(traversal, predictors, response[:, None], model=model, method=method)
    arrays, _ = arrays_under(traversal, EvolutionModel(name="lambda"))
    question = traversal_kernels.Question(
        likelihood.values, likelihood.n_predictors, method == "reml", 0.0
    )
    scale, lowest = traversal_kernels.fit_scales_without_each(
        arrays, question, np.ascontiguousarray(groups)
    )
    # Where no lambda serves (a predictor that only the group moved), the fit says why.
    return [
        float(value) if np.isfinite(height) else None
        for value, height in zip(scale, lowest, strict=True)
    ]


def prediction_draws(
    traversal: Traversal,
    predictors: NDArray[np.float64],
    response: NDArray[np.float64],
    *,
    tip: int,
    predictor_draws: NDArray[np.float64],
    rng: np.random.Generator,
    observed: NDArray[np.bool_],
    n_parameters: int = 65,
) -> Draws:
    """Draw the response of one unmeasured tip, (n_draws,), in the response's unit.

    Scatter, coefficients, lambda and the tip's own uncertain predictors
    (``predictor_draws``, (n_draws, n_predictors)) all take part. Lambda is drawn from its
    posterior on an even grid over [0, 1] under a flat prior: the restricted likelihood is
    exactly what is left when coefficients and rate are integrated out under their usual
    flat priors, and the prediction at each lambda is then exactly t.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        As the fit does; NotEnoughEvidence too if the tip is among the observed.
    """
    n_draws = predictor_draws.shape[0]
    grid = np.linspace(0.0, 1.0, n_parameters)
    likelihood = likelihood_on(
        traversal, predictors, response[:, None], model="lambda", method="reml", observed=observed
    )
    objective = np.array([likelihood.at(float(parameter)) for parameter in grid])
    if not np.any(np.isfinite(objective)):
        raise singular_tree()
    weight = np.exp(-0.5 * (objective - np.min(objective)))
    weight[[0, -1]] /= 2  # the end points stand for half a step each
    chosen = rng.choice(n_parameters, size=n_draws, p=weight / weight.sum())
    drawn = np.empty(n_draws)
    for place in np.unique(chosen):
        fit = fit_on_tree(
            traversal,
            predictors,
            response,
            parameter=float(grid[place]),
            method="reml",
            observed=observed,
        )
        here = np.flatnonzero(chosen == place)
        found = predictions_at_tips(fit, np.full(here.size, tip), predictors=predictor_draws[here])
        scatter = rng.standard_t(found.degrees_of_freedom, size=here.size)
        drawn[here] = found.mean + found.standard_error * scatter
    return drawn
