"""Mass read back from several bones, as a distribution.

Given a mass, the lines and the animal's kin say which bones to expect; the bones then say
which masses explain them. The answer is worked out on a grid of masses, for normal and
for t deviations, with the lines' own uncertainty in it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bonewright.relatives.places import Place
from bonewright.relatives.two_covariances import TwoCovariances

__all__ = ["MassPosterior", "mixed", "on_grid_of", "read_back"]

Array = NDArray[np.float64]

_GRID = 141
_REACH = 8.0
_WEIGHT_NODES = 10
_SCALE_NODES = 4
_ENOUGH_FREEDOM = 150


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MassPosterior:
    """Density of ln mass, one row an animal: ``grid_ln`` and ``density`` (n_animals, n_grid).

    ``misfit`` (n_animals,) is the squared distance that the best mass leaves between the bones
    and what is expected of them, about one less than there are bones where they agree as
    relatives' do; ``from_lines`` (n_animals,) the share of the variance there that comes from
    the lines' own uncertainty.
    """

    grid_ln: Array
    density: Array
    misfit: Array
    from_lines: Array

    @property
    def cumulative(self) -> Array:
        """Share of the density below each point of the grid, (n_animals, n_grid)."""
        strips = 0.5 * (self.density[:, 1:] + self.density[:, :-1]) * np.diff(self.grid_ln, axis=1)
        below = np.concatenate([np.zeros((len(strips), 1)), np.cumsum(strips, axis=1)], axis=1)
        return np.asarray(below / below[:, -1:])

    def quantiles_ln(self, shares: Array) -> Array:
        """Return quantiles of ln mass, (n_animals, n_shares)."""
        return np.array(
            [
                np.interp(shares, below, grid)
                for below, grid in zip(self.cumulative, self.grid_ln, strict=True)
            ]
        )

    def log_score(self, mass_ln: Array) -> Array:
        """Return the log density at the true ln masses (n_animals,): the higher the better."""
        found = np.array(
            [
                np.interp(at, grid, density, left=0.0, right=0.0)
                for at, grid, density in zip(mass_ln, self.grid_ln, self.density, strict=True)
            ]
        )
        return np.asarray(np.log(np.maximum(found, 1e-12)), dtype=np.float64)

    def above(self, mass_ln: Array) -> Array:
        """Return the probability that the mass lies above ``mass_ln`` (n_animals,)."""
        return 1.0 - np.array(
            [
                np.interp(at, grid, below)
                for at, grid, below in zip(mass_ln, self.grid_ln, self.cumulative, strict=True)
            ]
        )


def read_back(
    fit: TwoCovariances,
    place: Place,
    gap: Array,
    *,
    n_bones: int,
    terms: Callable[[Array], Array],
) -> MassPosterior:
    """Find which masses explain each animal's bones at its place.

    Parameters
    ----------
    fit : TwoCovariances
        Bones given mass.
    place : Place
        One row an animal.
    gap : (n_animals, n_bones) float
        The bones in the fit's basis less what the place expects of them.
    n_bones : int
        How many bones tell the mass, for what the covariances were bent to them.
    terms : callable
        From ln masses (n_animals, n_grid) to predictors (n_animals, n_grid, n_predictors), the
        first of which is ln mass less a constant. Every mass is as likely beforehand.
    """
    total = place.variance + 1.0
    slope = place.coefficients[:, :, 0]
    sensitivity = np.sum(slope**2 / total, axis=1)
    here = place.predictors[:, :, 0]
    start = np.sum(slope * (gap + slope * here) / total, axis=1) / sensitivity
    zero = terms(np.zeros((len(gap), 1)))[:, 0, 0]
    # One step along the curve from where the straight line would put the mass.
    middle, spread = start - zero, 1.0 / np.sqrt(sensitivity)
    for _ in range(6):
        middle, spread = _closer(middle, terms, place, gap, total)
    grid = middle[:, None] + np.linspace(-_REACH, _REACH, _GRID) * spread[:, None]
    predictors = terms(grid)
    away = predictors[:, :, None, :] - place.predictors[:, None]
    error = gap[:, None] - np.einsum("agkq,akq->agk", away, place.coefficients)
    lines = np.einsum("agki,akij,agkj->agk", away, place.covariance, away)
    lines += place.variance[:, None]
    weights, weight_shares = _weight_nodes(fit.tail_freedom)
    scales, scale_shares = _scale_nodes(fit.degrees_of_freedom - fit.rotation.shape[0] + 1)
    scales = scales * _fitted_to(n_bones, fit.degrees_of_freedom)
    parts = []
    n_traits = fit.rotation.shape[0]
    for weight, weight_share in zip(weights, weight_shares, strict=True):
        variance = lines + 1.0 / weight
        log_variance = np.log(np.prod(variance, axis=2))
        distance = np.sum(error**2 / variance, axis=2)
        for scale, scale_share in zip(scales, scale_shares, strict=True):
            log_part = -0.5 * (log_variance + distance / scale + n_traits * np.log(scale))
            parts.append(log_part + np.log(weight_share * scale_share))
    stacked = np.array(parts)
    highest = np.max(stacked, axis=0)
    log_density = highest + np.log(np.sum(np.exp(stacked - highest), axis=0))
    best = np.arange(len(grid)), np.argmax(log_density, axis=1)
    variance = lines[best] + 1.0
    own_lines = lines[best] - place.variance
    density = np.exp(log_density - np.max(log_density, axis=1, keepdims=True))
    density /= np.trapezoid(density, grid, axis=1)[:, None]
    return MassPosterior(
        grid_ln=grid,
        density=density,
        misfit=np.sum(error[best] ** 2 / variance, axis=1),
        from_lines=np.mean(own_lines / variance, axis=1),
    )


def _closer(
    middle: Array, terms: Callable[[Array], Array], place: Place, gap: Array, total: Array
) -> tuple[Array, Array]:
    """Take one Gauss-Newton step towards the mass that explains the bones best."""
    step = 1e-4
    predictors = terms(middle[:, None] + np.array([-step, 0.0, step]))
    slope = np.einsum(
        "aq,akq->ak", (predictors[:, 2] - predictors[:, 0]) / (2 * step), place.coefficients
    )
    away = predictors[:, 1][:, None] - place.predictors
    error = gap - np.einsum("akq,akq->ak", away, place.coefficients)
    sensitivity = np.sum(slope**2 / total, axis=1)
    move = np.sum(slope * error / total, axis=1) / sensitivity
    return middle + np.clip(move, -2.0, 2.0), 1.0 / np.sqrt(sensitivity)


def _weight_nodes(freedom: float | None) -> tuple[Array, Array]:
    """Return weights of a t's own deviations and their shares: a gamma, on a log grid."""
    if freedom is None:
        return np.ones(1), np.ones(1)
    log_weight = np.linspace(np.log(0.01), np.log(6.0), _WEIGHT_NODES)
    share = np.exp(0.5 * freedom * (log_weight - np.exp(log_weight)))
    return np.exp(log_weight), share / share.sum()


def _fitted_to(n_bones: int, freedom: int) -> float:
    """Return by how much the plugged-in covariances understate the error of ln mass, squared.

    The covariance that weighs the bones was fitted to them: with few species it finds weights
    that suit these too well. For one covariance of normal bones the sensitivity comes out too
    great by f / (f - p - 1) and the weights cost 1 + (p - 1) / (f - p) more, p bones on f
    degrees of freedom (moments of the inverse Wishart). Two covariances cost somewhat more,
    which is not corrected: the proof shows what is left.
    """
    p, f = n_bones, freedom
    return f / max(f - p - 1, 2) * (1 + (p - 1) / max(f - p, 2))


def _scale_nodes(freedom: int) -> tuple[Array, Array]:
    """Return factors on all variances and their shares, for how uncertain the scale is."""
    if freedom > _ENOUGH_FREEDOM:
        return np.ones(1), np.ones(1)
    freedom = max(freedom, 1)
    log_scale = np.linspace(-1.0, 1.0, _SCALE_NODES) * 2.6 * np.sqrt(2.0 / freedom)
    share = np.exp(-0.5 * freedom * (log_scale + np.exp(-log_scale)))
    return np.exp(log_scale), share / share.sum()


def mixed(first: MassPosterior, second: MassPosterior, *, share_of_first: Array) -> MassPosterior:
    """Mix two answers on each animal, on one grid; all else is said of the first."""
    # Where the second lies outside the grid altogether, the first stands alone.
    empty = np.sum(second.density, axis=1) <= 0
    share = np.where(empty, 1.0, share_of_first)[:, None]
    return replace(first, density=share * first.density + (1.0 - share) * second.density)


def on_grid_of(posterior: MassPosterior, other: MassPosterior) -> MassPosterior:
    """Carry an answer over to the grid of another; 0 beyond its own."""
    density = [
        np.interp(to, grid, values, left=0.0, right=0.0)
        for to, grid, values in zip(
            other.grid_ln, posterior.grid_ln, posterior.density, strict=True
        )
    ]
    return replace(posterior, grid_ln=other.grid_ln, density=np.array(density))
