"""The papers print no section moduli with their indicators, so what is checked is what the
printed figures imply: the unit, the inversion to mass, and the law of similar animals.
"""

import tomllib
from pathlib import Path

import pytest

from bonewright.movement.indicator import mass_at_indicator, strength_indicator
from bonewright.sections.ellipse import hollow_ellipse

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
STANDARD_GRAVITY = 9.80665


def test_the_definition_in_si_units_gives_the_same_number_in_per_gpa() -> None:
    z_m3, arm_m, mass_kg = 2.9e-6, 0.15, 45.0
    in_si = z_m3 / (1.0 * mass_kg * STANDARD_GRAVITY * arm_m)
    ours = strength_indicator(2900.0 / 150.0, mass_kg, weight_fraction=1.0)
    assert ours == pytest.approx(in_si * 1e9)


def test_the_printed_range_of_a_6000_kg_animal_gives_back_its_mass() -> None:
    row = SOURCE["femur"]
    low, high = (float(text) for text in row["tyrannosaurus_per_gpa"])
    mass_kg = float(row["tyrannosaurus_mass_kg"])
    for indicator in (low, high):
        modulus_over_arm_mm2 = indicator * mass_kg * STANDARD_GRAVITY / 1e3
        assert mass_at_indicator(
            modulus_over_arm_mm2, indicator, weight_fraction=1.0
        ) == pytest.approx(mass_kg)
        # At the ostrich's strength the same bone would carry that much less.
        ostrich = float(row["ostrich_per_gpa"])
        assert mass_at_indicator(
            modulus_over_arm_mm2, ostrich, weight_fraction=1.0
        ) == pytest.approx(mass_kg * indicator / ostrich)


def test_a_bone_of_ordinary_proportions_has_an_indicator_of_the_printed_order() -> None:
    # A femur as thick for its length as large ground birds have (common practice): the printed
    # ostrich and human figures bracket an order of magnitude that a slip in units would miss.
    femur = hollow_ellipse(38, 38, inner_mediolateral_mm=30, inner_anteroposterior_mm=30)
    indicator = strength_indicator(
        femur.section_modulus_mediolateral_mm3 / 150.0, 90.0, weight_fraction=1.0
    )
    assert float(SOURCE["femur"]["human_per_gpa"]) < indicator
    assert indicator < float(SOURCE["femur"]["ostrich_per_gpa"])


@pytest.mark.parametrize("factor", [0.1, 2.0, 10.0])
def test_geometrically_similar_animals_fall_as_mass_to_the_minus_one_third(factor: float) -> None:
    def similar(scale: float) -> tuple[float, float]:
        tube = hollow_ellipse(
            20 * scale,
            16 * scale,
            inner_mediolateral_mm=14 * scale,
            inner_anteroposterior_mm=10 * scale,
        )
        mass_kg = 10 * scale**3
        return mass_kg, strength_indicator(
            tube.section_modulus_mediolateral_mm3 / (80 * scale), mass_kg, weight_fraction=1.0
        )

    (small_kg, small), (large_kg, large) = similar(1.0), similar(factor)
    assert SOURCE["geometric_similarity"]["exponent_of_mass"] == "-1/3"
    assert large / small == pytest.approx((large_kg / small_kg) ** (-1 / 3))
