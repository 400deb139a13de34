"""What a fit of several measurements on a tree says of a species before it is measured."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.relatives.tree_algebra import Traversal
from bonewright.relatives.two_covariances import TwoCovariances, Walked, walked_again

__all__ = [
    "Place",
    "at_new_tip",
    "left_out_together",
    "places_of_all",
    "taken",
    "without_each",
]

Array = NDArray[np.float64]


class Place(NamedTuple):
    """What a fit says of one species at its place before its own bones are seen.

    One entry an animal and measurement in the fit's basis: ``predictors`` (n, p, q) and
    ``measurements`` (n, p) expected there from kin, ``variance`` (n, p) of descent about them,
    ``coefficients`` (n, p, q) and ``covariance`` (n, p, q, q).
    """

    predictors: Array
    measurements: Array
    variance: Array
    coefficients: Array
    covariance: Array


def places_of_all(fit: TwoCovariances) -> Place:
    """Say of every tip what the others say of it, with the coefficients of the whole fit.

    Meant for tips the fit left out; see :func:`without_each` for those it holds.
    """
    walked = walked_again(fit)
    return _place(fit, walked, walked.coefficients[:, None], walked.covariance[:, None])


def without_each(fit: TwoCovariances) -> Place:
    """Say of every observed tip what the others say of it, the lines refitted without it.

    The covariances keep what they have seen of the species.

    Raises
    ------
    NotEnoughEvidence
        If one species alone decides a line.
    """
    walked = walked_again(fit)
    toward = walked.toward
    pull = np.einsum("kni,kij->knj", toward, walked.covariance)
    precision = np.where(fit.observed, 1.0 / walked.variance, 1.0) - np.sum(pull * toward, axis=2)
    if np.any(precision <= 0):
        raise NotEnoughEvidence(
            "One species alone decides the line, so it cannot be left out.",
            needed="predictors that vary among the other species",
            found="a predictor that only one species moves",
            would_help="more relatives, or fewer predictors",
        )
    left = walked.left - np.einsum("kni,ki->kn", toward, walked.coefficients)
    coefficients = walked.coefficients[:, None] - pull * (left / precision)[:, :, None]
    covariance = walked.covariance[:, None] + (
        pull[:, :, :, None] * pull[:, :, None, :] / precision[:, :, None, None]
    )
    return _place(fit, walked, coefficients, covariance)


def _place(fit: TwoCovariances, walked: Walked, coefficients: Array, covariance: Array) -> Place:
    q = fit.predictors.shape[1]
    n = fit.traversal.n_tips
    own = 1.0 / fit.weight
    return Place(
        predictors=np.swapaxes(walked.mean[:, :, :q], 0, 1),
        measurements=walked.mean[:, :, q].T,
        variance=np.maximum(walked.variance - own, 0.0).T,
        coefficients=np.swapaxes(
            np.broadcast_to(coefficients, (*walked.left.shape[:1], n, q)), 0, 1
        ),
        covariance=np.swapaxes(
            np.broadcast_to(covariance, (*walked.left.shape[:1], n, q, q)), 0, 1
        ),
    )


def taken(place: Place, rows: NDArray[np.int64]) -> Place:
    """Keep the places of some tips."""
    return Place(*(array[rows] for array in place))


def left_out_together(fit: TwoCovariances, group: NDArray[np.bool_]) -> Place:
    """Say of every tip what those outside ``group`` (n_tips,) say, covariances kept."""
    return places_of_all(replace(fit, observed=fit.observed & ~group))


def at_new_tip(fit: TwoCovariances, traversal: Traversal, tip: str) -> Place:
    """Say of a tip of a larger tree what the fitted species say of it.

    ``traversal`` is the fit's tree with ``tip`` hung in it.
    """
    place = {name: row for row, name in enumerate(fit.traversal.tip_names)}
    rows = np.array([place.get(name, -1) for name in traversal.tip_names])
    known = rows >= 0
    larger = replace(
        fit,
        traversal=traversal,
        predictors=np.ascontiguousarray(np.where(known[:, None], fit.predictors[rows], 0.0)),
        measurements=np.ascontiguousarray(np.where(known[:, None], fit.measurements[rows], 0.0)),
        observed=known & fit.observed[rows],
        weight=np.where(known, fit.weight[rows], 1.0),
    )
    return taken(places_of_all(larger), np.array([traversal.tip_names.index(tip)]))
