"""Peak stresses in the leg bones when standing, walking and running.

The ground pushes back hardest at mid-step. On a section at a distance x from the bone's
lower end that push bends the bone, presses it, bows it further and twists it; the stresses
add up at one place on its surface. Muscles pull besides, which is left out: real stresses
are higher, and a safety factor by this reckoning is an upper bound, good for comparing.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.literature import constant
from bonewright.quantity import Draws

__all__ = [
    "GAITS",
    "LegBone",
    "PeakStress",
    "all_gaits",
    "peak_force_over_weight",
    "peak_stresses",
]

GAITS = ("standing", "walking", "running")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegBone:
    """A leg bone's section and how it is held, draws of shape (n_draws,).

    ``arm_mm`` runs from the section to the bone's lower end; ``angle_rad`` lies between the
    bone and the push of the ground; ``bow_mm`` is how far the section lies off the line
    through the bone's ends; ``twist_arm_mm`` how far the push passes beside the bone.
    """

    element: str
    modulus_mm3: Draws
    torsion_modulus_mm3: Draws
    area_mm2: Draws
    arm_mm: Draws
    angle_rad: Draws
    bow_mm: Draws
    twist_arm_mm: Draws


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PeakStress:
    """Stresses at the most pressed place of a section, MPa, (n_draws,).

    ``greatest`` joins pressing and twisting: the greater principal stress.
    """

    element: str
    gait: str
    bending_mpa: Draws
    compression_mpa: Draws
    bow_mpa: Draws
    torsion_mpa: Draws
    greatest_mpa: Draws


def peak_force_over_weight(gait: str, duty_factor: Draws) -> Draws:
    """Return the greatest push of the ground on one leg over the body's weight.

    Standing shares the weight between two legs. In walking and running the push is taken to
    rise and fall as half a sine over the share of the stride, ``duty_factor``, that a foot is
    on the ground, so that over a stride it carries the weight.

    Notes
    -----
    Source: [AlexanderMaloiy1979]_, F = pi m g / (4 duty factor) for one of two legs.
    """
    if gait == "standing":
        return np.full_like(duty_factor, 0.5)
    return np.pi / (4 * duty_factor)


def peak_stresses(
    bone: LegBone, *, gait: str, mass_kg: Draws, weight_fraction: Draws, duty_factor: Draws
) -> PeakStress:
    """Add up the stresses of bending, pressing, bowing and twisting in one section.

    Notes
    -----
    With F the push, t the angle: bending F sin(t) x / Z, compression F cos(t) / A, bow
    F cos(t) c / Z, torsion F d r / J. Source: [Roark]_. Newton over mm2 is MPa.
    """
    weight_n = weight_fraction * mass_kg * constant("standard gravity")
    force_n = peak_force_over_weight(gait, duty_factor) * weight_n
    along, across = force_n * np.cos(bone.angle_rad), force_n * np.sin(bone.angle_rad)
    bending = across * bone.arm_mm / bone.modulus_mm3
    compression = along / bone.area_mm2
    bow = along * bone.bow_mm / bone.modulus_mm3
    torsion = force_n * bone.twist_arm_mm / bone.torsion_modulus_mm3
    pressed = bending + compression + bow
    return PeakStress(
        element=bone.element,
        gait=gait,
        bending_mpa=bending,
        compression_mpa=compression,
        bow_mpa=bow,
        torsion_mpa=torsion,
        greatest_mpa=pressed / 2 + np.sqrt(pressed**2 / 4 + torsion**2),
    )


def all_gaits(
    bones: Mapping[str, LegBone],
    *,
    mass_kg: Draws,
    weight_fraction: Draws,
    duty_factors: Mapping[str, Draws],
) -> dict[tuple[str, str], PeakStress]:
    """Return the peak stresses of every bone in every gait, by (element, gait)."""
    return {
        (element, gait): peak_stresses(
            bone,
            gait=gait,
            mass_kg=mass_kg,
            weight_fraction=weight_fraction,
            duty_factor=duty_factors[gait],
        )
        for element, bone in bones.items()
        for gait in GAITS
    }
