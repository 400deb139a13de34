import pytest

from bonewright.errors import NotEnoughEvidence


def test_an_observer_who_measured_five_times_weighs_no_more_than_one_who_measured_once(
    flock,
) -> None:
    bone = flock.bone("femur", {})
    for _ in range(5):
        flock.measure(bone, "GL", 100.0, "A")
    flock.measure(bone, "GL", 101.0, "B")
    assert flock.average().means["femur", "GL"].plain.mean_mm == pytest.approx(100.5)


def test_left_and_right_of_one_individual_are_one_individual(flock) -> None:
    flock.bone("femur", {"GL": 100.0}, side="left", individual_id="i1")
    flock.bone("femur", {"GL": 102.0}, side="right", individual_id="i1")
    flock.bone("femur", {"GL": 104.0}, individual_id="i2")
    mean = flock.average().means["femur", "GL"]
    assert mean.individuals_mm == pytest.approx((101.0, 104.0))
    assert (mean.n_individuals, mean.n_bones, mean.n_measurements) == (2, 3, 3)
    assert mean.plain.mean_mm == pytest.approx(102.5)


def test_loose_bones_are_individuals_of_their_own_and_the_finding_says_so(flock) -> None:
    for value in (100.0, 102.0, 104.0, 106.0):
        flock.bone("femur", {"GL": value})
    result = flock.average()
    assert result.means["femur", "GL"].n_individuals == 4
    finding = next(f for f in result.findings if f.key == "skeleton.mean.femur.GL")
    assert "loose bones" in [caveat.code for caveat in finding.caveats]


def test_a_cast_whose_original_was_measured_is_not_counted_again(flock) -> None:
    original = flock.bone("femur", {"GL": 100.0})
    flock.bone("femur", {"GL": 104.0}, preparation="cast", cast_of=original)
    result = flock.average()
    mean = result.means["femur", "GL"]
    assert (mean.plain.mean_mm, mean.n_bones, mean.n_individuals) == (100.0, 1, 1)
    assert result.minimum_number_of_individuals == 1


def test_a_cast_stands_in_where_its_original_lacks_the_measurement(flock) -> None:
    original = flock.bone("femur", {"GL": 100.0}, individual_id="i1")
    flock.bone("femur", {"Bd": 20.0}, preparation="cast", cast_of=original)
    result = flock.average()
    assert result.means["femur", "Bd"].n_individuals == 1
    finding = next(f for f in result.findings if f.key == "skeleton.mean.femur.Bd")
    assert "cast only" in [caveat.code for caveat in finding.caveats]


def test_a_cast_of_a_bone_that_is_not_in_the_table_counts_as_the_bone(flock) -> None:
    flock.bone("femur", {"GL": 100.0}, preparation="cast")
    assert flock.average().means["femur", "GL"].n_individuals == 1


def test_a_ring_of_casts_counts_once(flock) -> None:
    flock.bone("femur", {"GL": 100.0}, preparation="cast", cast_of="bone-002")
    flock.bone("femur", {"GL": 100.0}, preparation="cast", cast_of="bone-001")
    assert flock.average().means["femur", "GL"].n_bones == 1


def test_young_animals_stay_out_and_are_counted_as_left_out(flock) -> None:
    flock.bone("femur", {"GL": 100.0})
    flock.bone("femur", {"GL": 60.0}, life_stage="juvenile")
    flock.bone("femur", {"GL": 80.0}, life_stage="subadult")
    result = flock.average()
    assert result.means["femur", "GL"].plain.mean_mm == 100.0
    left_out = next(f for f in result.findings if f.key == "skeleton.left_out")
    assert "bones of young animals: 2" in left_out.value.text


def test_rows_set_aside_are_never_used(flock) -> None:
    flock.bone("femur", {"GL": 100.0})
    flock.bone("femur", {"GL": 110.0})
    flock.bone("femur", {"GL": 120.0})
    aside = frozenset({("measurements", "m-0002"), ("specimens", "bone-003")})
    result = flock.average(set_aside=aside)
    assert result.means["femur", "GL"].individuals_mm == (100.0,)
    finding = next(f for f in result.findings if f.key == "skeleton.mean.femur.GL")
    held_out = next(caveat for caveat in finding.caveats if caveat.code == "held out")
    assert {row.row_id for row in held_out.rows} == {"m-0002", "bone-003"}


def test_without_a_usable_measurement_there_is_no_number(flock) -> None:
    flock.bone("femur", {"GL": 100.0}, life_stage="juvenile")
    with pytest.raises(NotEnoughEvidence):
        flock.average()


@pytest.mark.parametrize(
    ("sides", "expected"),
    [
        (["left"] * 3 + ["right"] * 2, 3),
        (["left"] * 2 + ["right"] * 2, 2),
        (["unknown"] * 5, 3),
        (["left"] * 2 + ["unknown"] * 4, 3),
    ],
)
def test_the_minimum_number_follows_from_the_sides(flock, sides, expected) -> None:
    for side in sides:
        flock.bone("femur", {"GL": 100.0}, side=side)
    assert flock.average().minimum_number_of_individuals == expected


def test_the_minimum_number_is_the_most_that_one_element_demands_and_young_count_apart(
    flock,
) -> None:
    flock.bone("femur", {"GL": 100.0}, side="left")
    for _ in range(3):
        flock.bone("skull", {"GL": 90.0}, side="midline")
    flock.bone("skull", {"GL": 60.0}, side="midline", life_stage="juvenile")
    for _ in range(20):
        flock.bone("phalanx", {"GL": 20.0}, side="left")
    assert flock.average().minimum_number_of_individuals == 4
