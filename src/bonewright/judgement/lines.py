"""Lines of evidence, and which of them contradict each other."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.quantity import Draws

__all__ = ["Clash", "Line", "clashes", "share_as_far_apart"]

_CLASH_BELOW = 0.05


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
