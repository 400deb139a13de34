"""The case as a whole: what it rests on, what would overturn it, what to measure next."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Finding
from bonewright.judgement.case_findings import case_findings
from bonewright.judgement.ground import (
    EvidenceNode,
    SharedGround,
    gathered_nodes,
    shared_ground,
)
from bonewright.judgement.hypotheses import (
    FatnessWitness,
    HypothesisJudged,
    WeightClaim,
    judge_hypotheses,
)
from bonewright.judgement.mixture import Beliefs
from bonewright.judgement.next_evidence import Measurable, NextEvidence, worth_of_new_evidence
from bonewright.judgement.options import PoolingOption, option_of_draws, within_bound
from bonewright.judgement.overturn import (
    Overturn,
    StrengthBound,
    mass_that_flips,
    what_would_overturn,
)
from bonewright.judgement.own_ratios import OwnRatio
from bonewright.judgement.pooling import PooledMass
from bonewright.quantity import Draws
from bonewright.study.model import Hypothesis

__all__ = ["CaseResult", "judge_case"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseResult:
    """What stands behind the verdict.

    ``nodes`` are the estimates, alike ones gathered; ``shared`` the pairs of them that share
    ground. ``bounded`` is the verdict with the legs' strength as a soft bound, and
    ``flips_at_kg`` the mass at which their answer turns; None without a window.
    """

    nodes: tuple[EvidenceNode, ...]
    shared: tuple[SharedGround, ...]
    bounded: PoolingOption | None
    flips_at_kg: float | None
    overturns: tuple[Overturn, ...]
    next_evidence: tuple[NextEvidence, ...]
    hypotheses: tuple[HypothesisJudged, ...]
    findings: tuple[Finding, ...]


def judge_case(
    *,
    pooled: PooledMass,
    nodes: Sequence[EvidenceNode],
    bound: StrengthBound | None,
    comparison: str,
    beliefs: Beliefs,
    outside_weight: float,
    measurable: Mapping[str, Measurable],
    hypotheses: Sequence[Hypothesis],
    mass_by_state_kg: Mapping[str, Draws],
    fasting_days: Draws | None,
    pictures: Sequence[FatnessWitness],
    claims: Sequence[WeightClaim],
    own_ratios: Sequence[OwnRatio],
    rng: np.random.Generator,
) -> CaseResult:
    """Examine the case for the pooled mass.

    Parameters
    ----------
    pooled : PooledMass
        The verdict and its lines.
    nodes : sequence of EvidenceNode
        Every estimate of mass, height and condition.
    bound : StrengthBound or None
        The window of masses that the legs' strength allows.
    comparison : str
        The class of living animals that the window was taken from.
    beliefs : Beliefs
        Those of the verdict's pool.
    outside_weight : float
        Likelihood of a mass outside the window over that of one inside.
    measurable : mapping of a name to Measurable
        Inputs that more work would make surer.
    hypotheses, mass_by_state_kg, fasting_days, pictures, claims, own_ratios
        See :func:`bonewright.judgement.hypotheses.judge_hypotheses`.
    """
    lines = tuple(line for line in pooled.lines if line.pooled)
    mass_kg = pooled.mass_draws_kg
    flips_at_kg = None if bound is None else mass_that_flips(mass_kg, bound)
    bounded = None
    if bound is not None:
        bounded = option_of_draws(
            "strength_window",
            "The same, bounded by the legs' strength",
            mass_kg=within_bound(
                mass_kg,
                low_kg=bound.low_kg,
                high_kg=bound.high_kg,
                outside_weight=outside_weight,
                rng=rng,
            ),
            argument=f"Takes for granted that it was built like living {comparison}s, which is"
            " what was asked: so it stands beside the verdict.",
        )
    overturns = what_would_overturn(
        lines, mass_kg=mass_kg, beliefs=beliefs, flips_at_kg=flips_at_kg
    )
    next_evidence = worth_of_new_evidence(
        lines, mass_kg=mass_kg, beliefs=beliefs, measurable=measurable
    )
    judged = judge_hypotheses(
        hypotheses,
        mass_by_state_kg=mass_by_state_kg,
        bound=bound,
        fasting_days=fasting_days,
        pictures=pictures,
        claims=claims,
        own_ratios=own_ratios,
    )
    shared = shared_ground([node for node in nodes if node.bearing == "pooled"])
    gathered = gathered_nodes(nodes)
    return CaseResult(
        nodes=gathered,
        shared=shared,
        bounded=bounded,
        flips_at_kg=flips_at_kg,
        overturns=overturns,
        next_evidence=next_evidence,
        hypotheses=judged,
        findings=case_findings(
            nodes=gathered,
            shared=shared,
            bounded=bounded,
            flips_at_kg=flips_at_kg,
            overturns=overturns,
            next_evidence=next_evidence,
            hypotheses=judged,
            named=hypotheses,
            own_ratios=own_ratios,
            mass_kg=mass_kg,
            comparison=comparison,
        ),
    )
