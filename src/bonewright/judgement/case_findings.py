"""What stands behind the verdict, as findings in plain sentences."""

from collections.abc import Sequence

import numpy as np

from bonewright.findings import Exact, Finding, HowGot, Statement
from bonewright.judgement.ground import EvidenceNode, SharedGround
from bonewright.judgement.hypotheses import HypothesisJudged
from bonewright.judgement.next_evidence import NextEvidence
from bonewright.judgement.options import PoolingOption
from bonewright.judgement.overturn import Overturn
from bonewright.judgement.own_ratios import OwnRatio, own_ratios_finding, product_words
from bonewright.quantity import Draws, format_amount, format_interval
from bonewright.study.model import Hypothesis

__all__ = ["case_findings", "hypothesis_sentence"]

_TURN = {"runner": "running", "walker": "walking", "wader": "wading"}


def case_findings(
    *,
    nodes: Sequence[EvidenceNode],
    shared: Sequence[SharedGround],
    bounded: PoolingOption | None,
    flips_at_kg: float | None,
    overturns: Sequence[Overturn],
    next_evidence: Sequence[NextEvidence],
    hypotheses: Sequence[HypothesisJudged],
    named: Sequence[Hypothesis],
    own_ratios: Sequence[OwnRatio],
    mass_kg: Draws,
    comparison: str,
) -> tuple[Finding, ...]:
    """Put the case into findings."""
    findings = [_ground(nodes, shared)]
    if bounded is not None:
        findings.append(_bounded(bounded))
    findings += [
        _overturn(item, mass_kg=mass_kg, flips_at_kg=flips_at_kg, gerund=_TURN[comparison])
        for item in overturns
    ]
    findings.append(_next(next_evidence))
    findings += [
        Finding(
            key=f"judgement.hypothesis.{item.key}",
            step="judgement",
            title=f"If it was {item.title}",
            value=Statement(text=hypothesis_sentence(item, gerund=_TURN[comparison])),
            how=HowGot(
                formula="mass of the average animal times the grown body's mass in that state over"
                " its mean state; density of independent witnesses' scores and weights in either"
                " season, multiplied; times the person's own ratios that name it",
                inputs=(
                    "judgement.mass",
                    "body.grown.mass.lean",
                    "body.grown.mass.fat",
                    *(f"testimony.likelihood.{ratio.claim_id}" for ratio in item.own),
                ),
                rows=tuple(row.ref for row in named if row.hypothesis_id == item.key),
            ),
            n=item.n_witnesses,
            n_of="independent witnesses",
        )
        for item in hypotheses
    ]
    findings += [_odds(item) for item in hypotheses if item.posterior is not None]
    own = own_ratios_finding(own_ratios, named)
    return (*findings, *(() if own is None else (own,)))


def _odds(item: HypothesisJudged) -> Finding:
    return Finding(
        key=f"judgement.odds.{item.key}",
        step="judgement",
        title=f"How likely it was {item.title}, among the hypotheses named",
        value=Exact(
            value=100 * (item.posterior or 0.0),
            unit="%",
            why_no_interval="itself a degree of belief; it rests on the priors of the hypotheses",
        ),
        how=HowGot(
            formula="prior times likelihood of the witnesses, over the sum of all hypotheses",
            inputs=(f"judgement.hypothesis.{item.key}",),
        ),
        n=item.n_witnesses,
        n_of="independent witnesses",
    )


def _ground(nodes: Sequence[EvidenceNode], shared: Sequence[SharedGround]) -> Finding:
    count = sum(node.count for node in nodes)
    things = dict.fromkeys(thing for node in nodes for thing in node.rests_on)
    if shared:
        pairs = "; ".join(
            f"{_first_lower(pair.first)} and {_first_lower(pair.second)} share"
            f" {' and '.join(pair.shares)}"
            + (
                ""
                if pair.correlation is None
                else f" (correlation of their masses {pair.correlation:.2f})"
            )
            for pair in shared
        )
        words = f"Of the lines that enter the verdict, {pairs}."
    else:
        words = "No two of the lines that enter the verdict rest on the same thing."
    return Finding(
        key="judgement.ground",
        step="judgement",
        title="What the estimates rest on",
        value=Statement(
            text=f"{count} estimates of mass, height and condition rest on {len(things)} kinds of"
            f" evidence. {words}"
        ),
        how=HowGot(formula="a count; correlation of draws of ln mass"),
        n=count,
        n_of="estimates",
    )


def _bounded(option: PoolingOption) -> Finding:
    spread = option.high_kg - option.low_kg
    middle, low, high = (
        format_amount(value, spread=spread)
        for value in (option.middle_kg, option.low_kg, option.high_kg)
    )
    return Finding(
        key="judgement.option.strength_window",
        step="judgement",
        title=f"Pooled another way: {option.title}",
        value=Statement(text=f"about {middle} kg ({low} to {high}). {option.argument}"),
        how=HowGot(
            formula="imagined worlds outside the window of strength count for less",
            inputs=("judgement.mass", "choices.outside_window_weight"),
        ),
    )


def _overturn(item: Overturn, *, mass_kg: Draws, flips_at_kg: float | None, gerund: str) -> Finding:
    low, high = np.quantile(mass_kg, [0.025, 0.975])
    spread = float(high - low)

    def kg(value: float) -> str:
        return f"{format_amount(value, spread=min(spread, value))} kg"

    words = [f"It says about {kg(item.says_kg)}."]
    words.append(
        "No higher result of this line alone would lift the verdict above its interval."
        if item.above_kg is None
        else f"It would have to say {kg(item.above_kg)} or more to lift the verdict above"
        f" {kg(float(high))}."
    )
    words.append(
        "No lower result would press it below."
        if item.below_kg is None
        else f"{kg(item.below_kg)} or less would press it below {kg(float(low))}."
    )
    if flips_at_kg is not None:
        words.append(
            f"The answer on {gerund} turns at a mass of {kg(flips_at_kg)}: "
            + (
                "no result of this line alone would bring it there."
                if item.flips_kg is None
                else f"this line would have to say {kg(item.flips_kg)}."
            )
        )
    return Finding(
        key=f"judgement.overturn.{item.key}",
        step="judgement",
        title=f"What this line would have to say to overturn the verdict: {item.title}",
        value=Statement(text=" ".join(words)),
        how=HowGot(
            formula="pooled again with this line's middle moved and its uncertainty kept; the"
            " verdict's middle moved to the ends of its present 95 % interval",
            inputs=(item.key, "judgement.mass"),
        ),
    )


def _next(next_evidence: Sequence[NextEvidence]) -> Finding:
    telling = [item for item in next_evidence if item.narrower_percent >= 1][:3]
    if telling:
        listed = "; ".join(
            f"{item.action} (about {item.narrower_percent:.0f} % narrower)" for item in telling
        )
        words = f"Expected to narrow the verdict most: {listed}."
    else:
        words = "Nothing at hand would narrow the verdict by as much as 1 %."
    return Finding(
        key="judgement.next",
        step="judgement",
        title="What to measure next",
        value=Statement(text=words),
        how=HowGot(
            formula="expected shrinking of the standard deviation of ln mass, from the draws and"
            " from pools with imagined results",
            inputs=("judgement.mass",),
        ),
    )


def hypothesis_sentence(item: HypothesisJudged, *, gerund: str) -> str:
    """Say in words what a hypothesis entails and how the witnesses stand to it."""
    words = []
    for state in item.states:
        if state not in item.masses_kg:
            continue
        strong = item.share_strong.get(state)
        words.append(
            f"{state.capitalize()}, the average animal weighs"
            f" {format_interval(item.masses_kg[state], 'kg')}"
            + (
                f"; its legs are {format_interval(item.strength[state], '')} times as strong for"
                f" its weight as those of the weakest animal compared, and suit {gerund} in"
                f" {_percent(strong)} of the imagined worlds"
                if strong is not None and state in item.strength
                else ""
            )
            + "."
        )
    if len(words) < len(item.states):
        words.append("A mass in every state takes a body grown from the skeleton.")
    if item.fasting_days is not None:
        words.append(f"Its fat lasts {format_interval(item.fasting_days, 'd')} of fasting.")
    if item.n_witnesses:
        total = len(item.explains) + len(item.contradicts)
        words.append(
            f"It explains {len(item.explains)} of {total} independent pictures and claims, and"
            f" {len(item.contradicts)} speak against it."
        )
    if item.own:
        claims = "; ".join(f"{ratio.title}: {ratio.ratio:g}" for ratio in item.own)
        words.append(
            f"Your own likelihood ratios multiply its odds by {product_words(item.ln_own)}"
            f" ({claims})."
        )
    if item.posterior is not None and item.prior is not None:
        words.append(
            f"From {100 * item.prior:.0f} % before looking, the witnesses make it"
            f" {_percent(item.posterior)} likely among the hypotheses named"
            + (
                f" ({_percent(item.posterior_without_own)} by pictures and weights alone, without"
                " anybody's own ratios)."
                if item.posterior_without_own is not None
                and _percent(item.posterior_without_own) != _percent(item.posterior)
                else "."
            )
        )
    return " ".join(words)


def _percent(share: float) -> str:
    if 0 < share < 0.01:
        return "less than 1 %"
    if 0.99 < share < 1:
        return "more than 99 %"
    return f"{100 * share:.0f} %"


def _first_lower(title: str) -> str:
    return title[:1].lower() + title[1:]
