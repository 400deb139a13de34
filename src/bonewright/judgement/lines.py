"""Lines of evidence, and which of them contradict each other."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bonewright.findings import Caveat
from bonewright.quantity import Draws
from bonewright.study.model import LineDecision

__all__ = [
    "DECISION_CODES",
    "Clash",
    "Line",
    "clashes",
    "decided_lines",
    "share_as_far_apart",
    "without_twins",
]

DECISION_CODES = ("line pooled by decision", "line set aside", "decision without a line")
"""Codes of the caveats that tell of a person's decisions on lines."""


_CLASH_BELOW = 0.05
_TWINS_APART = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of evidence on mass.

    ``pooled`` says whether it enters the verdict, and ``reason`` why (not). ``rests_on``
    names what it depends on.
    """

    key: str
    title: str
    mass_draws_kg: Draws
    pooled: bool
    reason: str
    rests_on: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clash:
    """Two lines whose masses hardly overlap; ``share`` is their two-sided tail share."""

    first: Line
    second: Line
    share: float


def share_as_far_apart(first_kg: Draws, second_kg: Draws) -> float:
    """Return the two-sided share of draws in which the lesser mass is the greater.

    Both have shape (n_draws,) and are compared draw by draw, so that what they share
    cancels. Near 1 the two agree; near 0 one is heavier in almost every imagined world.
    """
    below = float(np.mean(first_kg < second_kg))
    above = float(np.mean(first_kg > second_kg))
    ties = 1 - below - above
    return min(1.0, 2 * min(below, above) + ties)


def clashes(lines: Sequence[Line]) -> tuple[Clash, ...]:
    """Find the pairs of lines that disagree: a tail share below 5 %."""
    found = []
    for place, first in enumerate(lines):
        for second in lines[place + 1 :]:
            share = share_as_far_apart(first.mass_draws_kg, second.mass_draws_kg)
            if share < _CLASH_BELOW:
                found.append(Clash(first=first, second=second, share=share))
    return tuple(found)


def decided_lines(
    lines: Sequence[Line], decisions: Sequence[LineDecision]
) -> tuple[tuple[Line, ...], tuple[Caveat, ...]]:
    """Pool or set aside the lines a person decided on, each with its printed reason.

    Returns the lines as decided, and what must be said beside the verdict of it.
    """
    by_key = {decision.line_key: decision for decision in decisions}
    decided, caveats = [], []
    for line in lines:
        decision = by_key.pop(line.key, None)
        pooled = line.pooled if decision is None else decision.decision == "pool"
        if decision is None or pooled == line.pooled:
            decided.append(line)
            continue
        verb = "Counted in the verdict" if pooled else "Set aside"
        decided.append(
            replace(
                line, pooled=pooled, reason=f"{verb} by decision: {decision.reason.rstrip('. ')}."
            )
        )
        caveats.append(
            Caveat(
                code=DECISION_CODES[0] if pooled else DECISION_CODES[1],
                text=f"{line.title} is {'counted in' if pooled else 'set aside from'} the verdict"
                f" by decision: {decision.reason.rstrip('. ')}.",
                rows=(decision.ref,),
            )
        )
    caveats += [
        Caveat(
            code=DECISION_CODES[2],
            text=f"A decision names {key}, which is no line of evidence of this study. There are:"
            f" {', '.join(line.key for line in lines)}.",
            rows=(decision.ref,),
        )
        for key, decision in by_key.items()
    ]
    return tuple(decided), tuple(caveats)


def without_twins(lines: Sequence[Line]) -> tuple[tuple[Line, ...], tuple[Caveat, ...]]:
    """Keep one of the pooled lines that say the same in every imagined world.

    Two methods that agree are two witnesses; one method counted twice agrees with itself,
    whatever it says, and would make the pool too sure. Lines are twins when their ln masses,
    draw by draw, differ by less than a twentieth (root mean square) of the spread of the first.

    Returns the lines with twins set beside, and what must be said of it beside the verdict.
    """
    kept: list[Line] = []
    heard: list[Line] = []
    caveats = []
    for line in lines:
        twin = next((other for other in heard if line.pooled and _twins(other, line)), None)
        if twin is None:
            kept.append(line)
            heard += [line] if line.pooled else []
            continue
        same = f"says the same as {twin.title[:1].lower()}{twin.title[1:]} in every imagined world"
        kept.append(replace(line, pooled=False, reason=f"It {same}, so the two count once."))
        caveats.append(
            Caveat(
                code="line counted once",
                text=f"{line.title} {same}: the two are one witness and count once.",
            )
        )
    return tuple(kept), tuple(caveats)


def _twins(first: Line, second: Line) -> bool:
    first_ln, second_ln = np.log(first.mass_draws_kg), np.log(second.mass_draws_kg)
    apart = float(np.sqrt(np.mean((first_ln - second_ln) ** 2)))
    return apart <= _TWINS_APART * float(np.std(first_ln))
