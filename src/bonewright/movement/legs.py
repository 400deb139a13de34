"""What the legs say of standing, walking and running: stresses, speeds, build, balance."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Finding
from bonewright.movement.balance import StanceBalance
from bonewright.movement.gait import (
    hip_height_m,
    speed_at_froude,
    speed_from_stride,
    stride_from_speed,
)
from bonewright.movement.legs_as_findings import legs_findings
from bonewright.movement.proportions import LegProportions
from bonewright.movement.stresses import LegBone, PeakStress, all_gaits
from bonewright.quantity import Draws

__all__ = ["HipHeight", "LegsResult", "Speeds", "hip_of_legs", "how_legs_move"]

# Froude numbers. Comfortable walking: common practice; change to running: Alexander.
_COMFORTABLE, _TRANSITION = 0.25, 0.5
# Relative strides (stride over hip height) of bipedal trackways: walking and running means.
_WALKING_STRIDE, _RUNNING_STRIDE = 1.3, 3.7
# Common practice: single animals keep within a fifth of the speed a Froude number gives, and
# within a third of that a stride gives, 19 times in 20.
_FROUDE_SD_LN, _STRIDE_SD_LN = 0.10, 0.15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HipHeight:
    """Hip height, m, (n_draws,), and where it comes from."""

    draws_m: Draws
    origin: str
    inputs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Speeds:
    """Speeds, m/s, and strides, m, (n_draws,).

    ``relative_stride`` is that of a trackway over the hip's height, ``by_trackway`` the speed
    it was walked or run at; None without one.
    """

    comfortable: Draws
    transition: Draws
    transition_stride: Draws
    walking_by_stride: Draws
    running_by_stride: Draws
    relative_stride: Draws | None = None
    by_trackway: Draws | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegsResult:
    """Stresses by (element, gait), safety factors, hip height, speeds, build, balance."""

    stresses: Mapping[tuple[str, str], PeakStress]
    safety: Mapping[tuple[str, str], Draws]
    hip: HipHeight | None
    speeds: Speeds | None
    proportions: tuple[LegProportions, ...]
    balance: tuple[StanceBalance, ...] = field(default=())
    findings: tuple[Finding, ...] = ()


def how_legs_move(
    bones: Mapping[str, LegBone],
    *,
    mass_draws_kg: Draws | None,
    weight_fraction_draws: Draws,
    duty_factors: Mapping[str, Draws],
    strength_draws_mpa: Draws,
    hip: HipHeight | None,
    proportions: tuple[LegProportions, ...],
    balance: tuple[StanceBalance, ...],
    scatter: Draws,
    stride_draws_m: Draws | None = None,
) -> LegsResult:
    """Judge standing, walking and running by the legs.

    Parameters
    ----------
    bones : mapping of element to LegBone
        Sections of the average animal and how they are held; may be empty.
    mass_draws_kg : (n_draws,) or None
        Body mass; without it there are no stresses.
    weight_fraction_draws, strength_draws_mpa : (n_draws,)
        Share of the weight on these legs, and the stress at which bone breaks.
    duty_factors : mapping of gait to (n_draws,)
        Share of a stride that a foot is on the ground.
    hip : HipHeight or None
        Height of the hip in the standing pose.
    proportions, balance
        What is known of the legs' build, and of the standing body.
    scatter : (n_draws,)
        Standard normal numbers: where this animal lies among those the formulas of speed
        were fitted to.
    stride_draws_m : (n_draws,) or None
        Stride of a trackway of the animal.

    Raises
    ------
    NotEnoughEvidence
        If there are neither sections with a mass, nor a hip height, nor proportions.
    """
    stresses: dict[tuple[str, str], PeakStress] = {}
    if mass_draws_kg is not None:
        stresses = all_gaits(
            bones,
            mass_kg=mass_draws_kg,
            weight_fraction=weight_fraction_draws,
            duty_factors=duty_factors,
        )
    if not stresses and hip is None and not proportions:
        raise NotEnoughEvidence(
            "The legs say nothing of walking and running yet.",
            needed="bone sections and a body mass, or lengths of the leg bones",
            found="neither",
            would_help="measurements GL of femur, tibiotarsus and tarsometatarsus",
        )
    safety = {key: strength_draws_mpa / found.greatest_mpa for key, found in stresses.items()}
    speeds = None if hip is None else _speeds(hip.draws_m, scatter, stride_draws_m)
    return LegsResult(
        stresses=stresses,
        safety=safety,
        hip=hip,
        speeds=speeds,
        proportions=proportions,
        balance=balance,
        findings=legs_findings(
            stresses=stresses,
            safety=safety,
            hip=None if hip is None else (hip.draws_m, hip.origin, hip.inputs),
            speeds=None if speeds is None else _named(speeds),
            proportions=proportions,
            balance=balance,
            relative_stride=None if speeds is None else speeds.relative_stride,
        ),
    )


def hip_of_legs(lengths_mm: dict[str, Draws], angles_rad: dict[str, Draws]) -> HipHeight:
    """Return the hip height of leg bones stood at the chosen angles."""
    return HipHeight(
        draws_m=hip_height_m(lengths_mm, angles_rad),
        origin="lengths of the leg bones times the cosines of their angles from the vertical",
        inputs=(
            *(f"skeleton.mean.{name}.GL" for name in lengths_mm),
            *(f"choices.{name}_angle" for name in lengths_mm),
        ),
    )


def _speeds(hip_m: Draws, scatter: Draws, stride_m: Draws | None) -> Speeds:
    by_froude, by_stride = np.exp(_FROUDE_SD_LN * scatter), np.exp(_STRIDE_SD_LN * scatter)
    transition = speed_at_froude(_TRANSITION, hip_m) * by_froude
    return Speeds(
        comfortable=speed_at_froude(_COMFORTABLE, hip_m) * by_froude,
        transition=transition,
        transition_stride=stride_from_speed(transition, hip_m),
        walking_by_stride=speed_from_stride(_WALKING_STRIDE * hip_m, hip_m) * by_stride,
        running_by_stride=speed_from_stride(_RUNNING_STRIDE * hip_m, hip_m) * by_stride,
        relative_stride=None if stride_m is None else stride_m / hip_m,
        by_trackway=None if stride_m is None else speed_from_stride(stride_m, hip_m) * by_stride,
    )


def _named(speeds: Speeds) -> dict[str, Draws]:
    named = {
        "comfortable": speeds.comfortable,
        "transition": speeds.transition,
        "transition_stride": speeds.transition_stride,
        "walking_by_stride": speeds.walking_by_stride,
        "running_by_stride": speeds.running_by_stride,
    }
    return named if speeds.by_trackway is None else named | {"by_trackway": speeds.by_trackway}
