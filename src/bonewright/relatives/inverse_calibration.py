"""Mass read back from bones: inverse calibration.

Bones grow from mass, not mass from bones. Regressing each log bone on log mass, with all
bones of one bird free to deviate together, and then asking which mass explains the lost
animal's bones best, does not pull a giant back toward the average bird as the ordinary
regression of mass on bones does. What it costs: a wider answer, and none at all for bones
that hardly change with mass.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.quantity import Draws
from bonewright.relatives.many_traits import ManyTraitFit
from bonewright.relatives.tree_algebra import conditional_on_others

__all__ = [
    "CalibrationPrior",
    "InverseCalibration",
    "calibrate_each_left_out",
    "calibrate_tip",
    "draws_of",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CalibrationPrior:
    """What is known of the unknown predictor beforehand: normal, or flat if ``sd`` is None."""

    mean: float = 0.0
    sd: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InverseCalibration:
    """Which value of the unknown predictor explains the responses, for n_asked animals.

    ``plug_in`` and ``plug_in_sd`` (n_asked,) take coefficients and rates as known:
    b'inv(S)d / b'inv(S)b and the square root of v / b'inv(S)b. ``grid`` and ``density``
    (n_asked, n_grid) hold the posterior density with coefficients and rates integrated
    out; ``disagreement`` (n_asked,) is the squared distance left between the responses and
    the best value, about ``n_responses - 1`` when they agree as relatives' do.
    """

    plug_in: NDArray[np.float64]
    plug_in_sd: NDArray[np.float64]
    disagreement: NDArray[np.float64]
    grid: NDArray[np.float64]
    density: NDArray[np.float64]

    def quantiles(self, shares: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return quantiles of the posterior, (n_asked, n_shares)."""
        below = _cumulative(self.grid, self.density)
        return np.array(
            [np.interp(shares, row, grid) for row, grid in zip(below, self.grid, strict=True)]
        )


def calibrate_tip(
    fit: ManyTraitFit,
    tip: int,
    *,
    responses: NDArray[np.float64],
    other_predictors: NDArray[np.float64] | None = None,
    prior: CalibrationPrior | None = None,
) -> InverseCalibration:
    """Find the first predictor of an unmeasured tip from its responses, at its place.

    Parameters
    ----------
    fit : ManyTraitFit
        A fit the tip took no part in.
    tip : int
        The tip's place in the tree's order.
    responses : (n_asked, n_responses) float
        The tip's responses: one row, or many draws of them.
    other_predictors : (n_predictors - 1,) float, optional
        Its known predictors (such as 1 for flightless).
    prior : CalibrationPrior, optional
        Flat unless given.

    Raises
    ------
    NotEnoughEvidence
        If the tip took part in the fit.
    OutsideRange
        If the responses do not change with the predictor.
    """
    if fit.observed[tip]:
        raise NotEnoughEvidence(
            "A species that took part in the fit cannot be calibrated by it.",
            needed="a fit without that species",
            found="a fit with it",
            would_help="leaving the species out, or calibrate_each_left_out for all",
        )
    mean, variance = conditional_on_others(
        fit.traversal,
        np.column_stack([fit.predictors, fit.responses]),
        model=fit.model,
        observed=fit.observed,
    )
    k = fit.predictors.shape[1]
    n_asked = responses.shape[0]
    known = np.zeros(0) if other_predictors is None else other_predictors
    return _calibrated(
        slopes=np.broadcast_to(fit.coefficients[1:], (n_asked, *fit.coefficients[1:].shape)),
        rates=np.broadcast_to(fit.rates, (n_asked, *fit.rates.shape)),
        slope_covariance=np.broadcast_to(fit.slope_covariance, (n_asked, k, k)),
        place_predictors=np.broadcast_to(mean[tip, :k], (n_asked, k)),
        place_responses=np.broadcast_to(mean[tip, k:], (n_asked, fit.responses.shape[1])),
        variance=np.full(n_asked, variance[tip]),
        responses=responses,
        other_predictors=np.broadcast_to(known, (n_asked, k - 1)),
        freedom=fit.degrees_of_freedom,
        prior=prior or CalibrationPrior(),
    )


def calibrate_each_left_out(
    fit: ManyTraitFit, *, prior: CalibrationPrior | None = None
) -> InverseCalibration:
    """Calibrate each observed species from all others, in the tree's order of tips.

    Coefficients and rates are those without the species (rules for deleting a row,
    [Dubrule1983]_), from two walks over the tree; the model's parameter is kept.
    """
    k = fit.predictors.shape[1]
    columns = np.column_stack([fit.predictors, fit.responses])
    mean, variance = conditional_on_others(
        fit.traversal, columns, model=fit.model, observed=fit.observed
    )
    seen = fit.observed
    mean, variance, columns = mean[seen], variance[seen], columns[seen]
    weighted = (columns - mean) / variance[:, None]
    toward = weighted[:, :k]
    pull = toward @ fit.slope_covariance
    precision = 1 / variance - np.sum(pull * toward, axis=1)
    if np.any(precision <= 0) or fit.degrees_of_freedom < 2:
        raise NotEnoughEvidence(
            "One species alone decides the lines, so it cannot be left out.",
            needed="predictors that vary among the other species",
            found="a predictor that only one species moves",
            would_help="more relatives, or fewer predictors",
        )
    left = weighted[:, k:] - toward @ fit.coefficients[1:]
    share = left / precision[:, None]
    freedom = fit.degrees_of_freedom - 1
    outer = left[:, :, None] * share[:, None, :]
    slope_covariance = fit.slope_covariance + (
        pull[:, :, None] * pull[:, None, :] / precision[:, None, None]
    )
    return _calibrated(
        slopes=fit.coefficients[1:] - pull[:, :, None] * share[:, None, :],
        rates=(fit.rates * fit.degrees_of_freedom - outer) / freedom,
        slope_covariance=slope_covariance,
        place_predictors=mean[:, :k],
        place_responses=mean[:, k:],
        variance=variance,
        responses=columns[:, k:],
        other_predictors=columns[:, 1:k],
        freedom=freedom,
        prior=prior or CalibrationPrior(),
    )


def _calibrated(
    *,
    slopes: NDArray[np.float64],
    rates: NDArray[np.float64],
    slope_covariance: NDArray[np.float64],
    place_predictors: NDArray[np.float64],
    place_responses: NDArray[np.float64],
    variance: NDArray[np.float64],
    responses: NDArray[np.float64],
    other_predictors: NDArray[np.float64],
    freedom: int,
    prior: CalibrationPrior,
    n_grid: int = 801,
    reach: float = 12.0,
) -> InverseCalibration:
    """Plug-in answer and posterior, for n_asked animals at once.

    Given the unknown m, the responses follow a multivariate t round
    ``place + slopes'(x(m) - place)`` with variance ``v + (x - place)'C(x - place)`` times the
    rates; its density, times the prior, is the posterior. The grid reaches ``reach``
    plug-in standard deviations either way, enlarged where responses disagree; beyond it the
    density of a flat prior has no natural end, which matters only for responses that hardly
    change with the predictor, and those are refused.
    """
    gap = responses - place_responses
    known = other_predictors - place_predictors[:, 1:]
    gap = gap - np.einsum("ik,ikj->ij", known, slopes[:, 1:])
    first = slopes[:, 0]
    whitened = np.linalg.solve(rates, np.stack([gap, first], axis=2))
    sensitivity = np.sum(first * whitened[:, :, 1], axis=1)
    best = np.sum(first * whitened[:, :, 0], axis=1) / sensitivity
    signal = sensitivity / slope_covariance[:, 0, 0]
    if np.any(signal < 16.0):
        raise OutsideRange(
            "These bones hardly change with mass among the relatives, so no mass can be read"
            " back from them.",
            remedy="Use other bones, or more relatives of different size.",
        )
    left = np.sum(gap * whitened[:, :, 0], axis=1) - best**2 * sensitivity
    spread = np.sqrt(variance / sensitivity)
    n_responses = responses.shape[1]
    # the t's own spread at its best value: wider where the responses disagree
    widening = np.sqrt((freedom + left / variance) / max(freedom - n_responses + 1, 1))
    step = np.linspace(-reach, reach, n_grid)
    offset = best[:, None] + step * (spread * widening)[:, None]
    beyond = np.concatenate(
        [offset[:, :, None], np.broadcast_to(known[:, None], (*offset.shape, known.shape[1]))],
        axis=2,
    )
    total = variance[:, None] + np.einsum("igk,ikl,igl->ig", beyond, slope_covariance, beyond)
    distance = left[:, None] + (offset - best[:, None]) ** 2 * sensitivity[:, None]
    grid = offset + place_predictors[:, :1]
    log_density = -0.5 * n_responses * np.log(total)
    log_density -= 0.5 * (freedom + 1) * np.log1p(distance / (total * freedom))
    if prior.sd is not None:
        log_density -= 0.5 * ((grid - prior.mean) / prior.sd) ** 2
    density = np.exp(log_density - np.max(log_density, axis=1, keepdims=True))
    density /= np.trapezoid(density, grid, axis=1)[:, None]
    return InverseCalibration(
        plug_in=best + place_predictors[:, 0],
        plug_in_sd=spread,
        disagreement=left / variance,
        grid=grid,
        density=density,
    )


def _cumulative(grid: NDArray[np.float64], density: NDArray[np.float64]) -> NDArray[np.float64]:
    strips = 0.5 * (density[:, 1:] + density[:, :-1]) * np.diff(grid, axis=1)
    below = np.concatenate([np.zeros((grid.shape[0], 1)), np.cumsum(strips, axis=1)], axis=1)
    cumulative: NDArray[np.float64] = below / below[:, -1:]
    return cumulative


def draws_of(calibration: InverseCalibration, *, rng: np.random.Generator, n: int) -> Draws:
    """Draw the unknown predictor ``n`` times.

    With one animal asked, all draws come from its posterior; with ``n`` (draws of its
    responses), one from each. Anything else is a wrong call.
    """
    below = _cumulative(calibration.grid, calibration.density)
    uniform = rng.random(n)
    if below.shape[0] == 1:
        spread: Draws = np.interp(uniform, below[0], calibration.grid[0])
        return spread
    if below.shape[0] != n:
        raise ValueError(f"{n} draws were asked of {below.shape[0]} animals")
    after = np.argmax(below >= uniform[:, None], axis=1).clip(1)
    rows = np.arange(n)
    low, high = below[rows, after - 1], below[rows, after]
    share = np.where(high > low, (uniform - low) / np.where(high > low, high - low, 1.0), 0.5)
    left, right = calibration.grid[rows, after - 1], calibration.grid[rows, after]
    drawn: Draws = left + share * (right - left)
    return drawn
