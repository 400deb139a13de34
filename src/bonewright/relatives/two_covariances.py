"""Several measurements that covary twice: by descent, and species by species.

Bones of one bird deviate together in two ways. What kin share has gathered along the tree
(heavy-legged families); what a species has for itself, measuring error included, has not.
The two need not look alike: lengths may run in families while stoutness does not. So the
covariance of species and measurements is ``descent (x) C + own (x) D``, with C the paths
that species share in the tree and D each species' own weight.

Two covariance matrices can be made diagonal together. In that basis the measurements are
independent of each other, each with one ratio of descent to own, so that a fit takes time
linear in species, and no matrix of species by species is made.

A few species lie far off for reasons of their own. Their own deviations are taken for
multivariate t, fitted by weights that make a species count the less the farther it lies off
([Lange1989]_).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.dependence import refuse_dependent
from bonewright.relatives.tree_algebra import Traversal, singular_tree

if TYPE_CHECKING:
    from bonewright.relatives.traversal_kernels import TreeArrays

__all__ = ["TwoCovariances", "Walked", "fit_two_covariances", "walked_again"]

Array = NDArray[np.float64]

_LEAST_DESCENT = 1e-6
_LEAST_OWN = 1e-5
_SPECIES_BEFOREHAND = 2.0
_OWN_BEFOREHAND = 0.1
_BEFOREHAND = np.array([_LEAST_DESCENT, _LEAST_OWN, _SPECIES_BEFOREHAND, _OWN_BEFOREHAND])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TwoCovariances:
    """Measurements given predictors, with deviations by descent and of each species' own.

    In the basis ``z = rotation @ measurements`` the own deviations have unit variance and those
    by descent ``ratio`` (n_measurements,) over the height of the tree. ``coefficients``
    (n_measurements, n_predictors) without intercept and their ``covariance``
    (n_measurements, n_predictors, n_predictors) are in that basis. ``weight`` (n_tips,): own
    variance is its reciprocal. ``descent`` and ``own`` are the two covariances in the units
    given. ``tail_freedom`` is the t's, None for normal. ``objective`` is minus the
    restricted log likelihood, less a constant, at the last weights; ``curvature`` what the
    search for it learnt, for like fits to go on from.
    """

    traversal: Traversal
    predictors: Array
    measurements: Array
    observed: NDArray[np.bool_]
    prior_sd: Array
    rotation: Array
    ratio: Array
    coefficients: Array
    covariance: Array
    weight: Array
    descent: Array
    own: Array
    tail_freedom: float | None
    degrees_of_freedom: int
    objective: float
    unit_length: float
    curvature: Array | None


class Walked(NamedTuple):
    """What walks over the tree say, one a measurement of the fit's basis.

    ``coefficients`` (p, q), their ``covariance`` (p, q, q); of each tip what all others say:
    ``mean`` (p, n_tips, q + 1), predictors first, and ``variance`` (p, n_tips) with the tip's
    own; ``toward`` (p, n_tips, q) and ``left`` (p, n_tips) are predictors and measurement
    less that mean over that variance.
    """

    coefficients: Array
    covariance: Array
    toward: Array
    left: Array
    variance: Array
    mean: Array
    objective: float


# When a search stops: rounds of weights, steps a round, least gain of a step, least change of
# ln weights. A fit that goes on from a like one has little left to find; without weights one
# round goes to the end.
_FIRST = np.array([8, 10, 1e-3, 0.03])
_GOING_ON = np.array([4, 8, 1e-2, 0.1])
_WITHOUT_WEIGHTS = np.array([1, 400, 1e-7, 0.0])


class _Data(NamedTuple):
    """A fit's data in standard units, with the tree's height as the unit of length."""

    traversal: Traversal
    length: Array
    predictors: Array
    measurements: Array
    observed: NDArray[np.bool_]
    precision: Array  # of the coefficients beforehand; 0 is flat
    freedom: int


def fit_two_covariances(
    traversal: Traversal,
    predictors: Array,
    measurements: Array,
    *,
    prior_sd: Array | None = None,
    tail_freedom: float | None = None,
    observed: NDArray[np.bool_] | None = None,
    start: TwoCovariances | None = None,
) -> TwoCovariances:
    """Fit both covariances by restricted likelihood, and the lines.

    Parameters
    ----------
    traversal : Traversal
        The tree; rows below stand in the order of its tips.
    predictors : (n_tips, n_predictors) float
        Without an intercept, which is always fitted. May have no column.
    measurements : (n_tips, n_measurements) float
    prior_sd : (n_predictors,) float, optional
        How large each coefficient is beforehand, as a multiple of the own deviations: a
        normal about 0 whose covariance over measurements is ``prior_sd**2 * own``. Infinite
        (flat) unless given.
    tail_freedom : float, optional
        Degrees of freedom of the t of own deviations; normal unless given.
    observed : (n_tips,) bool, optional
        False where a row is left out of the fit.
    start : TwoCovariances, optional
        A fit of the same measurements on other species, to start from.

    Raises
    ------
    NotEnoughEvidence
        If there are too few species for the covariances.
    OutsideRange
        If a predictor follows from the others or a measurement from the rest.
    """
    seen = np.ones(traversal.n_tips, bool) if observed is None else np.array(observed, bool)
    n_predictors, n_measurements = predictors.shape[1], measurements.shape[1]
    sd = np.full(n_predictors, np.inf) if prior_sd is None else np.asarray(prior_sd, np.float64)
    needed = n_predictors + n_measurements + 3
    if seen.sum() < needed:
        raise NotEnoughEvidence(
            "There are too few species for a joint fit of these bones.",
            needed=f"at least {needed} species with every bone and a place in the tree",
            found=str(int(seen.sum())),
            would_help="more living relatives, or fewer bones",
        )
    values = np.where(seen[:, None], np.column_stack([predictors, measurements]), 0.0)
    if not np.all(np.isfinite(values)):
        raise OutsideRange(
            "A measurement used on the tree is not a finite number.",
            remedy="Leave the species out, or measure it.",
        )
    refuse_dependent(values[seen], n_predictors)
    data = _Data(
        traversal=traversal,
        length=traversal.length / traversal.height,
        predictors=np.ascontiguousarray(values[:, :n_predictors]),
        measurements=np.ascontiguousarray(values[:, n_predictors:]),
        observed=seen,
        precision=np.where(np.isfinite(sd), sd, 1.0) ** -2.0 * np.isfinite(sd),
        freedom=int(seen.sum()) - 1 - int(np.sum(~np.isfinite(sd))),
    )
    # In units in which what least squares leaves over is uncorrelated, of variance 1.
    factor = np.linalg.cholesky(_spread_about_lines(data))
    whitened = np.linalg.inv(factor)
    data = data._replace(measurements=np.ascontiguousarray(data.measurements @ whitened.T))
    factors, weight, curvature = _fitted(
        data, start=start, whitened=whitened, tail_freedom=tail_freedom
    )
    descent, own = _covariances(factors)
    rotation, ratio = _diagonalised(descent, own)
    walked = _walk(data, rotation, ratio, weight)
    return TwoCovariances(
        traversal=traversal,
        predictors=data.predictors,
        measurements=np.ascontiguousarray(values[:, n_predictors:]),
        observed=seen,
        prior_sd=sd,
        rotation=rotation @ whitened,
        ratio=ratio,
        coefficients=walked.coefficients,
        covariance=walked.covariance,
        weight=weight,
        descent=factor @ descent @ factor.T,
        own=factor @ own @ factor.T,
        tail_freedom=tail_freedom,
        degrees_of_freedom=data.freedom,
        objective=walked.objective - data.freedom * float(np.linalg.slogdet(whitened)[1]),
        unit_length=traversal.height,
        curvature=curvature,
    )


def _fitted(
    data: _Data, *, start: TwoCovariances | None, whitened: Array, tail_freedom: float | None
) -> tuple[Array, Array, Array | None]:
    """Find the factors (2, p, p) of both covariances, the species' weights, and the curvature.

    A like fit to ``start`` from may be in other units; ``whitened`` (p, p) turns into these.
    """
    from bonewright.relatives.traversal_kernels import Descent, best_factors

    size = data.measurements.shape[1]
    known = None if start is None else start.curvature
    if start is None:
        unit, weight = np.eye(size), np.ones(data.traversal.n_tips)
        factors = np.stack((unit * np.sqrt(0.7), unit * np.sqrt(0.3)))
    else:
        weight = start.weight
        factors = np.stack(
            [
                np.linalg.cholesky(whitened @ covariance @ whitened.T)
                for covariance in (start.descent, start.own)
            ]
        )
    n_free = size * (size + 1)
    patience = _FIRST if known is None else _GOING_ON
    found = best_factors(
        _tree_of(data, weight),
        data.traversal.parent,
        data.predictors,
        data.measurements,
        data.precision,
        float(data.freedom),
        Descent(
            factors=factors,
            weight=weight,
            inverse=np.eye(n_free) if known is None else known,
            known=known is not None,
            finite=True,
        ),
        _BEFOREHAND,
        np.inf if tail_freedom is None else float(tail_freedom),
        _WITHOUT_WEIGHTS if tail_freedom is None else patience,
    )
    if not found.finite:
        raise singular_tree()
    return found.factors, found.weight, found.inverse if found.known else None


def _spread_about_lines(data: _Data) -> Array:
    """Return the covariance of what least squares without a tree leaves over."""
    design = np.column_stack([np.ones(len(data.predictors)), data.predictors])[data.observed]
    table = data.measurements[data.observed]
    left = table - design @ np.linalg.lstsq(design, table, rcond=None)[0]
    spread = left.T @ left / max(len(table) - design.shape[1], 1)
    return np.asarray(spread + 1e-9 * np.diag(np.diag(spread)))


def _covariances(factors: Array) -> tuple[Array, Array]:
    by_descent, own = factors
    unit = np.eye(len(own))
    return (
        by_descent @ by_descent.T + _LEAST_DESCENT * unit,
        own @ own.T + _LEAST_OWN * unit,
    )


def _diagonalised(descent: Array, own: Array) -> tuple[Array, Array]:
    """Return W and r with W own W' = 1 and W descent W' = diag(r)."""
    inverse = np.linalg.inv(np.linalg.cholesky(own))
    ratio, vectors = np.linalg.eigh(inverse @ descent @ inverse.T)
    return vectors.T @ inverse, np.maximum(ratio, 1e-12)


def _tree_of(data: _Data, weight: Array) -> "TreeArrays":
    from bonewright.relatives.traversal_kernels import TreeArrays

    return TreeArrays(
        is_tip=data.traversal.is_tip,
        length=data.length,
        depth=np.zeros(data.traversal.n_tips),
        extra=1.0 / weight,
        observed=data.observed,
        root_branch=0.0,
        stack_depth=data.traversal.stack_depth,
    )


def _walk(data: _Data, rotation: Array, ratio: Array, weight: Array) -> Walked:
    from bonewright.relatives.traversal_kernels import walks_at_scales

    tree = _tree_of(data, weight)
    q = data.predictors.shape[1]
    turned = np.ascontiguousarray(data.measurements @ rotation.T)
    product, _, root_variance, log_determinant, mean, variance = walks_at_scales(
        tree, data.traversal.parent, ratio, data.predictors, turned
    )
    if not np.all(np.isfinite(log_determinant)):
        raise singular_tree()
    inner = product[:, :q, :q] + np.diag(data.precision)
    covariance = np.asarray(np.linalg.inv(inner), dtype=np.float64)
    coefficients = np.einsum("kij,kj->ki", covariance, product[:, :q, q])
    unexplained = product[:, q, q] - np.sum(coefficients * product[:, :q, q], axis=1)
    objective = 0.5 * float(
        np.sum(unexplained)
        + np.sum(log_determinant)
        + np.sum(np.linalg.slogdet(inner)[1])
        - np.sum(np.log(root_variance))
    )
    objective -= data.freedom * float(np.linalg.slogdet(rotation)[1])
    known = np.where(data.observed, variance, 1.0)
    beyond = np.concatenate(
        [
            np.broadcast_to(data.predictors, (len(ratio), *data.predictors.shape)),
            turned.T[:, :, None],
        ],
        axis=2,
    )
    weighted = np.where(data.observed[None, :, None], beyond - mean, 0.0) / known[:, :, None]
    return Walked(
        coefficients=coefficients,
        covariance=covariance,
        toward=weighted[:, :, :q],
        left=weighted[:, :, q],
        variance=variance,
        mean=mean,
        objective=objective,
    )


def walked_again(fit: TwoCovariances) -> Walked:
    """Walk the tree of a fit with its covariances and weights as they are."""
    flat = ~np.isfinite(fit.prior_sd)
    data = _Data(
        traversal=fit.traversal,
        length=fit.traversal.length / fit.unit_length,
        predictors=fit.predictors,
        measurements=fit.measurements,
        observed=fit.observed,
        precision=np.where(flat, 1.0, fit.prior_sd) ** -2.0 * ~flat,
        freedom=fit.degrees_of_freedom,
    )
    return _walk(data, fit.rotation, fit.ratio, fit.weight)
