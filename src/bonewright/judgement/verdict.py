"""The verdict in plain sentences."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bonewright.findings import Caveat, Finding, HowGot, Statement
from bonewright.judgement.pooling import PooledMass
from bonewright.judgement.published_lines import judge_published
from bonewright.quantity import Quantity, format_interval

__all__ = ["Verdict", "deliver_verdict"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The plain sentences of the report's first page."""

    mass_sentence: str
    agreement_sentence: str
    movement_sentence: str
    testimony_sentence: str
    caveats: tuple[Caveat, ...]
    findings: tuple[Finding, ...]


_CHANGE_KEYS = ("testimony.change.independent", "testimony.change.all")


def deliver_verdict(
    *,
    pooled: PooledMass | None,
    other_findings: tuple[Finding, ...],
    unanswered: Mapping[str, str],
) -> Verdict:
    """Say what the lines together support, in sentences tied to their findings.

    ``other_findings`` are those of the steps before; the sentences on movement and
    testimony are read off their statements (keys ``movement.could_run`` and
    ``testimony.change.independent``). ``unanswered`` maps a step to why it has no answer.
    The caveats are those of the findings that the sentences rest on, near and far.
    """
    findings = {
        finding.key: finding
        for finding in (*other_findings, *(() if pooled is None else pooled.findings))
    }
    published = None if pooled is None else judge_published(other_findings, pooled)
    if pooled is None:
        mass = _no_answer("How much the average animal weighed", unanswered, "judgement")
        agreement = "No lines of evidence on mass can be compared."
    else:
        summary = Quantity(draws=pooled.mass_draws_kg, unit="kg").summary()
        mass = f"The average animal weighed {format_interval(summary, 'kg')}."
        agreement = _statement(findings["judgement.agreement"])
        if published is not None:
            agreement += "".join(
                f" Not counted: {caveat.text[:1].lower()}{caveat.text[1:]}"
                for caveat in published.caveats
            )
    movement = (
        _statement(findings["movement.could_run"])
        if "movement.could_run" in findings
        else _no_answer("How its legs compare with those of living animals", unanswered, "movement")
    )
    change_key = next((key for key in _CHANGE_KEYS if key in findings), None)
    testimony = (
        _statement(findings[change_key])
        if change_key is not None
        else _no_answer("What pictures and accounts say", unanswered, "testimony")
    )
    parts = (
        ("mass", "Verdict on mass", mass, "judgement.mass"),
        ("agreement", "Verdict on agreement", agreement, "judgement.agreement"),
        ("movement", "Verdict on movement", movement, "movement.could_run"),
        ("testimony", "Verdict on pictures and accounts", testimony, change_key or ""),
    )
    return Verdict(
        mass_sentence=mass,
        agreement_sentence=agreement,
        movement_sentence=movement,
        testimony_sentence=testimony,
        caveats=_gathered_caveats((source for *_, source in parts), findings),
        findings=tuple(
            Finding(
                key=f"judgement.verdict.{name}",
                step="judgement",
                title=title,
                value=Statement(text=sentence),
                how=HowGot(
                    formula="read off the finding named",
                    inputs=(source,) if source in findings else (),
                ),
            )
            for name, title, sentence, source in parts
        )
        + (() if published is None else (published,)),
    )


def _statement(finding: Finding) -> str:
    return finding.value.text if isinstance(finding.value, Statement) else finding.title


def _no_answer(question: str, unanswered: Mapping[str, str], step: str) -> str:
    reason = unanswered.get(step)
    return f"{question} cannot be said yet." + (f" {reason}" if reason else "")


def _gathered_caveats(keys: Iterable[str], findings: Mapping[str, Finding]) -> tuple[Caveat, ...]:
    """Gather the caveats of findings and of what they were computed from, each once."""
    gathered: dict[Caveat, None] = {}
    waiting = list(keys)
    seen = set()
    while waiting:
        key = waiting.pop(0)
        if key in seen or key not in findings:
            continue
        seen.add(key)
        gathered |= dict.fromkeys(findings[key].caveats)
        waiting += findings[key].how.inputs
    return tuple(gathered)
