"""The independent lines of evidence on mass, pooled."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Caveat, Finding
from bonewright.judgement.as_findings import pooling_findings
from bonewright.judgement.clash_findings import clash_findings, option_findings
from bonewright.judgement.heterogeneity import (
    between_variance_dersimonian_laird,
    between_variance_paule_mandel,
    birge_ratio,
    cochran_q,
    i_squared_percent,
    q_p_value,
)
from bonewright.judgement.lines import Line, decided_lines, without_twins
from bonewright.judgement.meta_analysis import q_profile_interval
from bonewright.judgement.mixture import Beliefs, MixturePool, covariance_of, pool_of_mixture
from bonewright.judgement.options import PoolingOption, pooling_options
from bonewright.judgement.spread_findings import Heterogeneity
from bonewright.quantity import Draws, Quantity, Summary
from bonewright.study.model import LineDecision

__all__ = ["Line", "PooledMass", "pool_masses", "pooled_draws_kg"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PooledMass:
    """The pooled mass and how the lines agree.

    ``tau_ln`` is the posterior median of the between-line standard deviation (ln units), and
    ``tau_interval_ln`` its 95 % by the profile of Q, without a prior (None with a single line);
    ``without`` maps each pooled line's key to the pooled summary without it. With a single
    line Q and I squared are 0 and ``without`` is empty. ``options`` are all ways to pool side
    by side; ``wrong_percent`` is the chance that a line is gravely wrong, after looking.
    """

    lines: tuple[Line, ...]
    mass_draws_kg: Draws
    weights_percent: Mapping[str, float]
    tau_ln: float
    tau_interval_ln: tuple[float, float] | None
    q_statistic: float
    q_p_value: float
    i_squared_percent: float
    without: Mapping[str, Summary]
    options: tuple[PoolingOption, ...]
    wrong_percent: Mapping[str, float]
    findings: tuple[Finding, ...]


def pool_masses(
    lines: tuple[Line, ...],
    *,
    heterogeneity_scale: float,
    wrong_share: float = 0.1,
    decisions: tuple[LineDecision, ...] = (),
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
    wrong_share : float
        Chance, before looking, that a given line is gravely wrong: used for the second
        opinion and for naming a line, not for the pooled mass.
    decisions : tuple of LineDecision
        Lines that a person pools or sets aside, with reasons.

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
    lines keep their own shapes and their ties with every other quantity of the study. Lines
    that say the same in every draw count once.

    With a single line nothing can be learnt of tau, and the line is widened by its prior.
    """
    lines, decided = decided_lines(lines, decisions)
    lines, once = without_twins(lines)
    pooled = tuple(line for line in lines if line.pooled)
    if not pooled:
        raise _no_line_left(decided)
    # The pool and each leave-one-out have their own stream: dropping a line moves no other.
    streams = rng.spawn(3 + len(pooled))
    beliefs = Beliefs(heterogeneity_scale=heterogeneity_scale)
    whole = _pool(pooled, beliefs, streams[0])
    without = {}
    if len(pooled) > 1:
        for dropped, stream in zip(pooled, streams[1:], strict=False):
            rest = tuple(line for line in pooled if line is not dropped)
            without[dropped.key] = np.exp(_pool(rest, beliefs, stream).ln_mass)
    second = _pool(pooled, replace(beliefs, wrong_share=wrong_share), streams[-2])
    options = pooling_options(pooled, default=whole, heavy_tailed=second, rng=streams[-1])
    heterogeneity = _heterogeneity(pooled, whole)
    mass_kg = np.exp(whole.ln_mass)
    weights_percent = {
        line.key: float(100 * weight) for line, weight in zip(pooled, whole.weights, strict=True)
    }
    wrong_percent = {
        line.key: float(100 * chance) for line, chance in zip(pooled, second.wrong, strict=True)
    }
    return PooledMass(
        lines=lines,
        mass_draws_kg=mass_kg,
        weights_percent=weights_percent,
        tau_ln=float(np.median(whole.tau_ln)),
        tau_interval_ln=heterogeneity.q_profile_ln,
        q_statistic=heterogeneity.q_statistic,
        q_p_value=heterogeneity.q_p_value,
        i_squared_percent=heterogeneity.i_squared_percent,
        without={
            key: Quantity(draws=draws_kg, unit="kg").summary() for key, draws_kg in without.items()
        },
        options=options,
        wrong_percent=wrong_percent,
        findings=pooling_findings(
            lines,
            mass_kg=mass_kg,
            weights_percent=weights_percent,
            heterogeneity=heterogeneity,
            without_kg=without,
            decided=(*decided, *once),
        )
        + clash_findings(
            pooled,
            mass_kg=mass_kg,
            without_kg=without,
            wrong_percent=wrong_percent,
            wrong_share=wrong_share,
        )
        + option_findings(options, keys=tuple(line.key for line in pooled)),
    )


def pooled_draws_kg(
    lines: tuple[Line, ...],
    *,
    heterogeneity_scale: float,
    decisions: tuple[LineDecision, ...] = (),
    rng: np.random.Generator,
) -> Draws:
    """Return only the pooled mass, (n_draws,) kg, of :func:`pool_masses`: the same draws, soon."""
    judged, decided = decided_lines(lines, decisions)
    judged, _ = without_twins(judged)
    pooled = tuple(line for line in judged if line.pooled)
    if not pooled:
        raise _no_line_left(decided)
    return np.exp(
        _pool(pooled, Beliefs(heterogeneity_scale=heterogeneity_scale), rng.spawn(1)[0]).ln_mass
    )


def _no_line_left(decided: tuple[Caveat, ...]) -> NotEnoughEvidence:
    aside = [caveat.text for caveat in decided if caveat.code == "line set aside"]
    return NotEnoughEvidence(
        "No body mass can be given.",
        needed="one line of evidence on mass",
        found=f"none that is not set aside ({' '.join(aside)})".replace(".)", ")")
        if aside
        else "none",
        would_help="a line counted again in line_decisions.csv, or a further one"
        if aside
        else "leg-bone measurements with living relatives, or a maquette's volume",
    )


def _pool(lines: Sequence[Line], beliefs: Beliefs, rng: np.random.Generator) -> MixturePool:
    ln_masses = np.log(np.array([line.mass_draws_kg for line in lines]))
    return pool_of_mixture(ln_masses, beliefs, rng=rng)


def _heterogeneity(lines: Sequence[Line], pool: MixturePool) -> Heterogeneity:
    if len(lines) < 2:
        return Heterogeneity(
            tau_ln=pool.tau_ln,
            q_statistic=0.0,
            q_p_value=1.0,
            i_squared_percent=0.0,
            birge_ratio=0.0,
            paule_mandel_ln=0.0,
            dersimonian_laird_ln=0.0,
            q_profile_ln=None,
        )
    ln_masses = np.log(np.array([line.mass_draws_kg for line in lines]))
    estimates, covariance = ln_masses.mean(axis=1), covariance_of(ln_masses)
    q_statistic = cochran_q(estimates, covariance)
    low, high = q_profile_interval(estimates, covariance)
    return Heterogeneity(
        tau_ln=pool.tau_ln,
        q_statistic=q_statistic,
        q_p_value=q_p_value(q_statistic, len(lines)),
        i_squared_percent=i_squared_percent(q_statistic, len(lines)),
        birge_ratio=birge_ratio(q_statistic, len(lines)),
        paule_mandel_ln=between_variance_paule_mandel(estimates, covariance) ** 0.5,
        dersimonian_laird_ln=between_variance_dersimonian_laird(estimates, np.diagonal(covariance))
        ** 0.5,
        q_profile_ln=(low**0.5, high**0.5),
    )
