"""The steps joined: which result needs which."""

from collections.abc import Mapping
from dataclasses import dataclass

from bonewright.body.maquette import BodyResult
from bonewright.findings import Doubt, Finding
from bonewright.judgement.pooling import PooledMass
from bonewright.judgement.verdict import Verdict
from bonewright.movement.strength import StrengthResult
from bonewright.relatives.leg_bones import RelativesResult
from bonewright.sections.properties import SectionsResult
from bonewright.skeleton.average import AverageSkeleton
from bonewright.study.model import Study
from bonewright.testimony.witnesses import TestimonyResult

__all__ = ["STEPS", "Run", "run_study"]

STEPS = ("skeleton", "relatives", "sections", "body", "movement", "testimony", "judgement")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """Everything computed from one study.

    A step without an answer is None, and ``unanswered`` says why, in words fit to show.
    """

    study: Study
    skeleton: AverageSkeleton | None
    relatives: RelativesResult | None
    sections: SectionsResult | None
    body: BodyResult | None
    pooled: PooledMass | None
    movement: StrengthResult | None
    testimony: TestimonyResult | None
    verdict: Verdict
    unanswered: Mapping[str, str]
    findings: tuple[Finding, ...]
    doubts: tuple[Doubt, ...]


def run_study(study: Study) -> Run:
    """Run every step of the job on a checked study."""
    raise NotImplementedError
