"""Lay out for the judgement what the other steps found.

Steps do not know each other; this hands the judgement every estimate with what it rests on,
and the witnesses that copy nobody.
"""

from collections.abc import Mapping

import numpy as np

from bonewright.body.weighing import BodyResult
from bonewright.findings import Finding
from bonewright.judgement.ground import EvidenceNode
from bonewright.judgement.hypotheses import FatnessWitness, WeightClaim
from bonewright.judgement.next_evidence import Measurable
from bonewright.judgement.overturn import StrengthBound
from bonewright.judgement.own_ratios import OwnRatio
from bonewright.judgement.pooling import PooledMass
from bonewright.movement.strength import StrengthResult
from bonewright.quantity import Draws, Quantity
from bonewright.skeleton.average import AverageSkeleton
from bonewright.testimony.claims import WeighedClaim
from bonewright.testimony.witnesses import TestimonyResult

__all__ = [
    "evidence_nodes",
    "fatness_witnesses",
    "mass_by_state",
    "measurable_bones",
    "own_ratios",
    "strength_bound",
    "weight_claims",
]


def evidence_nodes(
    pooled: PooledMass,
    *,
    body: BodyResult | None,
    movement: StrengthResult | None,
    testimony: TestimonyResult | None,
    findings: tuple[Finding, ...],
    comparison: str,
) -> tuple[EvidenceNode, ...]:
    """Return every estimate of mass, height and condition with what it rests on."""
    nodes = [
        EvidenceNode(
            key=line.key,
            title=line.title,
            about="mass",
            bearing="pooled" if line.pooled else "beside",
            rests_on=line.rests_on,
            draws=line.mass_draws_kg,
        )
        for line in pooled.lines
    ]
    nodes += [
        EvidenceNode(
            key=finding.key,
            title="Published equation",
            about="mass",
            bearing="beside",
            rests_on=("average skeleton", "published equations"),
            draws=finding.value.draws,
        )
        for finding in findings
        if finding.key.startswith("relatives.published")
        and isinstance(finding.value, Quantity)
        and finding.value.unit == "kg"
    ]
    if movement is not None:
        nodes.append(
            EvidenceNode(
                key="movement.window",
                title=f"Strength of living {comparison}s' legs",
                about="mass",
                bearing="bound",
                rests_on=("average skeleton", "bone sections", f"living {comparison}s"),
            )
        )
    if body is not None and body.grown is not None:
        nodes.append(
            EvidenceNode(
                key="body.grown.height",
                title="Height of the grown body",
                about="height",
                bearing="beside",
                rests_on=("average skeleton", "body plan"),
                draws=body.grown.height_m,
            )
        )
    if testimony is not None:
        nodes += _claimed(testimony.claims)
        nodes += [
            EvidenceNode(
                key=f"testimony.picture.{witness.picture_id}",
                title="Fatness in pictures",
                about="condition",
                bearing="beside",
                rests_on=("pictures",),
            )
            for witness in fatness_witnesses(testimony)
        ]
    return tuple(nodes)


def _claimed(claims: tuple[WeighedClaim, ...]) -> list[EvidenceNode]:
    words = {"weight": ("mass", "Weights claimed"), "height": ("height", "Heights claimed")}
    words["fatness"] = ("condition", "Fatness claimed")
    found = []
    for claim in claims:
        if claim.is_copy or claim.kind not in words:
            continue
        about, title = words[claim.kind]
        found.append(
            EvidenceNode(
                key=f"testimony.claim.{claim.claim_id}",
                title=title,
                about="mass" if about == "mass" else "height" if about == "height" else "condition",
                bearing="claim",
                rests_on=("accounts",),
            )
        )
    return found


def fatness_witnesses(testimony: TestimonyResult | None) -> tuple[FatnessWitness, ...]:
    """Return the scored pictures that copy no other."""
    if testimony is None:
        return ()
    independent = None if testimony.copying is None else frozenset(testimony.copying.independent)
    return tuple(
        FatnessWitness(picture_id=picture.picture_id, title=picture.title, score=picture.score)
        for picture in testimony.pictures
        if picture.score is not None
        and (
            picture.picture_id in independent
            if independent is not None
            else picture.copy_of is None
        )
    )


def weight_claims(testimony: TestimonyResult | None) -> tuple[WeightClaim, ...]:
    """Return the claims of weight that are no copies."""
    if testimony is None:
        return ()
    return tuple(
        WeightClaim(
            claim_id=claim.claim_id,
            account_id=claim.account_id,
            title=f"{claim.account_title} (weight)",
            value_kg=claim.value,
        )
        for claim in testimony.claims
        if claim.kind == "weight" and not claim.is_copy and claim.value is not None
    )


def own_ratios(testimony: TestimonyResult | None) -> tuple[OwnRatio, ...]:
    """Return the likelihood ratios that the person entered beside claims, copies marked."""
    if testimony is None:
        return ()
    return tuple(
        OwnRatio(
            claim_id=claim.claim_id,
            account_id=claim.account_id,
            account_title=claim.account_title,
            statement=claim.statement,
            ratio=claim.likelihood_ratio,
            speaks_for=claim.likelihood_ratio_for,
            is_copy=claim.is_copy,
        )
        for claim in testimony.claims
        if claim.likelihood_ratio is not None and claim.likelihood_ratio_for is not None
    )


def strength_bound(movement: StrengthResult | None) -> StrengthBound | None:
    """Return the window of masses that every leg bone allows."""
    if movement is None:
        return None
    return StrengthBound(low_kg=movement.joint_low_draws_kg, high_kg=movement.joint_high_draws_kg)


def mass_by_state(pooled: PooledMass, body: BodyResult | None) -> Mapping[str, Draws]:
    """Return the pooled mass as it would be lean, on average and fat, each (n_draws,).

    The pooled mass is the average animal's; the grown body says how much lighter and heavier
    the same animal is with less and more fat.
    """
    mass_kg = pooled.mass_draws_kg
    if body is None or body.grown is None:
        return {"mean": mass_kg}
    states = body.grown.states
    return {
        state: np.asarray(mass_kg * grown.mass_draws_kg / states["mean"].mass_draws_kg)
        for state, grown in states.items()
    }


def measurable_bones(
    pooled: PooledMass, skeleton: AverageSkeleton | None
) -> Mapping[str, Measurable]:
    """Return, for each skeletal element, its measurement that the mass hangs on most."""
    if skeleton is None:
        return {}
    ln_mass = np.log(pooled.mass_draws_kg)
    ln_mass -= np.mean(ln_mass)
    best: dict[str, tuple[float, Measurable]] = {}
    for (element, code), mean in skeleton.means.items():
        draws = mean.mean_draws_mm
        off = draws - np.mean(draws)
        spread = float(np.linalg.norm(off) * np.linalg.norm(ln_mass))
        if spread == 0:
            continue
        strength = abs(float(ln_mass @ off)) / spread
        if element not in best or strength > best[element][0]:
            action = (
                f"measure {element} {code} on as many individuals again"
                f" ({mean.n_individuals} so far)"
            )
            best[element] = (strength, Measurable(action=action, draws=draws, left=0.5))
    return {element: measurable for element, (_, measurable) in best.items()}
