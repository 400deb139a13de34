"""The pooled mass and its agreement as findings and plain sentences."""

from collections.abc import Mapping, Sequence

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot, Statement
from bonewright.judgement.lines import Clash, Line, clashes, share_as_far_apart
from bonewright.judgement.spread_findings import Heterogeneity, spread_findings
from bonewright.quantity import Draws, Quantity, format_interval

__all__ = ["pooling_findings"]

_SOURCES = ("Gelman2006",)


def pooling_findings(
    lines: Sequence[Line],
    *,
    mass_kg: Draws,
    weights_percent: Mapping[str, float],
    heterogeneity: Heterogeneity,
    without_kg: Mapping[str, Draws],
    decided: tuple[Caveat, ...] = (),
) -> tuple[Finding, ...]:
    """Put the pooled mass, the lines' weights and their agreement into findings.

    ``decided`` are caveats that tell of lines a person pooled or set aside.
    """
    pooled = [line for line in lines if line.pooled]
    keys = tuple(line.key for line in pooled)
    clashing = clashes(pooled)
    caveats = (
        *decided,
        *_caveats(pooled, clashing=clashing, weights_percent=weights_percent),
    )
    mass = _finding(
        "mass",
        "Body mass of the average animal, all independent lines together",
        value=Quantity(draws=mass_kg, unit="kg"),
        formula="weighted mean of ln mass, weights from (V + tau^2 I)^-1, over draws of tau",
        inputs=(*keys, "choices.heterogeneity_scale"),
        n=len(pooled),
        caveats=caveats,
    )
    between = _finding(
        "between_lines",
        "How much methods differ beyond their stated uncertainty (one standard deviation)",
        value=Quantity(draws=100 * np.expm1(heterogeneity.tau_ln), unit="%"),
        formula="100 (exp(tau) - 1), tau from its posterior under a half-normal prior",
        inputs=(*keys, "choices.heterogeneity_scale"),
        n=len(pooled),
        caveats=tuple(caveat for caveat in caveats if caveat.code in {"one line", "few lines"}),
    )
    agreement = _finding(
        "agreement",
        "What the lines agree and disagree on",
        value=Statement(text=_agreement_sentence(pooled, clashing)),
        formula="two-sided share of draws in which the lesser mass is the greater; below 5 %"
        " the lines disagree",
        inputs=keys,
        n=len(pooled),
    )
    findings = [mass, agreement, between, *_weights(pooled, weights_percent)]
    if len(pooled) > 1:
        findings += spread_findings(heterogeneity, keys, n=len(pooled))
        findings += [
            _finding(
                f"without.{line.key}",
                f"Body mass without this line: {line.title}",
                value=Quantity(draws=without_kg[line.key], unit="kg"),
                formula="pooled again with this line left out",
                inputs=tuple(key for key in keys if key != line.key),
                n=len(pooled) - 1,
            )
            for line in pooled
        ]
    beside = [line for line in lines if not line.pooled]
    if beside:
        findings.append(_beside(beside, mass_kg))
    return tuple(findings)


def _finding(
    name: str,
    title: str,
    *,
    value: Quantity | Exact | Statement,
    formula: str,
    inputs: tuple[str, ...],
    n: int,
    caveats: tuple[Caveat, ...] = (),
) -> Finding:
    return Finding(
        key=f"judgement.{name}",
        step="judgement",
        title=title,
        value=value,
        how=HowGot(formula=formula, inputs=inputs, sources=_SOURCES),
        n=n,
        n_of="lines of evidence",
        caveats=caveats,
    )


def _caveats(
    pooled: Sequence[Line], *, clashing: Sequence[Clash], weights_percent: Mapping[str, float]
) -> tuple[Caveat, ...]:
    caveats = []
    if len(pooled) == 1:
        caveats.append(
            Caveat(
                code="one line",
                text="Only one line of evidence gives a mass, so nothing checks it; its interval is"
                " widened by what study.toml expects methods to differ.",
            )
        )
    elif len(pooled) < 5:
        caveats.append(
            Caveat(
                code="few lines",
                text=f"{len(pooled)} lines say little about how far methods differ; that rests"
                " mostly on the choice in study.toml (heterogeneity_scale).",
            )
        )
    caveats += [
        Caveat(
            code="lines disagree",
            text=f"{_first_lower(clash.first.title)} and {_first_lower(clash.second.title)}"
            " contradict each other; the pooled mass is a compromise between them.",
        )
        for clash in clashing
    ]
    if any(weight < -1 for weight in weights_percent.values()):
        caveats.append(
            Caveat(
                code="negative weight",
                text="Two lines share so much that one gets a weight below zero: the pooled mass"
                " may lie outside what the lines say.",
            )
        )
    return tuple(caveats)


def _agreement_sentence(pooled: Sequence[Line], clashing: Sequence[Clash]) -> str:
    if len(pooled) == 1:
        return (
            f"Only one line of evidence gives a mass ({_says(pooled[0])}); nothing checks it, and"
            " the verdict is wider than the line by as much as honest methods commonly differ."
        )
    all_say = "; ".join(_says(line) for line in pooled)
    if not clashing:
        return (
            f"The {len(pooled)} independent lines of evidence agree within their uncertainty:"
            f" {all_say}."
        )
    pairs = "; ".join(
        f"{_says(clash.first)} against {_says(clash.second)}"
        f" ({_percent(clash.share)} of the imagined worlds are as far apart the other way)"
        for clash in clashing
    )
    return f"The lines of evidence disagree: {pairs}."


def _says(line: Line) -> str:
    summary = Quantity(draws=line.mass_draws_kg, unit="kg").summary()
    return f"{_first_lower(line.title)} {format_interval(summary, 'kg')}"


def _beside(beside: Sequence[Line], mass_kg: Draws) -> Finding:
    disagreeing = [
        line for line in beside if share_as_far_apart(line.mass_draws_kg, mass_kg) < 0.05
    ]
    count = f"{len(beside)} further estimate{'' if len(beside) == 1 else 's'}"
    if disagreeing:
        verdict = f"{len(disagreeing)} disagree with it: {'; '.join(map(_says, disagreeing))}."
    else:
        verdict = "none disagrees with it."
    return _finding(
        "beside",
        "Estimates beside the pooled mass",
        value=Statement(
            text=f"Of {count} not pooled, since they rest on the same evidence or on another state"
            f" of the body, {verdict}"
        ),
        formula="two-sided share of draws against the pooled mass; below 5 % they disagree",
        inputs=("judgement.mass", *(line.key for line in beside)),
        n=len(beside),
    )


def _weights(pooled: Sequence[Line], weights_percent: Mapping[str, float]) -> list[Finding]:
    return [
        _finding(
            f"weight.{line.key}",
            f"Weight in the pooled mass: {line.title}",
            value=Exact(
                value=weights_percent[line.key],
                unit="%",
                why_no_interval="the mean weight over all draws of tau",
            ),
            formula="(V + tau^2 I)^-1 1, scaled to sum to 100 %",
            inputs=(line.key, "judgement.between_lines"),
            n=len(pooled),
        )
        for line in pooled
    ]


def _first_lower(title: str) -> str:
    return title[:1].lower() + title[1:]


def _percent(share: float) -> str:
    return "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"
