"""The verdict in plain sentences."""

from collections.abc import Mapping
from dataclasses import dataclass

from bonewright.findings import Caveat, Finding
from bonewright.judgement.pooling import PooledMass

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
    """
    raise NotImplementedError
