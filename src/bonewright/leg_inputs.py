"""What the steps before hand on to the step on movement, and its choices as draws."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from bonewright.body.ranges import draws_of_range
from bonewright.body.weighing import BodyResult
from bonewright.judgement.pooling import PooledMass
from bonewright.movement.balance import StanceBalance, stance_balance
from bonewright.movement.legs import HipHeight, hip_of_legs
from bonewright.movement.proportions import leg_proportions
from bonewright.movement.stresses import LegBone
from bonewright.quantity import Draws
from bonewright.sections.properties import AverageBone, SectionsResult
from bonewright.study.model import Relative
from bonewright.study.settings import Choices, RangeChoice

__all__ = ["fat_free_draws_kg", "legs_inputs", "state_mass_draws_kg", "weight_fraction_draws"]

_LEG_BONES = ("femur", "tibiotarsus", "tarsometatarsus")


def weight_fraction_draws(choices: Choices, *, rng: np.random.Generator, n_draws: int) -> Draws:
    """Draw the share of the weight on the legs: no tail may pass the whole of it."""
    share = draws_of_range(choices.weight_on_legs, rng=rng, n_draws=n_draws)
    return np.clip(share, 0.01, 1.0)


def state_mass_draws_kg(body: BodyResult | None) -> dict[str, Draws]:
    """Return the body's mass in each state of fatness: grown, or else of its maquettes."""
    if body is None:
        return {}
    if body.grown is not None:
        return {state: grown.mass_draws_kg for state, grown in body.grown.states.items()}
    return {maquette.state: maquette.mass_draws_kg for maquette in body.maquettes.values()}


def fat_free_draws_kg(
    pooled: PooledMass | None,
    body: BodyResult | None,
    choices: Choices,
    *,
    rng: np.random.Generator,
) -> Draws | None:
    """Return the mass of the average animal without fat.

    The pooled mass less the share of fat of the grown body's mean state, or of the choice
    ``average_fat_percent`` where no body was grown.
    """
    if pooled is None:
        return None
    mass = pooled.mass_draws_kg
    if body is not None and body.grown is not None and "mean" in body.grown.states:
        mean = body.grown.states["mean"]
        return mass * (1 - mean.fat_draws_kg / mean.mass_draws_kg)
    percent = draws_of_range(choices.average_fat_percent, rng=rng, n_draws=len(mass))
    return mass * (1 - np.clip(percent, 0, 90) / 100)


def legs_inputs(
    *,
    choices: Choices,
    sections: SectionsResult | None,
    pooled: PooledMass | None,
    body: BodyResult | None,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    species_length_mm: Mapping[tuple[str, str], float],
    relatives: tuple[Relative, ...],
    stride: RangeChoice | None,
    rng: np.random.Generator,
    n_draws: int,
) -> dict[str, Any]:
    """Gather the arguments of :func:`bonewright.movement.legs.how_legs_move`."""

    def drawn(choice: RangeChoice, low: float, high: float) -> Draws:
        return np.clip(draws_of_range(choice, rng=rng, n_draws=n_draws), low, high)

    weight = weight_fraction_draws(choices, rng=rng, n_draws=n_draws)
    angles = {
        "femur": np.deg2rad(drawn(choices.femur_angle, 0, 89)),
        "tibiotarsus": np.deg2rad(drawn(choices.tibiotarsus_angle, 0, 89)),
        "tarsometatarsus": np.deg2rad(drawn(choices.tarsometatarsus_angle, 0, 89)),
    }
    walking = drawn(choices.walking_duty_factor, 0.1, 1.0)
    running = drawn(choices.running_duty_factor, 0.1, 1.0)
    twist_percent = drawn(choices.twist_arm_percent, 0, 50)
    bow_percent = drawn(choices.shaft_bow_percent, 0, 50)
    lengths = {
        name: bone_draws_mm[name, "GL"] for name in _LEG_BONES if (name, "GL") in bone_draws_mm
    }
    bones = {} if sections is None else sections.average_bones
    return {
        "bones": {
            name: _held(bone, angles[name], twist_percent=twist_percent, bow_percent=bow_percent)
            for name, bone in bones.items()
            if name in angles
        },
        "mass_draws_kg": None if pooled is None else pooled.mass_draws_kg,
        "weight_fraction_draws": weight,
        "duty_factors": {"standing": np.ones(n_draws), "walking": walking, "running": running},
        "strength_draws_mpa": drawn(choices.bone_strength, 1, 1000),
        "hip": _hip(body, lengths, angles),
        "proportions": leg_proportions(lengths, species_length_mm, relatives),
        "balance": _balance(body),
        "scatter": rng.standard_normal(n_draws),
        # Drawn last, so that a trackway moves no other number.
        "stride_draws_m": None if stride is None else drawn(stride, 0.01, 20),
    }


def _held(bone: AverageBone, angle: Draws, *, twist_percent: Draws, bow_percent: Draws) -> LegBone:
    measured = bone.axis_offset_fraction
    bow = bow_percent / 100 if measured is None else np.full_like(bow_percent, measured)
    return LegBone(
        element=bone.element,
        modulus_mm3=bone.modulus_mm3,
        torsion_modulus_mm3=bone.torsion_modulus_mm3,
        area_mm2=bone.area_mm2,
        arm_mm=bone.modulus_mm3 / bone.modulus_over_arm_mm2,
        angle_rad=angle,
        bow_mm=bow * bone.length_mm,
        twist_arm_mm=twist_percent / 100 * bone.length_mm,
    )


def _hip(
    body: BodyResult | None, lengths: dict[str, Draws], angles: dict[str, Draws]
) -> HipHeight | None:
    if body is not None and body.grown is not None:
        return HipHeight(
            draws_m=body.grown.stance.hip_height_mm / 1000,
            origin="height of the hip over the ground in the standing pose of the grown body",
            inputs=("body.grown.mass.mean",),
        )
    if len(lengths) < len(_LEG_BONES):
        return None
    return hip_of_legs(lengths, angles)


def _balance(body: BodyResult | None) -> tuple[StanceBalance, ...]:
    if body is None or body.grown is None:
        return ()
    foot = body.grown.stance.foot_mm
    length = np.asarray(foot[:, 1] - foot[:, 0])
    n_draws = len(next(iter(body.grown.states.values())).mass_draws_kg)
    return tuple(
        stance_balance(
            state,
            centre_m=np.broadcast_to(grown.centre_m, (n_draws, 2)),
            foot_length_mm=np.broadcast_to(length, (n_draws,)),
        )
        for state, grown in body.grown.states.items()
    )
