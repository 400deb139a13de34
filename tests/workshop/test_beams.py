"""Beams: the closed forms that every handbook gives come out of the general integral."""

import numpy as np
import pytest

from bonewright.errors import OutsideRange
from bonewright.workshop.beams import (
    RoundSection,
    Stretch,
    buckling_load_n,
    combined_stress_mpa,
    round_section,
    tip_movement_mm,
)

E_MPA = 210_000.0
BAR = round_section(8.0)
FORCE = 12.0


def stretch(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    loads: list[tuple[tuple[float, float, float], tuple[float, float, float]]],
    section: RoundSection = BAR,
) -> Stretch:
    return Stretch(
        start_mm=np.array(start),
        end_mm=np.array(end),
        section=section,
        elastic_modulus_mpa=E_MPA,
        places_mm=np.array([place for place, _ in loads]),
        forces_n=np.array([force for _, force in loads]),
    )


def test_the_tip_of_a_cantilever_sinks_by_f_l3_over_3_e_i() -> None:
    tip = (500.0, 0.0, 0.0)
    moved = tip_movement_mm([stretch((0, 0, 0), tip, [(tip, (0, 0, -FORCE))])], np.array(tip))
    expected = FORCE * 500.0**3 / (3 * E_MPA * BAR.second_moment_mm4)
    assert moved == pytest.approx([0, 0, -expected])


def test_a_load_amid_a_cantilever_moves_its_tip_as_the_closed_form_says() -> None:
    # F a^2 (3 L - a) / (6 E I)
    middle, tip = (200.0, 0.0, 0.0), (500.0, 0.0, 0.0)
    moved = tip_movement_mm([stretch((0, 0, 0), middle, [(middle, (0, 0, -FORCE))])], np.array(tip))
    expected = FORCE * 200.0**2 * (1500.0 - 200.0) / (6 * E_MPA * BAR.second_moment_mm4)
    assert moved[2] == pytest.approx(-expected)


def test_a_post_with_an_arm_sways_and_sinks_as_the_closed_form_says() -> None:
    high, tip = (0.0, 0.0, 300.0), (200.0, 0.0, 300.0)
    load = [(tip, (0.0, 0.0, -FORCE))]
    pieces = [stretch((0, 0, 0), high, load), stretch(high, tip, load)]
    moved = tip_movement_mm(pieces, np.array(tip))
    stiffness = E_MPA * BAR.second_moment_mm4
    sinks = FORCE * 200.0**3 / (3 * stiffness) + FORCE * 200.0**2 * 300.0 / stiffness
    sways = FORCE * 200.0 * 300.0**2 / (2 * stiffness)
    assert moved == pytest.approx([sways, 0, -sinks])


def test_an_arm_at_right_angles_twists_the_bar_that_carries_it() -> None:
    elbow, tip = (300.0, 0.0, 0.0), (300.0, 150.0, 0.0)
    load = [(tip, (0.0, 0.0, -FORCE))]
    moved = tip_movement_mm(
        [stretch((0, 0, 0), elbow, load), stretch(elbow, tip, load)], np.array(tip)
    )
    stiffness = E_MPA * BAR.second_moment_mm4
    shear = E_MPA / (2 * 1.3)
    twist = FORCE * 150.0**2 * 300.0 / (shear * 2 * BAR.second_moment_mm4)
    bends = FORCE * (300.0**3 + 150.0**3) / (3 * stiffness)
    assert moved[2] == pytest.approx(-(bends + twist))


def test_bending_and_pressure_add_and_twisting_counts_three_times_its_square() -> None:
    stress = combined_stress_mpa(BAR, bending_nmm=5000.0, twisting_nmm=0.0, axial_n=100.0)
    assert stress == pytest.approx(5000.0 / BAR.modulus_mm3 + 100.0 / BAR.area_mm2)
    twisted = combined_stress_mpa(BAR, bending_nmm=0.0, twisting_nmm=4000.0, axial_n=0.0)
    assert twisted == pytest.approx(np.sqrt(3) * 4000.0 * 16 / (np.pi * 8.0**3))


def test_a_column_fixed_below_buckles_at_a_quarter_of_one_held_at_both_ends() -> None:
    held = buckling_load_n(BAR, elastic_modulus_mpa=E_MPA, length_mm=500.0, ends=1.0)
    free = buckling_load_n(BAR, elastic_modulus_mpa=E_MPA, length_mm=500.0)
    assert held == pytest.approx(np.pi**2 * E_MPA * BAR.second_moment_mm4 / 500.0**2)
    assert free == pytest.approx(held / 4)


@pytest.mark.parametrize(("diameter", "wall"), [(10.0, 5.5), (0.0, None), (10.0, 0.0)])
def test_a_tube_whose_wall_leaves_none_is_refused(diameter: float, wall: float | None) -> None:
    with pytest.raises(OutsideRange):
        round_section(diameter, wall)
