import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.findings import RowRef, Statement
from bonewright.movement.indicator import mass_at_indicator, strength_indicator
from bonewright.movement.strength import StrengthResult, strength_of_legs
from bonewright.movement.wording import could_move_sentence
from bonewright.quantity import Draws
from bonewright.study.model import Relative

N_DRAWS = 2000
positive = st.floats(0.01, 1e4)


def relative(number: int, mass_kg: float, locomotion: str = "runner") -> Relative:
    return Relative(
        ref=RowRef(table="relatives", row=number + 1, row_id=f"species {number}"),
        species=f"species {number}",
        family=None,
        locomotion=locomotion,
        flight="flightless",
        body_mass_kg=mass_kg,
        n_weighed=None,
        source_id=None,
    )


RUNNERS = tuple(relative(number, mass) for number, mass in enumerate([5.0, 10.0, 20.0, 40.0]))
# Indicators of the runners, GPa^-1, by leg bone.
INDICATORS = {"femur": [40.0, 35.0, 30.0, 25.0], "tibiotarsus": [30.0, 26.0, 22.0, 20.0]}
SPECIES = {
    (runner.species, element): value * runner.body_mass_kg * 9.80665 / 1e3
    for element, values in INDICATORS.items()
    for runner, value in zip(RUNNERS, values, strict=True)
}


def legs(
    *,
    mass_kg: Draws | float = 15.0,
    femur: float = 30.0,
    tibiotarsus: float = 24.0,
    relatives: tuple[Relative, ...] = RUNNERS,
    species: dict[tuple[str, str], float] = SPECIES,
    weight_fraction: float = 1.0,
    comparison: str = "runner",
) -> StrengthResult:
    """Judge an animal whose legs have these indicators at 15 kg."""
    return strength_of_legs(
        modulus_over_arm_draws_mm2={
            element: np.full(N_DRAWS, indicator * 15.0 * 9.80665 / 1e3)
            for element, indicator in (("femur", femur), ("tibiotarsus", tibiotarsus))
        },
        species_modulus_over_arm_mm2=species,
        relatives=relatives,
        mass_draws_kg=np.broadcast_to(mass_kg, (N_DRAWS,)).astype(np.float64),
        weight_fraction_draws=np.full(N_DRAWS, weight_fraction),
        comparison=comparison,
    )


def sentence(result: StrengthResult) -> str:
    (finding,) = [f for f in result.findings if f.key == "movement.could_run"]
    assert isinstance(finding.value, Statement)
    return finding.value.text


def caveat_codes(result: StrengthResult) -> set[str]:
    return {caveat.code for finding in result.findings for caveat in finding.caveats}


@given(modulus_over_arm=positive, mass=positive, fraction=st.floats(0.1, 1))
def test_the_mass_at_an_animals_own_indicator_is_its_own_mass(
    modulus_over_arm: float, mass: float, fraction: float
) -> None:
    indicator = strength_indicator(modulus_over_arm, mass, weight_fraction=fraction)
    back = mass_at_indicator(modulus_over_arm, indicator, weight_fraction=fraction)
    assert back == pytest.approx(mass)


def test_the_windows_are_where_the_indicator_meets_the_range() -> None:
    result = legs()
    femur, tibiotarsus = result.bones["femur"], result.bones["tibiotarsus"]
    assert femur.comparison_range_per_gpa == pytest.approx((25.0, 40.0))
    np.testing.assert_allclose(femur.indicator_draws_per_gpa, 30.0)
    np.testing.assert_allclose(femur.window_low_draws_kg, 15 * 30 / 40)
    np.testing.assert_allclose(femur.window_high_draws_kg, 15 * 30 / 25)
    np.testing.assert_allclose(tibiotarsus.window_low_draws_kg, 15 * 24 / 30)
    np.testing.assert_allclose(tibiotarsus.window_high_draws_kg, 15 * 24 / 20)
    np.testing.assert_allclose(result.joint_low_draws_kg, 12.0)
    np.testing.assert_allclose(result.joint_high_draws_kg, 18.0)
    assert result.share_inside == 1.0
    assert "could very likely run" in sentence(result)


def test_half_the_weight_on_the_legs_doubles_indicator_and_window() -> None:
    whole, half = legs(), legs(weight_fraction=0.5)
    for element in whole.bones:
        np.testing.assert_allclose(
            half.bones[element].indicator_draws_per_gpa,
            2 * whole.bones[element].indicator_draws_per_gpa,
        )
    np.testing.assert_allclose(half.joint_high_draws_kg, 2 * whole.joint_high_draws_kg)


def test_an_animal_above_the_window_very_likely_could_not_run() -> None:
    result = legs(mass_kg=19.0)
    assert result.share_inside == 0.0
    assert "very likely could not run" in sentence(result)


def test_an_animal_below_the_window_is_not_called_too_weak() -> None:
    text = sentence(legs(mass_kg=11.0))
    assert "want of strength did not keep" in text
    assert "could not" not in text


@pytest.mark.parametrize(
    ("inside", "too_weak", "words"),
    [
        (0.96, 0.02, "could very likely run"),
        (0.85, 0.10, "could probably run"),
        (0.60, 0.40, "may have been able to run"),
        (0.40, 0.55, "may not have been able to run"),
        (0.10, 0.85, "probably could not run"),
        (0.01, 0.99, "very likely could not run"),
        (0.30, 0.10, "want of strength did not keep"),
        (0.40, 0.40, "stays open"),
    ],
)
def test_the_sentence_is_graded_and_always_says_by_this_test(
    inside: float, too_weak: float, words: str
) -> None:
    text = could_move_sentence(
        comparison="runner", n_species=7, share_inside=inside, share_too_weak=too_weak
    )
    assert words in text
    assert "by this test" in text.lower()


def test_the_sentence_names_other_bounds_and_counts_published_animals() -> None:
    def said(**shares: float) -> str:
        return could_move_sentence(
            comparison="runner", n_species=4, bounds="t-interval", n_published=2, **shares
        )

    group = "the t-interval of the 4 living runner species measured and 2 published"
    assert f"within {group}" in said(share_inside=0.9, share_too_weak=0.05)
    assert f"than {group} allows" in said(share_inside=0.1, share_too_weak=0.8)
    assert "stronger than it allows" in said(share_inside=0.1, share_too_weak=0.1)


def test_the_share_inside_counts_draws_of_mass_in_the_joint_window() -> None:
    masses = np.linspace(10, 20, N_DRAWS)
    result = legs(mass_kg=masses)
    assert result.share_inside == pytest.approx(np.mean((masses >= 12) & (masses <= 18)))


def test_leg_bones_that_contradict_each_other_leave_no_window_and_say_so() -> None:
    result = legs(femur=60.0, tibiotarsus=12.0)
    assert result.share_without_window == 1.0
    assert "no common window" in caveat_codes(result)


def test_only_animals_of_the_chosen_way_of_moving_are_compared() -> None:
    walkers = tuple(relative(number + 10, 15.0, "walker") for number in range(4))
    species = dict(SPECIES)
    for number, walker in enumerate(walkers):
        for element in INDICATORS:
            species[walker.species, element] = (5.0 + number) * 15.0 * 9.80665 / 1e3
    both = legs(relatives=RUNNERS + walkers, species=species)
    np.testing.assert_allclose(both.joint_high_draws_kg, legs().joint_high_draws_kg)
    assert {animal.locomotion for animal in both.comparison} == {"runner", "walker"}
    walking = legs(relatives=RUNNERS + walkers, species=species, comparison="walker")
    assert walking.bones["femur"].comparison_range_per_gpa == pytest.approx((5.0, 8.0))


def test_two_comparison_species_are_not_enough() -> None:
    with pytest.raises(NotEnoughEvidence) as raised:
        legs(relatives=RUNNERS[:2])
    assert "2 runner species" in raised.value.found


def test_a_leg_bone_without_comparison_is_named() -> None:
    species = {key: value for key, value in SPECIES.items() if key[1] == "femur"}
    result = legs(species=species)
    assert set(result.bones) == {"femur"}
    assert "leg bone without comparison" in caveat_codes(result)


@pytest.mark.parametrize("factor", [10.0, 0.1, 1000.0])
def test_a_runner_with_an_impossible_mass_is_left_out_and_named(factor: float) -> None:
    wrong = dataclasses.replace(RUNNERS[1], body_mass_kg=RUNNERS[1].body_mass_kg * factor)
    result = legs(relatives=(RUNNERS[0], wrong, *RUNNERS[2:]))
    np.testing.assert_allclose(result.joint_low_draws_kg, 12.0)
    np.testing.assert_allclose(result.joint_high_draws_kg, 18.0)
    named = {
        ref
        for finding in result.findings
        for caveat in finding.caveats
        if caveat.code == "comparison animal out of line"
        for ref in caveat.rows
    }
    assert named == {wrong.ref}


def test_an_animal_heavier_than_all_runners_gets_a_caveat() -> None:
    assert "outside comparison sizes" in caveat_codes(legs(mass_kg=60.0))
    assert "outside comparison sizes" not in caveat_codes(legs())


def test_every_draw_that_reaches_a_person_has_a_unit_and_rows() -> None:
    for finding in legs().findings:
        assert finding.how.rows
        assert isinstance(finding.value, Statement) or finding.value.unit in {"kg", "GPa^-1"}


@pytest.mark.parametrize("fraction", [0.0, -0.5, 1.2])
def test_a_share_of_weight_outside_0_to_1_has_no_answer(fraction: float) -> None:
    with pytest.raises(OutsideRange):
        legs(weight_fraction=fraction)
