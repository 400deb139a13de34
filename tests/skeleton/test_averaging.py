import numpy as np
import pytest
from scipy import stats

from bonewright.skeleton.variation import ASSUMED_VARIATION, pooled_variation, technical_error


def test_the_interval_of_a_mean_is_the_t_interval(flock) -> None:
    values = [97.0, 99.0, 100.0, 103.0, 106.0]
    for number, value in enumerate(values):
        flock.bone("femur", {"GL": value}, individual_id=f"i{number}")
    mean = flock.average(n_draws=20_000).means["femur", "GL"]
    low, high = stats.t.interval(0.95, 4, np.mean(values), stats.sem(values))
    # Between two of 20,000 equal-probability points lies about that much.
    assert np.quantile(mean.mean_draws_mm, [0.025, 0.975]) == pytest.approx([low, high], rel=3e-5)
    assert mean.between_sd_mm == pytest.approx(np.std(values, ddof=1))


def test_the_interval_holds_the_true_mean_nineteen_times_in_twenty(flock) -> None:
    rng = np.random.default_rng(20)
    n_codes, held = 400, 0
    for _ in range(n_codes):
        flock.specimens.clear()
        flock.measurements.clear()
        for value in rng.normal(100.0, 4.0, 6):
            flock.bone("femur", {"GL": float(value)})
        low, high = np.quantile(
            flock.average(n_draws=500).means["femur", "GL"].mean_draws_mm, [0.025, 0.975]
        )
        held += low <= 100.0 <= high
    # Binomial(400, 0.95) lies in this range but for one time in a thousand.
    assert 365 <= held <= 394


def test_bones_of_the_same_individuals_move_together_and_others_do_not(flock) -> None:
    rng = np.random.default_rng(3)
    for number in range(12):
        size = float(np.exp(rng.normal(0.0, 0.05)))
        noise = np.exp(rng.normal(0.0, 0.005, 3))
        flock.bone("femur", {"GL": 170 * size * noise[0]}, individual_id=f"i{number}")
        flock.bone("tibiotarsus", {"GL": 280 * size * noise[1]}, individual_id=f"i{number}")
        flock.bone("humerus", {"GL": 95 * float(np.exp(rng.normal(0.0, 0.05)))})
    means = flock.average(n_draws=5000).means
    femur, tibiotarsus, humerus = (
        means[element, "GL"].mean_draws_mm for element in ("femur", "tibiotarsus", "humerus")
    )
    assert stats.spearmanr(femur, tibiotarsus).statistic > 0.9
    assert abs(stats.spearmanr(femur, humerus).statistic) < 0.06


def test_one_individual_borrows_the_pooled_variation_and_says_so(flock) -> None:
    for value in (95.0, 98.0, 100.0, 102.0, 105.0):
        flock.bone("humerus", {"GL": value, "Bp": value / 5, "SC": value / 16})
    flock.bone("femur", {"GL": 170.0, "CD": 52.0}, individual_id="alone")
    result = flock.average()
    pooled = pooled_variation([result.means["humerus", code].individuals_mm for code in ("GL",)])
    mean = result.means["femur", "GL"]
    variation = next(f for f in result.findings if f.key == "skeleton.variation").value.value / 100
    assert variation == pytest.approx(np.std([95, 98, 100, 102, 105], ddof=1) / 100, rel=1e-9)
    assert mean.between_sd_mm == pytest.approx(170.0 * variation)
    assert pooled.assumed  # four degrees of freedom alone would not do
    finding = next(f for f in result.findings if f.key == "skeleton.mean.femur.GL")
    assert finding.caveats[0].code == "one individual"
    # What is known from that individual alone is as large or small as the individual is.
    circumference = result.means["femur", "CD"].mean_draws_mm
    assert np.corrcoef(mean.mean_draws_mm, circumference)[0, 1] == pytest.approx(1.0)


def test_without_any_shared_measurement_the_customary_variation_is_used(flock) -> None:
    flock.bone("femur", {"GL": 170.0})
    mean = flock.average().means["femur", "GL"]
    assert mean.between_sd_mm == pytest.approx(170.0 * ASSUMED_VARIATION)


def test_draws_are_positive_whatever_their_number(flock) -> None:
    for value in (60.0, 90.0, 110.0, 160.0):
        flock.bone("femur", {"GL": value})
    draws = flock.average(n_draws=200_000).means["femur", "GL"].mean_draws_mm
    assert draws.min() > 0


def test_the_same_seed_gives_the_same_draws(random_flock) -> None:
    first, second = (random_flock(1).average(n_draws=500) for _ in range(2))
    for key, mean in first.means.items():
        assert np.array_equal(mean.mean_draws_mm, second.means[key].mean_draws_mm)


def test_scaling_every_measurement_scales_every_mean(random_flock) -> None:
    flock = random_flock(2)
    before = flock.average(n_draws=500).means
    rows, flock.measurements = flock.measurements, []
    for row in rows:
        flock.measure(row.specimen_id, row.code, row.value_mm * 3, row.observer or "A")
    after = flock.average(n_draws=500).means
    for key, mean in before.items():
        assert after[key].mean_mm == pytest.approx(3 * mean.mean_mm)
        assert after[key].mean_draws_mm == pytest.approx(3 * mean.mean_draws_mm)


def test_the_order_of_the_rows_does_not_matter(random_flock) -> None:
    flock = random_flock(3)
    before = flock.average(n_draws=500)
    flock.specimens.reverse()
    flock.measurements.reverse()
    after = flock.average(n_draws=500)
    for key, mean in before.means.items():
        assert after.means[key].mean_draws_mm == pytest.approx(mean.mean_draws_mm)
    assert after.minimum_number_of_individuals == before.minimum_number_of_individuals


def test_every_finding_names_its_rows_and_means_carry_a_unit(random_flock) -> None:
    result = random_flock(4).average(n_draws=500)
    for key in result.means:
        finding = next(f for f in result.findings if f.key == "skeleton.mean." + ".".join(key))
        assert finding.value.unit == "mm"
        assert finding.how.rows == result.means[key].rows
        assert finding.n == result.means[key].n_individuals


def test_measuring_error_is_reported_relative_to_the_mean(flock) -> None:
    bone = flock.bone("femur", {})
    for value in (99.0, 101.0):
        flock.measure(bone, "GL", value)
    result = flock.average()
    assert result.measurement_error_percent == pytest.approx(100 * np.sqrt(2) / 100)
    assert result.n_repeated == 1


def test_without_repeats_the_measuring_error_is_not_known(flock) -> None:
    flock.bone("femur", {"GL": 100.0})
    assert flock.average().measurement_error_percent is None
    assert technical_error([[1.0], [2.0]]) is None
