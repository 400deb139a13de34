import numpy as np
import pytest

from bonewright.errors import BonewrightError, NotEnoughEvidence, OutsideRange
from bonewright.findings import Exact, Statement
from bonewright.quantity import Quantity
from bonewright.relatives.in_trees import star_of
from bonewright.relatives.leg_bones import JointQuestion
from bonewright.relatives.line import fit_line, prediction_interval


def finding(result, key):
    return next(entry for entry in result.findings if entry.key == key)


def test_the_interval_holds_an_animals_mass_nineteen_times_in_twenty(families) -> None:
    """400 families, each with one animal more that scatters about the law as they do.

    The correction named is the largest of the three, and must not move the interval.
    """
    held, n_families = 0, 400
    key = ("femur", "CD")
    rng = np.random.default_rng(77)
    for seed in range(n_families):
        family = families(seed, n_species=13)
        true_kg = family.relatives[-1].body_mass_kg
        bone = next(
            row.value_mm
            for row in family.measurements
            if row.species == family.relatives[-1].species and (row.element, row.code) == key
        )
        family.relatives.pop()
        family.measurements = [
            row for row in family.measurements if (row.element, row.code) == key
        ][:-1]
        # The average bone is itself measured with error, which the draws state.
        bone *= 1 + 0.01 * rng.standard_normal()
        result = family.predict({key: bone}, n_draws=1000, seed=seed)
        low, high = np.quantile(result.fits[key].mass_draws_kg, [0.025, 0.975])
        held += low <= true_kg <= high
    # Binomial(400, 0.95) lies in this range but for one time in a thousand.
    assert 365 <= held <= 394


def test_a_bone_known_exactly_gets_the_classical_prediction_interval(family, bones) -> None:
    key = ("femur", "CD")
    bone = bones(15.0)[key]
    result = family.predict({key: bone}, bone_cv=0.0, n_draws=200_000)
    fit = result.fits[key]
    line = fit_line(np.log(fit.bone_mm), np.log(fit.mass_kg))
    exact = np.exp(prediction_interval(line, np.array(np.log(bone))))
    assert np.quantile(fit.mass_draws_kg, [0.025, 0.975]) == pytest.approx(exact, rel=0.005)


def test_the_correction_moves_the_mean_and_leaves_the_draws(family, bones) -> None:
    key = ("femur", "CD")
    plain, *corrected = (
        family.predict(bones(15.0), retransformation=name)
        for name in ("none", "lognormal", "smearing", "ratio")
    )
    assert plain.fits[key].correction_factor == 1.0
    for result in corrected:
        fit = result.fits[key]
        assert np.array_equal(fit.mass_draws_kg, plain.fits[key].mass_draws_kg)
        assert fit.mean_mass_kg == pytest.approx(
            plain.fits[key].mean_mass_kg * fit.correction_factor
        )
    lognormal = corrected[0].fits[key]
    assert lognormal.correction_factor == pytest.approx(np.exp(lognormal.residual_sd_ln**2 / 2))
    entry = finding(corrected[0], "relatives.mass_mean.femur.CD")
    assert isinstance(entry.value, Exact)
    assert "lognormal" in entry.how.formula


def test_an_unknown_correction_is_refused(family, bones) -> None:
    with pytest.raises(BonewrightError):
        family.predict(bones(15.0), retransformation="median")


def test_the_measurement_with_the_least_root_mean_square_error_is_chosen(family, bones) -> None:
    result = family.predict(bones(15.0))
    errors = {key: fit.leave_one_out_rms_ln for key, fit in result.fits.items()}
    assert result.chosen == min(errors, key=errors.__getitem__)
    assert "chosen" in finding(result, "relatives.chosen").key


def test_the_leave_one_out_error_divides_by_the_prediction(families, bones) -> None:
    family = families(4, n_species=9)
    key = ("femur", "GL")
    fit = family.predict(bones(5.0), retransformation="none").fits[key]
    errors = []
    for left_out in range(9):
        others = np.arange(9) != left_out
        slope, intercept = np.polyfit(np.log(fit.bone_mm[others]), np.log(fit.mass_kg[others]), 1)
        predicted = np.exp(intercept + slope * np.log(fit.bone_mm[left_out]))
        errors.append(100 * abs(fit.mass_kg[left_out] - predicted) / predicted)
    assert fit.leave_one_out_error_percent == pytest.approx(np.median(errors))


def test_a_measurement_of_few_species_is_not_chosen_for_its_luck(family, bones) -> None:
    key = ("femur", "CD")
    few = [row for row in family.measurements if (row.element, row.code) == key][:6]
    family.measurements = [
        row for row in family.measurements if (row.element, row.code) != key
    ] + few
    result = family.predict(bones(15.0))
    assert len(result.fits[key].species) == 6
    assert result.chosen != key
    caveats = finding(result, "relatives.mass.femur.CD").caveats
    assert "few relatives" in [caveat.code for caveat in caveats]


@pytest.mark.parametrize("factor", [1.25, 1.0, 0.8])
def test_a_bone_beyond_every_relative_gets_a_number_and_a_caveat(family, factor) -> None:
    key = ("femur", "CD")
    sizes = [row.value_mm for row in family.measurements if (row.element, row.code) == key]
    end = min(sizes) if factor < 1 else max(sizes)
    result = family.predict({key: end * factor}, bone_cv=0.0)
    caveats = [caveat.code for caveat in finding(result, "relatives.mass.femur.CD").caveats]
    assert result.fits[key].outside_percent == pytest.approx(100 * abs(factor - 1), abs=1e-9)
    assert ("beyond relatives" in caveats) == (factor != 1.0)
    band = np.array(result.fits[key].prediction_band)
    assert band[0, 0] <= end * factor * (1 + 1e-12)
    assert band[-1, 0] >= end * factor * (1 - 1e-12)
    assert np.all(band[:, 1] < band[:, 2])
    assert np.all(band[:, 2] < band[:, 3])


def test_one_imagined_animal_lies_off_all_lines_together(families, bones) -> None:
    family = families(6, n_species=60)
    result = family.predict(bones(15.0), bone_cv=0.0, n_draws=5000)
    first, second = (
        np.log(result.fits[key].mass_draws_kg) for key in (("femur", "CD"), ("femur", "Bd"))
    )
    assert np.corrcoef(first, second)[0, 1] > 0.15


def test_larger_bones_mean_larger_animals_draw_by_draw(family, bones) -> None:
    key = ("femur", "CD")
    result = family.predict(bones(15.0), bone_cv=0.2, n_draws=5000)
    rng = np.random.default_rng(1)
    drawn = {name: rng.standard_normal(5000) for name in bones(15.0)}
    assert np.corrcoef(drawn[key], np.log(result.fits[key].mass_draws_kg))[0, 1] > 0.8


def test_without_shared_measurements_there_is_no_number(family, bones) -> None:
    with pytest.raises(NotEnoughEvidence):
        family.predict({("humerus", "GL"): 90.0})
    family.relatives = family.relatives[:4]
    with pytest.raises(NotEnoughEvidence):
        family.predict(bones(15.0))


def test_a_bone_of_no_length_has_no_mass(family) -> None:
    with pytest.raises(OutsideRange):
        family.predict({("femur", "CD"): 50.0}, bone_cv=2.0)


def test_the_blind_proof_leaves_the_species_out_and_puts_it_back(family, bones) -> None:
    species = family.relatives[7].species
    with_proof = family.predict(bones(15.0), blind_species=species)
    without = family.predict(bones(15.0))
    proof = with_proof.blind_proof
    assert proof.species == species
    assert proof.known_mass_kg == family.relatives[7].body_mass_kg
    for key, fit in with_proof.fits.items():
        assert np.array_equal(fit.mass_draws_kg, without.fits[key].mass_draws_kg)
        others = np.array([name != species for name in fit.species])
        line = fit_line(np.log(fit.bone_mm[others]), np.log(fit.mass_kg[others]))
        at = np.log(fit.bone_mm[~others])
        low, high = (np.exp(limit[0]) for limit in prediction_interval(line, at))
        assert (proof.predicted[key][0], proof.predicted[key][2]) == pytest.approx((low, high))
    low, _, high = proof.predicted[proof.chosen]
    assert proof.held == (low <= proof.known_mass_kg <= high)


def test_a_blind_proof_that_misses_is_said_to_miss(family, bones) -> None:
    ref = family.damage_mass(7, 20.0)
    kept = frozenset({("relatives", ref.row_id)})
    result = family.predict(bones(15.0), blind_species=ref.row_id, kept=kept)
    assert not result.blind_proof.held
    (caveat,) = finding(result, "relatives.blind_proof").caveats
    assert caveat.code == "blind proof failed"


def test_a_blind_species_in_doubt_gets_no_proof_and_a_reason(family, bones) -> None:
    ref = family.damage_mass(7, 1000.0)
    result = family.predict(bones(15.0), blind_species=ref.row_id)
    assert result.blind_proof is None
    assert isinstance(finding(result, "relatives.blind_proof").value, Statement)


def test_the_tree_and_the_table_are_compared_by_name(family, bones) -> None:
    names = [row.species for row in family.relatives]
    question = JointQuestion(trees=(star_of((*names[1:], "Extra tip")),))
    text = finding(family.predict(bones(15.0), question=question), "relatives.tree").value.text
    assert names[0] in text
    assert "Extra tip" in text
    assert names[1] not in text


def test_the_published_equation_is_shown_with_its_status(family, bones) -> None:
    result = family.predict(bones(15.0))
    entry = finding(result, "relatives.published.all_birds_least_circumference")
    assert isinstance(entry.value, Quantity)
    assert "coefficients not confirmed" in [caveat.code for caveat in entry.caveats]


def test_every_mass_names_its_rows_its_input_and_that_kinship_is_ignored(family, bones) -> None:
    result = family.predict(bones(15.0))
    for element, code in result.fits:
        entry = finding(result, f"relatives.mass.{element}.{code}")
        assert entry.value.unit == "kg"
        assert entry.how.inputs == (f"skeleton.mean.{element}.{code}",)
        assert len(entry.how.rows) == 80
        assert "kinship ignored" in [caveat.code for caveat in entry.caveats]


def test_the_order_of_the_rows_does_not_matter(family, bones) -> None:
    before = family.predict(bones(15.0))
    family.relatives.reverse()
    family.measurements.reverse()
    after = family.predict(bones(15.0))
    for key, fit in before.fits.items():
        assert after.fits[key].slope == pytest.approx(fit.slope)
        assert after.fits[key].leave_one_out_error_percent == pytest.approx(
            fit.leave_one_out_error_percent
        )
