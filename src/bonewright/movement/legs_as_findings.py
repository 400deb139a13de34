"""Stresses, speeds, build and balance as findings, each in words no larger than its ground."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from bonewright.findings import Caveat, Finding, HowGot, Statement
from bonewright.movement.balance import StanceBalance
from bonewright.movement.proportions import LegProportions
from bonewright.movement.stresses import PeakStress
from bonewright.quantity import Draws, Quantity

__all__ = ["legs_findings"]

_WITHOUT_MUSCLE: Final = Caveat(
    code="muscles left out",
    text=(
        "Muscles pull on a leg bone besides the ground's push, so real stresses are higher and"
        " safety factors lower: good for comparing gaits and bones, not for the last word."
    ),
)
_SCATTER: Final = Caveat(
    code="formula scatters",
    text=(
        "The formula was fitted over living animals of many kinds; the interval holds that a"
        " single one may be a third faster or slower (common practice)."
    ),
)
_NOT_A_LIMIT: Final = Caveat(
    code="no top speed",
    text="It says how fast such an animal goes with such a stride, not how fast it could go.",
)
_OTHER_MAKER: Final = Caveat(
    code="whose tracks",
    text=(
        "The hip is that of the average animal. A larger or smaller one made other strides at the"
        " same speed, and nothing in a track says which it was."
    ),
)
_SPEEDS: Final = (
    (
        "comfortable",
        "Comfortable walking speed",
        "m/s",
        "speed at Froude number 0.25 (common practice)",
        (),
    ),
    (
        "transition",
        "Speed at which animals of its size change from walking to running",
        "m/s",
        "speed at Froude number 0.5",
        (),
    ),
    (
        "transition_stride",
        "Stride at that speed",
        "m",
        "Alexander's formula turned round",
        (_SCATTER,),
    ),
    (
        "walking_by_stride",
        "Walking speed with the mean relative stride of walking two-legged trackways (1.3)",
        "m/s",
        "0.25 g^0.5 L^1.67 h^-1.17, L = 1.3 h",
        (_SCATTER,),
    ),
    (
        "running_by_stride",
        "Running speed with the mean relative stride of running two-legged trackways (3.7)",
        "m/s",
        "0.25 g^0.5 L^1.67 h^-1.17, L = 3.7 h",
        (_SCATTER, _NOT_A_LIMIT),
    ),
    (
        "by_trackway",
        "Speed at which the trackway was made",
        "m/s",
        "0.25 g^0.5 L^1.67 h^-1.17, L the stride of the trackway",
        (_SCATTER, _OTHER_MAKER),
    ),
)
# Relative strides at which two-legged animals change their gait [Alexander1976]_.
_WALK_ENDS, _RUN_BEGINS = 2.0, 2.9


def legs_findings(
    *,
    stresses: Mapping[tuple[str, str], PeakStress],
    safety: Mapping[tuple[str, str], Draws],
    hip: tuple[Draws, str, tuple[str, ...]] | None,
    speeds: Mapping[str, Draws] | None,
    proportions: Sequence[LegProportions],
    balance: Sequence[StanceBalance],
    relative_stride: Draws | None = None,
) -> tuple[Finding, ...]:
    """Put the legs' results into findings."""
    findings = [
        finding
        for (element, gait), stress in stresses.items()
        for finding in _stress_findings(element, gait, stress, safety[element, gait])
    ]
    if hip is not None and speeds is not None:
        draws, origin, inputs = hip
        findings.append(
            Finding(
                key="movement.hip_height",
                step="movement",
                title="Hip height, standing",
                value=Quantity(draws=draws, unit="m"),
                how=HowGot(formula=origin, inputs=inputs),
            )
        )
        findings += [
            Finding(
                key=f"movement.speed.{name}",
                step="movement",
                title=title,
                value=Quantity(draws=speeds[name], unit=unit),
                how=HowGot(
                    formula=formula,
                    inputs=("movement.hip_height",)
                    + (("trackway.stride_m",) if name == "by_trackway" else ()),
                    sources=("Alexander1976",),
                ),
                caveats=caveats,
            )
            for name, title, unit, formula, caveats in _SPEEDS
            if name in speeds
        ]
        if relative_stride is not None:
            findings.append(_gait_finding(relative_stride))
    findings += [finding for one in proportions for finding in _proportion_findings(one)]
    if balance:
        findings.append(_balance_finding(balance))
    return tuple(findings)


def _gait_finding(relative_stride: Draws) -> Finding:
    """Say how the maker of the tracks went, by its stride over the hip's height."""
    shares = (
        ("walked", float(np.mean(relative_stride <= _WALK_ENDS))),
        (
            "trotted or changed its gait",
            float(np.mean((relative_stride > _WALK_ENDS) & (relative_stride <= _RUN_BEGINS))),
        ),
        ("ran", float(np.mean(relative_stride > _RUN_BEGINS))),
    )
    likely = max(shares, key=lambda pair: pair[1])
    return Finding(
        key="movement.trackway_gait",
        step="movement",
        title="How the maker of the trackway went",
        value=Statement(
            text=(
                f"The stride is {np.median(relative_stride):.2f} times the hip's height: the"
                f" animal {likely[0]}, in {100 * likely[1]:.0f} % of imagined worlds (living"
                f" animals walk up to {_WALK_ENDS:g} and run above {_RUN_BEGINS:g}). Tracks that"
                " were left walking say nothing of how fast it could run."
            )
        ),
        how=HowGot(
            formula="stride over hip height",
            inputs=("movement.hip_height", "trackway.stride_m"),
            sources=("Alexander1976",),
        ),
        caveats=(_OTHER_MAKER,),
    )


def _stress_findings(
    element: str, gait: str, stress: PeakStress, safety: Draws
) -> tuple[Finding, Finding]:
    inputs = (
        f"sections.modulus.{element}",
        f"sections.area.{element}",
        f"sections.torsion_constant.{element}",
        "judgement.mass",
        f"choices.{element}_angle",
        "choices.shaft_bow_percent",
        "choices.twist_arm_percent",
        *(() if gait == "standing" else (f"choices.{gait}_duty_factor",)),
    )
    return (
        Finding(
            key=f"movement.stress.{element}.{gait}",
            step="movement",
            title=f"Peak stress, {element}, {gait}",
            value=Quantity(draws=stress.greatest_mpa, unit="MPa"),
            how=HowGot(
                formula="bending + compression + bow, joined with torsion to the greater"
                " principal stress",
                inputs=inputs,
                sources=("AlexanderMaloiy1979", "Roark"),
            ),
            caveats=(_WITHOUT_MUSCLE,),
        ),
        Finding(
            key=f"movement.safety.{element}.{gait}",
            step="movement",
            title=f"Safety factor by this reckoning, {element}, {gait}",
            value=Quantity(draws=safety, unit="1"),
            how=HowGot(
                formula="bending strength of bone over peak stress",
                inputs=(f"movement.stress.{element}.{gait}", "choices.bone_strength"),
                sources=("Biewener1982",),
            ),
            caveats=(_WITHOUT_MUSCLE,),
        ),
    )


def _proportion_findings(one: LegProportions) -> tuple[Finding, Finding]:
    key = f"movement.proportion.{one.bone}"
    how = HowGot(
        formula=f"length of the {one.bone} over length of the femur",
        inputs=(f"skeleton.mean.{one.bone}.GL", "skeleton.mean.femur.GL"),
        rows=one.rows,
    )
    n_species = sum(group.n_species for group in one.groups)
    described = "; ".join(
        f"{group.locomotion}s {group.least:.2f} to {group.greatest:.2f} (n = {group.n_species})"
        for group in one.groups
    )
    within = one.within()
    middle = float(np.median(one.ratio))
    verdict = (
        f"within the range of {_listed([f'{name}s' for name in within])}"
        if within
        else "outside the range of every group"
    )
    return (
        Finding(
            key=key,
            step="movement",
            title=f"Length of the {one.bone} over the femur's",
            value=Quantity(draws=one.ratio, unit="1"),
            how=how,
        ),
        Finding(
            key=f"{key}.beside",
            step="movement",
            title=f"Build of the leg beside living relatives, {one.bone}",
            value=Statement(
                text=(
                    f"The {one.bone} is {middle:.2f} times as long as the femur, {verdict}"
                    f" ({described}). Proportions go with ways of moving only loosely: by"
                    " themselves they decide nothing."
                )
            ),
            how=how,
            n=n_species,
            n_of="species",
        ),
    )


def _balance_finding(balance: Sequence[StanceBalance]) -> Finding:
    parts = [
        f"{one.state}: over the feet in {100 * one.share_over_feet:.0f} % of imagined worlds,"
        f" {np.median(one.margin_mm):.0f} mm (median) from the nearer end, a lean of"
        f" {np.rad2deg(np.median(one.tip_rad)):.0f} degrees before it tips"
        for one in balance
    ]
    return Finding(
        key="movement.balance",
        step="movement",
        title="Balance of the standing body",
        value=Statement(
            text="Standing still, its centre of mass lies as follows. "
            + ". ".join(part[:1].upper() + part[1:] for part in parts)
            + ". The pose was turned to balance the mean state, so this tests the plan's joints"
            " and what fatness changes, not whether it could stand."
        ),
        how=HowGot(
            formula="plumb line of the centre of mass against the ends of the feet",
            inputs=("body.grown.mass.mean",),
        ),
    )


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
