import numpy as np
import pytest
from scipy import stats

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.joint_average import AverageChoice
from bonewright.skeleton.variation import ASSUMED_VARIATION, technical_error


def test_the_plain_mean_has_its_t_interval(flock) -> None:
    values = [97.0, 99.0, 100.0, 103.0, 106.0]
    for number, value in enumerate(values):
        flock.bone("femur", {"GL": value}, individual_id=f"i{number}")
    plain = flock.average(n_draws=500).means["femur", "GL"].plain
    expected = stats.t.interval(0.95, 4, np.mean(values), stats.sem(values))
    assert plain.interval95_mm() == pytest.approx(expected)
    assert plain.between_sd_mm == pytest.approx(np.std(values, ddof=1))
    draws = plain.draws_mm(rng=np.random.default_rng(1), n_draws=200_000)
    assert np.quantile(draws, [0.025, 0.975]) == pytest.approx(expected, rel=2e-3)


def test_with_nothing_to_borrow_the_joint_mean_is_near_the_plain_one_but_surer_of_its_spread(
    flock,
) -> None:
    values = [97.0, 99.0, 100.0, 103.0, 106.0]
    for number, value in enumerate(values):
        flock.bone("femur", {"GL": value}, individual_id=f"i{number}")
    mean = flock.average().means["femur", "GL"]
    low, high = mean.plain.interval95_mm()
    assert abs(mean.mean_mm - np.mean(values)) < 0.2 * mean.plain.standard_error_mm
    joint_low, joint_high = np.quantile(mean.mean_draws_mm, [0.025, 0.975])
    assert 0.6 < (joint_high - joint_low) / (high - low) < 1.4


def test_a_bone_known_once_leans_on_the_rest_of_its_individual(flock) -> None:
    rng = np.random.default_rng(8)
    for number in range(14):
        size = float(np.exp(rng.normal(0.0, 0.04)))
        values = {"GL": 170 * size, "Bd": 39 * size, "CD": 52 * size}
        flock.bone("femur", values, individual_id=f"i{number}")
    # The one bird with a humerus is as large as birds of this kind get.
    flock.bone("femur", {"GL": 186.0, "Bd": 42.7, "CD": 56.9}, individual_id="large")
    flock.bone("humerus", {"GL": 104.0}, individual_id="large")
    mean = flock.average().means["humerus", "GL"]
    low, high = np.quantile(mean.mean_draws_mm, [0.025, 0.975])
    assert mean.plain.mean_mm == 104.0
    assert mean.mean_mm == pytest.approx(104 / 186 * 170, rel=0.03)
    assert low < 104 / 186 * 170 < high
    assert high < 104.0


def test_the_chosen_average_decides_the_size(random_flock) -> None:
    flock = random_flock(5)
    wanted = {
        kind: flock.average(choice=AverageChoice(kind=kind)).means["femur", "GL"].mean_mm
        for kind in ("geometric", "arithmetic", "smaller sex", "larger sex")
    }
    largest = AverageChoice(kind="percentile", percentile=97.5)
    assert wanted["geometric"] < wanted["arithmetic"]
    assert wanted["smaller sex"] < 0.98 * wanted["arithmetic"]
    assert wanted["larger sex"] > 1.02 * wanted["arithmetic"]
    assert flock.average(choice=largest).means["femur", "GL"].mean_mm > wanted["larger sex"]


def test_the_middle_of_both_sexes_does_not_lean_to_the_one_collected_more(flock) -> None:
    rng = np.random.default_rng(2)
    for number in range(24):
        male = number % 4 == 0
        size = float(np.exp((0.06 if male else -0.06) + rng.normal(0.0, 0.02)))
        flock.bone(
            "femur",
            {code: value * size for code, value in (("GL", 170.0), ("Bd", 39.0), ("CD", 52.0))},
            individual_id=f"i{number}",
            sex="male" if male else "female",
        )
    found = flock.average()
    alike = flock.average(choice=AverageChoice(kind="geometric", both_sexes_alike=True))
    male = flock.average(choice=AverageChoice(kind="male"))
    assert found.means["femur", "GL"].mean_mm < 0.98 * 170
    assert alike.means["femur", "GL"].mean_mm == pytest.approx(170, rel=0.012)
    assert male.means["femur", "GL"].mean_mm == pytest.approx(170 * np.exp(0.06), rel=0.015)
    sexes = next(f for f in found.findings if f.key == "skeleton.sexes")
    assert [caveat.code for caveat in sexes.caveats] == ["sexes uneven"]


def test_one_sex_cannot_be_averaged_when_no_sex_is_known(flock) -> None:
    for number in range(8):
        flock.bone("femur", {"GL": 160.0 + number}, individual_id=f"i{number}")
    with pytest.raises(NotEnoughEvidence):
        flock.average(choice=AverageChoice(kind="female"))


def test_bones_of_the_same_individuals_move_together_and_loose_ones_much_less(flock) -> None:
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
    # Loose, the humeri may be of the same animals, whose mean size then holds for them too.
    assert 0 <= stats.spearmanr(femur, humerus).statistic < 0.5


def test_one_individual_has_a_wide_interval_and_says_so(flock) -> None:
    for value in (95.0, 98.0, 100.0, 102.0, 105.0):
        flock.bone("humerus", {"GL": value, "Bp": value / 5, "SC": value / 16})
    flock.bone("femur", {"GL": 170.0, "CD": 52.0}, individual_id="alone")
    result = flock.average()
    mean = result.means["femur", "GL"]
    low, high = np.quantile(mean.mean_draws_mm, [0.025, 0.975])
    assert 0.1 < (high - low) / 170 < 0.4  # as wide as single birds vary
    finding = next(f for f in result.findings if f.key == "skeleton.mean.femur.GL")
    assert finding.caveats[0].code == "one individual"
    # What is known from that individual alone is as large or small as the individual is.
    circumference = result.means["femur", "CD"].mean_draws_mm
    assert np.corrcoef(mean.mean_draws_mm, circumference)[0, 1] > 0.8


def test_a_single_value_still_has_an_interval(flock) -> None:
    flock.bone("femur", {"GL": 170.0})
    mean = flock.average().means["femur", "GL"]
    low, high = np.quantile(mean.mean_draws_mm, [0.025, 0.975])
    assert 0.08 < (high - low) / 170 < 0.5
    assert mean.plain.between_sd_mm == pytest.approx(170.0 * ASSUMED_VARIATION)


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


def test_without_repeats_the_measuring_error_is_not_known(flock) -> None:
    flock.bone("femur", {"GL": 100.0})
    assert flock.average(n_draws=500).measuring.total_percent is None
    assert technical_error([[1.0], [2.0]]) is None
