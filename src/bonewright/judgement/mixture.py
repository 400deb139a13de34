"""A pool that allows for a line being gravely wrong, and says which it would be.

Honest methods differ by a little; now and then one is far out: the wrong bone, a maquette
scaled twice. So each line is either honest, leaning by tau, or, with a small probability
named beforehand, wrong by far more. Every set of wrong lines is weighed by how well it
explains what the lines say. The pooled mass is the average over the sets, a distribution with
heavy tails on which a wrong line loses its pull the further out it lies.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from bonewright.quantity import Draws

__all__ = [
    "Beliefs",
    "MixturePool",
    "covariance_of",
    "moments_of_mixture",
    "named_above",
    "pool_of_mixture",
]

_Array = NDArray[np.float64]
_CELLS = 120
# A line is named when what the lines say has raised the odds that it is wrong this many times.
_EVIDENCE = 5.0
_CELLS_ALONE = 800


@dataclass(frozen=True, slots=True, kw_only=True)
class Beliefs:
    """What is thought of methods before looking at what these ones say.

    ``heterogeneity_scale``: scale of the half-normal prior of tau (ln). ``wrong_share``: the
    probability that a given line is gravely wrong; 0 switches this off. ``wrong_scale``: the
    standard deviation (ln) by which a wrong line is out.
    """

    heterogeneity_scale: float
    wrong_share: float = 0.0
    wrong_scale: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixturePool:
    """What the lines give together.

    ``ln_mass`` and ``tau_ln`` are (n_draws,), ``weights`` (k,) the mean weight of each line,
    ``wrong`` (k,) the probability that each is gravely wrong.
    """

    ln_mass: Draws
    tau_ln: Draws
    weights: _Array
    wrong: _Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cells:
    """Sets of wrong lines crossed with values of tau: (n_sets, n_tau, ...)."""

    probability: _Array
    weights: _Array
    means: _Array
    variances: _Array
    lean_sd: _Array
    tau: _Array
    wrong: _Array


def pool_of_mixture(
    ln_masses: Draws,
    beliefs: Beliefs,
    *,
    rng: np.random.Generator,
) -> MixturePool:
    """Pool lines on the logarithm of mass, each of which may be gravely wrong.

    Parameters
    ----------
    ln_masses : (k, n_draws) float
        Each line's draws of ln mass (kg); what lines share is in their correlation.
    beliefs : Beliefs

    Notes
    -----
    Given a set of wrong lines and tau, y ~ N(mu, V + D) with V the covariance of the draws and
    D diagonal: tau^2, and wrong_scale^2 more for a wrong line; mu has a flat prior. Sets of at
    most two wrong lines, and fewer than half of all, are weighed: were most lines wrong there
    would be no saying which. With two lines no set but the empty one is left.
    """
    cells = _cells(ln_masses.mean(axis=1), covariance_of(ln_masses), beliefs)
    n_lines, n_draws = ln_masses.shape
    flat = cells.probability.ravel()
    picked = np.searchsorted(np.cumsum(flat), rng.random(n_draws) * flat.sum())
    picked = np.minimum(picked, flat.size - 1)
    weights = cells.weights.reshape(-1, n_lines)[picked].T
    lean = cells.lean_sd.reshape(-1, n_lines)[picked].T * rng.standard_normal(ln_masses.shape)
    return MixturePool(
        ln_mass=(weights * (ln_masses + lean)).sum(axis=0),
        tau_ln=cells.tau[picked % len(cells.tau)],
        weights=(cells.probability[..., None] * cells.weights).sum(axis=(0, 1)),
        wrong=(cells.probability.sum(axis=1)[:, None] * cells.wrong).sum(axis=0),
    )


def named_above(wrong_share: float) -> float:
    """Return the probability above which a line is named as probably or possibly wrong.

    Its odds have then risen fivefold by what the lines say. In simulations that names about
    four wrong lines in five (docs/judgement-accuracy.md).
    """
    odds = _EVIDENCE * wrong_share / (1 - wrong_share)
    return odds / (1 + odds)


def moments_of_mixture(
    estimates: _Array, covariance: _Array, beliefs: Beliefs
) -> tuple[float, float, _Array]:
    """Return the posterior mean and variance of ln mass and each line's chance to be wrong.

    The same as :func:`pool_of_mixture` without its draws: ``estimates`` (k,) are the means of
    the lines' ln draws and ``covariance`` (k, k) theirs.
    """
    cells = _cells(estimates, covariance, beliefs, n_tau=_CELLS)
    wrong = (cells.probability.sum(axis=1)[:, None] * cells.wrong).sum(axis=0)
    return (*_moments(cells), wrong)


def _moments(cells: _Cells) -> tuple[float, float]:
    mean = float((cells.probability * cells.means).sum())
    spread = cells.variances + (cells.means - mean) ** 2
    return mean, float((cells.probability * spread).sum())


def _sets_of_wrong_lines(n_lines: int, *, any_wrong: bool) -> _Array:
    """Return the sets weighed, (n_sets, k) of 0 and 1: at most two wrong, and fewer than half."""
    most = min(2, (n_lines - 1) // 2) if any_wrong else 0
    sets = [
        np.isin(np.arange(n_lines), chosen).astype(np.float64)
        for count in range(most + 1)
        for chosen in combinations(range(n_lines), count)
    ]
    return np.array(sets)


def _cells(
    estimates: _Array, covariance: _Array, beliefs: Beliefs, *, n_tau: int | None = None
) -> _Cells:
    n_lines = len(estimates)
    share, scale = beliefs.wrong_share, beliefs.heterogeneity_scale
    wrong = _sets_of_wrong_lines(n_lines, any_wrong=share > 0)
    if n_tau is None:
        n_tau = _CELLS if len(wrong) > 1 else _CELLS_ALONE
    # Room for the posterior even where lines contradict the prior outright.
    highest = 6 * scale + 4 * float(estimates.std())
    tau = (np.arange(n_tau) + 0.5) * highest / n_tau
    lean = tau[None, :, None] ** 2 + (wrong * beliefs.wrong_scale**2)[:, None, :]
    widened = covariance + lean[..., None] * np.eye(n_lines)
    solved = np.linalg.solve(widened, np.ones((*lean.shape, 1)))[..., 0]
    total = solved.sum(axis=2)
    weights = solved / total[..., None]
    means = weights @ estimates
    departures = estimates - means[..., None]
    whitened = np.linalg.solve(widened, departures[..., None])[..., 0]
    n_wrong = wrong.sum(axis=1)[:, None]
    ln_prior = n_wrong * np.log(share) + (n_lines - n_wrong) * np.log1p(-share) if share else 0.0
    ln_posterior = (
        ln_prior
        - 0.5 * np.linalg.slogdet(widened)[1]
        - 0.5 * np.log(total)
        - 0.5 * (departures * whitened).sum(axis=2)
        - 0.5 * (tau / scale) ** 2
    )
    probability = np.exp(ln_posterior - ln_posterior.max())
    return _Cells(
        probability=probability / probability.sum(),
        weights=weights,
        means=means,
        variances=1 / total,
        lean_sd=np.sqrt(lean),
        tau=tau,
        wrong=wrong,
    )


def covariance_of(ln_masses: Draws) -> _Array:
    """Return the covariance of draws, (k, k), never quite singular."""
    covariance = np.atleast_2d(np.cov(ln_masses))
    return np.asarray(covariance + 1e-12 * np.eye(len(covariance)), dtype=np.float64)
