"""What published equations say, held against the verdict they do not enter."""

from collections.abc import Iterable

from bonewright.findings import Caveat, Finding, HowGot, Statement
from bonewright.judgement.pooling import PooledMass
from bonewright.quantity import Quantity, Summary, format_interval

__all__ = ["SCATTER_NOT_INCLUDED", "judge_published", "published_masses"]

SCATTER_NOT_INCLUDED = "scatter not included"
"""Code of the caveat of a mass whose interval lacks the scatter of animals."""


def published_masses(findings: Iterable[Finding]) -> tuple[tuple[Finding, Summary], ...]:
    """Return the masses by published equations among ``findings``, with their summaries."""
    return tuple(
        (finding, finding.value.summary())
        for finding in findings
        if finding.key.startswith("relatives.published")
        and isinstance(finding.value, Quantity)
        and finding.value.unit == "kg"
    )


def judge_published(findings: Iterable[Finding], pooled: PooledMass) -> Finding | None:
    """Say of each published equation whether it contradicts the pooled mass.

    An equation contradicts it when its middle value lies outside the pooled mass's 95 %
    interval. Where the scatter of animals about the published line is not known, that is
    said too: the equation's own interval is then too narrow to be judged by.
    """
    masses = published_masses(findings)
    if not masses:
        return None
    verdict = Quantity(draws=pooled.mass_draws_kg, unit="kg").summary()
    low, high = verdict.interval95
    sentences, against = [], []
    for finding, summary in masses:
        says = f"{finding.title}: {format_interval(summary, 'kg')}"
        if low <= summary.median <= high:
            sentences.append(f"{says}, inside the verdict's interval.")
            continue
        side = "below" if summary.median < low else "above"
        sentences.append(f"{says}, {side} the verdict's interval: it disagrees.")
        against.append(f"{says} disagrees with the verdict ({side} it).")
    unknown = [
        finding
        for finding, _ in masses
        if any(caveat.code == SCATTER_NOT_INCLUDED for caveat in finding.caveats)
    ]
    if unknown:
        sentences.append(
            "How animals scatter about a published line is not known here, so its interval holds"
            " the bone's uncertainty only and single animals may lie far from it."
        )
    return Finding(
        key="judgement.published",
        step="judgement",
        title="Published equations beside the verdict",
        value=Statement(text=" ".join(sentences)),
        how=HowGot(
            formula="the equation's median against the pooled mass's 95 % interval",
            inputs=("judgement.mass", *(finding.key for finding, _ in masses)),
        ),
        n=len(masses),
        n_of="published equation" if len(masses) == 1 else "published equations",
        caveats=(
            (Caveat(code="published equation disagrees", text=" ".join(against)),)
            if against
            else ()
        ),
    )
