import dataclasses

import numpy as np
import pytest

from bonewright.movement.stresses import (
    GAITS,
    LegBone,
    all_gaits,
    peak_force_over_weight,
    peak_stresses,
)
from bonewright.sections.ellipse import hollow_ellipse

GRAVITY = 9.80665
TUBE = hollow_ellipse(20, 20, inner_mediolateral_mm=16, inner_anteroposterior_mm=16)
ONE = np.ones(1)


def bone(**changes: float) -> LegBone:
    values = {"arm_mm": 80.0, "angle_rad": np.pi / 2, "bow_mm": 0.0, "twist_arm_mm": 0.0} | changes
    return LegBone(
        element="femur",
        modulus_mm3=ONE * TUBE.section_modulus_mediolateral_mm3,
        torsion_modulus_mm3=ONE * TUBE.polar_moment_mm4 / 10,
        area_mm2=ONE * TUBE.area_mm2,
        **{name: ONE * value for name, value in values.items()},
    )


def standing(one: LegBone, mass_kg: float = 20.0) -> float:
    found = peak_stresses(
        one, gait="standing", mass_kg=ONE * mass_kg, weight_fraction=ONE, duty_factor=ONE
    )
    return float(found.greatest_mpa[0])


def test_a_level_bone_is_a_beam_with_a_load_at_its_end() -> None:
    force_n = 20 * GRAVITY / 2
    assert standing(bone()) == pytest.approx(force_n * 80 / TUBE.section_modulus_mediolateral_mm3)


def test_an_upright_bone_is_a_column() -> None:
    force_n = 20 * GRAVITY / 2
    assert standing(bone(angle_rad=0.0)) == pytest.approx(force_n / TUBE.area_mm2)


def test_the_bow_of_an_upright_bone_bends_it_besides() -> None:
    force_n = 20 * GRAVITY / 2
    expected = force_n * (1 / TUBE.area_mm2 + 3 / TUBE.section_modulus_mediolateral_mm3)
    assert standing(bone(angle_rad=0.0, bow_mm=3.0)) == pytest.approx(expected)


def test_twisting_joins_bending_by_the_greater_principal_stress() -> None:
    force_n = 20 * GRAVITY / 2
    bending = force_n * 80 / TUBE.section_modulus_mediolateral_mm3
    twisting = force_n * 12 / (TUBE.polar_moment_mm4 / 10)
    expected = bending / 2 + np.hypot(bending / 2, twisting)
    assert standing(bone(twist_arm_mm=12.0)) == pytest.approx(expected)


def test_stress_grows_with_mass_and_falls_with_the_duty_factor() -> None:
    assert standing(bone(), 40.0) == pytest.approx(2 * standing(bone(), 20.0))
    walking, running = np.array([0.65]), np.array([0.4])
    assert peak_force_over_weight("running", running) > peak_force_over_weight("walking", walking)


def test_half_sines_over_the_duty_factor_carry_the_weight_over_a_stride() -> None:
    # Two legs, each pushing as half a sine over the share of the stride it stands.
    duty = 0.4
    peak = float(peak_force_over_weight("running", np.array([duty]))[0])
    mean_of_half_sine = 2 / np.pi
    assert 2 * duty * peak * mean_of_half_sine == pytest.approx(1.0)


def test_every_bone_is_judged_in_every_gait() -> None:
    found = all_gaits(
        {"femur": bone(), "tibiotarsus": dataclasses.replace(bone(), element="tibiotarsus")},
        mass_kg=ONE * 20,
        weight_fraction=ONE,
        duty_factors={"standing": ONE, "walking": ONE * 0.65, "running": ONE * 0.4},
    )
    assert len(found) == 2 * len(GAITS)
    femur = [float(found["femur", gait].greatest_mpa[0]) for gait in GAITS]
    assert femur == sorted(femur)
