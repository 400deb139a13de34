import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.literature import PUBLICATIONS
from bonewright.relatives.published_equations import equation_mass_kg
from bonewright.study.equations import shipped_equations

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
CATALOGUE = {equation.equation_id: equation for equation in shipped_equations()}
BIRDS = CATALOGUE["all_birds_least_circumference"]
CIRCUMFERENCES_MM = np.array([float(text) for text in SOURCE["recomputed"]["circumference_mm"]])


def test_the_catalogue_holds_the_coefficients_and_their_status() -> None:
    slope, intercept = SOURCE["equation"]["slope"], SOURCE["equation"]["intercept"]
    assert BIRDS.printed == f"log10(mass/g) = {intercept} + {slope} log10(CD/mm)".replace("-", "−")
    assert BIRDS.slope == float(slope)
    assert BIRDS.intercept_ln == pytest.approx(np.log(10) * float(intercept) - np.log(1000))
    assert (BIRDS.element, BIRDS.code) == ("femur", "CD")


def test_every_equation_of_the_catalogue_is_checked_here_and_names_its_source() -> None:
    assert set(CATALOGUE) == {BIRDS.equation_id, *SOURCE["more"]}
    assert all(equation.source in PUBLICATIONS for equation in CATALOGUE.values())
    assert all(equation.status == "from memory" for equation in CATALOGUE.values())


def test_the_largest_known_femur_gives_the_mass_that_was_published_for_it() -> None:
    worked = SOURCE["worked"]
    (mass_kg,) = equation_mass_kg(BIRDS, np.array([float(worked["circumference_mm"])]))
    assert mass_kg == pytest.approx(float(worked["mass_kg"]), abs=float(worked["tolerance_kg"]))


def test_masses_over_the_range_agree_with_those_recomputed_elsewhere() -> None:
    expected = [float(text) for text in SOURCE["recomputed"]["mass_kg"]]
    assert equation_mass_kg(BIRDS, CIRCUMFERENCES_MM) == pytest.approx(expected, abs=0.0005)


@pytest.mark.parametrize("name", SOURCE["more"])
def test_units_base_and_factor_of_an_equation_are_applied_as_it_says(name: str) -> None:
    expected = [float(text) for text in SOURCE["more"][name]["mass_kg"]]
    found = equation_mass_kg(CATALOGUE[name], CIRCUMFERENCES_MM[: len(expected)])
    assert found == pytest.approx(expected, abs=0.0006)
