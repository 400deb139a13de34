"""What the lines of evidence rest on, and which of them share it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bonewright.quantity import Draws

__all__ = ["EvidenceNode", "SharedGround", "gathered_nodes", "shared_ground"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EvidenceNode:
    """An estimate of mass, height or condition, and what it rests on.

    ``bearing`` says what it does in the verdict: it is pooled, stands beside it, bounds it or
    is a claim of a witness. ``count`` says how many estimates of one kind it stands for.
    ``draws`` are None where an estimate has none of its own.
    """

    key: str
    title: str
    about: Literal["mass", "height", "condition"]
    bearing: Literal["pooled", "beside", "bound", "claim"]
    rests_on: tuple[str, ...]
    count: int = 1
    draws: Draws | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedGround:
    """Two estimates that rest on the same things; ``correlation`` of their draws, if any."""

    first: str
    second: str
    shares: tuple[str, ...]
    correlation: float | None


def shared_ground(nodes: Sequence[EvidenceNode]) -> tuple[SharedGround, ...]:
    """Return the pairs of estimates that share something they rest on."""
    found = []
    for place, first in enumerate(nodes):
        for second in nodes[place + 1 :]:
            shares = tuple(thing for thing in first.rests_on if thing in second.rests_on)
            if shares:
                found.append(
                    SharedGround(
                        first=first.title,
                        second=second.title,
                        shares=shares,
                        correlation=_correlation(first.draws, second.draws),
                    )
                )
    return tuple(found)


def _correlation(first: Draws | None, second: Draws | None) -> float | None:
    if first is None or second is None or first.std() == 0 or second.std() == 0:
        return None
    return float(np.corrcoef(np.log(first), np.log(second))[0, 1])


def gathered_nodes(nodes: Sequence[EvidenceNode]) -> tuple[EvidenceNode, ...]:
    """Gather estimates alike in title's opening, bearing and ground, so that few remain.

    Fifteen leg-bone measurements that stand beside the verdict are one entry of fifteen.
    """
    groups: dict[tuple[str, str, str, tuple[str, ...]], list[EvidenceNode]] = {}
    for node in nodes:
        opening = node.title.partition(":")[0].partition(" (")[0]
        alone = node.bearing == "pooled"
        name = node.title if alone else opening
        groups.setdefault((name, node.about, node.bearing, node.rests_on), []).append(node)
    return tuple(
        members[0]
        if len(members) == 1
        else EvidenceNode(
            key=members[0].key,
            title=f"{name} ({sum(member.count for member in members)} estimates)",
            about=members[0].about,
            bearing=members[0].bearing,
            rests_on=members[0].rests_on,
            count=sum(member.count for member in members),
        )
        for (name, *_), members in groups.items()
    )
