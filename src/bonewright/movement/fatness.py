"""States of fatness against the mass window, and the greatest fat that fits in it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot
from bonewright.quantity import Draws, Quantity

__all__ = ["StateStrength", "fatness_findings"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StateStrength:
    """One state of fatness: its mass, and the shares of draws inside the joint window."""

    state: str
    mass_draws_kg: Draws
    share_inside: float
    share_too_weak: float


def fatness_findings(
    states: Sequence[StateStrength], greatest_fat_percent: Draws | None, *, comparison: str
) -> tuple[Finding, ...]:
    """Say in what share of draws each state fits, and how fat the animal may be."""
    window = ("movement.window.joint.low", "movement.window.joint.high")
    findings = [
        Finding(
            key=f"movement.state.{one.state}",
            step="movement",
            title=f"Imagined worlds in which the {one.state} body lies inside the window of the"
            f" {comparison}s",
            value=Exact(
                value=100 * one.share_inside,
                unit="%",
                why_no_interval="it is a share of draws; in"
                f" {100 * one.share_too_weak:.0f} % some bone is too weak",
            ),
            how=HowGot(
                formula="share of draws of the body's mass inside the joint window",
                inputs=(f"body.grown.mass.{one.state}", *window),
                sources=("Alexander1985",),
            ),
        )
        for one in states
    ]
    if greatest_fat_percent is not None:
        none_left = float(np.mean(greatest_fat_percent <= 0))
        caveats = [
            Caveat(
                code="strength only",
                text=(
                    "It says when fat would make some leg bone weaker than in every animal"
                    " compared. A bird so fat may stop running long before."
                ),
            )
        ]
        if none_left >= 0.01:
            caveats.append(
                Caveat(
                    code="no room for fat",
                    text=f"In {100 * none_left:.0f} % of imagined worlds even the body without"
                    " fat is too heavy for the window; the share stands at 0 there.",
                )
            )
        findings.append(
            Finding(
                key="movement.greatest_fat",
                step="movement",
                title="Greatest share of fat with which it could still move like the"
                f" {comparison}s, by this test",
                value=Quantity(draws=greatest_fat_percent, unit="%"),
                how=HowGot(
                    formula="100 (1 - fat-free mass / greatest mass of the joint window)",
                    inputs=("judgement.mass", "choices.average_fat_percent", window[1]),
                    sources=("Alexander1985",),
                ),
                caveats=tuple(caveats),
            )
        )
    return tuple(findings)
