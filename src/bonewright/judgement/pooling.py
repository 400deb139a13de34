"""The independent lines of evidence on mass, pooled."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Finding
from bonewright.judgement.as_findings import Heterogeneity, pooling_findings
from bonewright.judgement.heterogeneity import (
    between_variance_dersimonian_laird,
    between_variance_paule_mandel,
    birge_ratio,
    cochran_q,
    i_squared_percent,
    q_p_value,
)
from bonewright.judgement.lines import Line
from bonewright.quantity import Draws, Quantity, Summary

__all__ = ["Line", "PooledMass", "pool_masses"]


_CELLS = 800


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PooledMass:
    """The pooled mass and how the lines agree.

    ``tau_ln`` is the posterior median of the between-line standard deviation (ln units);
    ``without`` maps each pooled line's key to the pooled summary without it. With a single
    line Q and I squared are 0 and ``without`` is empty.
    """

    lines: tuple[Line, ...]
    mass_draws_kg: Draws
    weights_percent: Mapping[str, float]
    tau_ln: float
    q_statistic: float
    q_p_value: float
    i_squared_percent: float
    without: Mapping[str, Summary]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pool:
    """Draws of ln mass and of tau, both (n_draws,), and mean weights (k,)."""

    ln_mass: Draws
    tau_ln: Draws
    weights: Draws


def pool_masses(
    lines: tuple[Line, ...],
    *,
    heterogeneity_scale: float,
    rng: np.random.Generator,
) -> PooledMass:
    """Pool the lines marked ``pooled`` on the logarithm of mass.

    Parameters
    ----------
    lines : tuple of Line
        Every line of evidence; those not pooled are compared with the result.
    heterogeneity_scale : float
        Scale of the half-normal prior of tau, the standard deviation in ln units by which
        honest methods differ beyond their stated uncertainty.

    Raises
    ------
    NotEnoughEvidence
        If no line is marked to be pooled.

    Notes
    -----
    Line j says y_j = mean of its ln draws; V is the covariance of the ln draws, so that what
    lines share is in its off-diagonal. The model is y ~ N(mu, V + tau^2 I) with a flat prior
    of mu and tau half-normal ([Gelman2006]_). The posterior of tau is computed on a grid
    and sampled; in draw i the mass is sum_j w_ij (ln draw_ij + tau_i e_ij) with w_i the best
    linear weights at tau_i and e standard normal. Given tau its variance is
    w' (V + tau^2 I) w = 1 / (1' (V + tau^2 I)^-1 1), that of the best linear mean, while the
    lines keep their own shapes and their ties with every other quantity of the study.

    With a single line nothing can be learnt of tau, and the line is widened by its prior.
    """
    pooled = tuple(line for line in lines if line.pooled)
    if not pooled:
        raise NotEnoughEvidence(
            "No body mass can be given.",
            needed="one line of evidence on mass",
            found="none",
            would_help="leg-bone measurements with living relatives, or a maquette's volume",
        )
    # The pool and each leave-one-out have their own stream: dropping a line moves no other.
    streams = rng.spawn(1 + len(pooled))
    whole = _pool(pooled, heterogeneity_scale, streams[0])
    without = {}
    if len(pooled) > 1:
        for dropped, stream in zip(pooled, streams[1:], strict=True):
            rest = tuple(line for line in pooled if line is not dropped)
            without[dropped.key] = np.exp(_pool(rest, heterogeneity_scale, stream).ln_mass)
    heterogeneity = _heterogeneity(pooled, whole)
    mass_kg = np.exp(whole.ln_mass)
    weights_percent = {
        line.key: float(100 * weight) for line, weight in zip(pooled, whole.weights, strict=True)
    }
    return PooledMass(
        lines=lines,
        mass_draws_kg=mass_kg,
        weights_percent=weights_percent,
        tau_ln=float(np.median(whole.tau_ln)),
        q_statistic=heterogeneity.q_statistic,
        q_p_value=heterogeneity.q_p_value,
        i_squared_percent=heterogeneity.i_squared_percent,
        without={
            key: Quantity(draws=draws_kg, unit="kg").summary() for key, draws_kg in without.items()
        },
        findings=pooling_findings(
            lines,
            mass_kg=mass_kg,
            weights_percent=weights_percent,
            heterogeneity=heterogeneity,
            without_kg=without,
        ),
    )


def _pool(lines: tuple[Line, ...], heterogeneity_scale: float, rng: np.random.Generator) -> _Pool:
    ln_masses = np.log(np.array([line.mass_draws_kg for line in lines]))
    estimates = ln_masses.mean(axis=1)
    # Room for the posterior even where lines contradict the prior outright.
    highest = 6 * heterogeneity_scale + 4 * float(estimates.std())
    tau = (np.arange(_CELLS) + 0.5) * highest / _CELLS
    covariance = _covariance(ln_masses) + (tau**2)[:, None, None] * np.eye(len(lines))
    solved = np.linalg.solve(covariance, np.ones((_CELLS, len(lines), 1)))[..., 0]
    total = solved.sum(axis=1)
    weights = solved / total[:, None]
    departures = estimates - (weights @ estimates)[:, None]
    whitened = np.linalg.solve(covariance, departures[..., None])[..., 0]
    ln_posterior = (
        -0.5 * np.linalg.slogdet(covariance)[1]
        - 0.5 * np.log(total)
        - 0.5 * (departures * whitened).sum(axis=1)
        - 0.5 * (tau / heterogeneity_scale) ** 2
    )
    cumulative = np.cumsum(np.exp(ln_posterior - ln_posterior.max()))
    n_draws = ln_masses.shape[1]
    cell = np.searchsorted(cumulative, rng.random(n_draws) * cumulative[-1])
    lean = tau[cell] * rng.standard_normal(ln_masses.shape)
    return _Pool(
        ln_mass=(weights[cell].T * (ln_masses + lean)).sum(axis=0),
        tau_ln=tau[cell],
        weights=weights[cell].mean(axis=0),
    )


def _covariance(ln_masses: Draws) -> Draws:
    """Return the covariance of draws, (k, k), never quite singular."""
    covariance = np.atleast_2d(np.cov(ln_masses))
    return np.asarray(covariance + 1e-12 * np.eye(len(covariance)), dtype=np.float64)


def _heterogeneity(lines: tuple[Line, ...], pool: _Pool) -> Heterogeneity:
    if len(lines) < 2:
        return Heterogeneity(
            tau_ln=pool.tau_ln,
            q_statistic=0.0,
            q_p_value=1.0,
            i_squared_percent=0.0,
            birge_ratio=0.0,
            paule_mandel_ln=0.0,
            dersimonian_laird_ln=0.0,
        )
    ln_masses = np.log(np.array([line.mass_draws_kg for line in lines]))
    estimates, covariance = ln_masses.mean(axis=1), _covariance(ln_masses)
    q_statistic = cochran_q(estimates, covariance)
    return Heterogeneity(
        tau_ln=pool.tau_ln,
        q_statistic=q_statistic,
        q_p_value=q_p_value(q_statistic, len(lines)),
        i_squared_percent=i_squared_percent(q_statistic, len(lines)),
        birge_ratio=birge_ratio(q_statistic, len(lines)),
        paule_mandel_ln=between_variance_paule_mandel(estimates, covariance) ** 0.5,
        dersimonian_laird_ln=between_variance_dersimonian_laird(estimates, np.diagonal(covariance))
        ** 0.5,
    )
