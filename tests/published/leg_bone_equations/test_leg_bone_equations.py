import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.literature import PUBLICATIONS
from bonewright.relatives.published_equations import PUBLISHED_EQUATIONS, equation_mass_kg

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
(EQUATION,) = (
    entry for entry in PUBLISHED_EQUATIONS if entry.key == "all_birds_least_circumference"
)


def test_the_table_holds_the_coefficients_and_their_status() -> None:
    assert EQUATION.slope_log10 == float(SOURCE["equation"]["slope"])
    assert EQUATION.intercept_log10 == float(SOURCE["equation"]["intercept"])
    assert (EQUATION.element, EQUATION.code) == ("femur", "CD")
    assert EQUATION.status == "from memory"
    assert EQUATION.source in PUBLICATIONS


def test_the_largest_known_femur_gives_the_mass_that_was_published_for_it() -> None:
    worked = SOURCE["worked"]
    (mass_kg,) = equation_mass_kg(EQUATION, np.array([float(worked["circumference_mm"])]))
    assert mass_kg == pytest.approx(float(worked["mass_kg"]), abs=float(worked["tolerance_kg"]))


def test_masses_over_the_range_agree_with_those_recomputed_elsewhere() -> None:
    table = SOURCE["recomputed"]
    masses_kg = equation_mass_kg(
        EQUATION, np.array([float(text) for text in table["circumference_mm"]])
    )
    assert masses_kg == pytest.approx([float(text) for text in table["mass_kg"]], abs=0.0005)
