import dataclasses

import numpy as np
import pytest

from bonewright.body.finished_models import Workmanship
from bonewright.body.ranges import density_kg_m3, draws_of_range
from bonewright.body.readings import mean_reading_draws
from bonewright.body.weighing import BodyResult, weigh_body, with_models_checked
from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.findings import Quantity, RowRef
from bonewright.study.model import BodyReading
from bonewright.study.settings import Choices, RangeChoice
from bonewright.study.workshop_rows import ModelMeasurement

NONE: frozenset[tuple[str, str]] = frozenset()
N_DRAWS = 20_000
# A 1:4 maquette of 250 mL is 16 L at life size.
VOLUMES_ML = (250.0, 252.0, 248.0, 251.0, 249.0)


def reading(number: int, volume_ml: float, **changes: object) -> BodyReading:
    made = BodyReading(
        ref=RowRef(table="bodies", row=number + 2, row_id=f"v{number}"),
        body_id="maquette-1",
        state="mean",
        scale_denominator=4.0,
        volume_m3=volume_ml * 1e-6,
        armature_volume_m3=0.0,
        source_id=None,
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


READINGS = tuple(reading(number, volume) for number, volume in enumerate(VOLUMES_ML))


def choice(value: float, low: float, high: float, unit: str) -> RangeChoice:
    return RangeChoice(value=value, low=low, high=high, unit=unit, reason="a test")


SURE_DENSITY = choice(0.95, 0.95, 0.95, "kg/L")
SURE_SHAPE = choice(0, 0, 0, "%")


def weigh(
    readings: tuple[BodyReading, ...],
    *,
    density: RangeChoice = SURE_DENSITY,
    shape: RangeChoice = SURE_SHAPE,
    kept: frozenset[tuple[str, str]] = NONE,
    set_aside: frozenset[tuple[str, str]] = NONE,
) -> BodyResult:
    return weigh_body(
        readings=readings,
        scans=(),
        segments=(),
        hoops=(),
        tissues=(),
        parts=(),
        bone_draws_mm={},
        choices=Choices(body_density=density, maquette_shape_percent=shape),
        kept=kept,
        set_aside=set_aside,
        rng=np.random.default_rng(4),
        n_draws=N_DRAWS,
    )


def mass_median(result: BodyResult, body_id: str = "maquette-1") -> float:
    return float(np.median(result.maquettes[body_id].mass_draws_kg))


def test_mass_is_volume_times_scale_cubed_times_density() -> None:
    assert mass_median(weigh(READINGS)) == pytest.approx(250e-6 * 64 * 950, rel=1e-3)


@pytest.mark.parametrize(
    ("value", "unit"), [(0.95, "kg/L"), (0.95, "g/mL"), (0.95, "g/cm³"), (950.0, "kg/m3")]
)
def test_density_may_be_given_in_any_usual_unit(value: float, unit: str) -> None:
    density = choice(value, value, value, unit)
    assert mass_median(weigh(READINGS, density=density)) == pytest.approx(15.2, rel=1e-3)


@pytest.mark.parametrize(
    "density",
    [
        choice(0.95, 0.85, 1.05, "lb"),
        choice(950, 850, 1050, "kg/L"),
        choice(0.1, 0.05, 1.0, "kg/L"),
        choice(-0.95, -1.0, 0.9, "kg/L"),
    ],
)
def test_a_density_of_no_living_body_has_no_answer(density: RangeChoice) -> None:
    with pytest.raises(OutsideRange):
        density_kg_m3(density)
    with pytest.raises(OutsideRange):
        weigh(READINGS, density=density)


def test_a_shape_range_that_reaches_bodies_of_no_volume_has_no_answer() -> None:
    with pytest.raises(OutsideRange):
        weigh(READINGS, shape=choice(0, -90, 90, "%"))


def test_readings_alone_give_the_t_interval_of_their_logarithms() -> None:
    draws = mean_reading_draws(VOLUMES_ML, rng=np.random.default_rng(1), n_draws=200_000)
    ln_volumes = np.log(VOLUMES_ML)
    half = 2.776 * ln_volumes.std(ddof=1) / np.sqrt(5)  # t at 4 degrees of freedom
    low, high = np.quantile(np.log(draws), [0.025, 0.975])
    assert low == pytest.approx(ln_volumes.mean() - half, abs=0.03 * half)
    assert high == pytest.approx(ln_volumes.mean() + half, abs=0.03 * half)


def test_a_range_holds_95_percent_and_is_halved_by_its_best_value() -> None:
    lopsided = choice(0.95, 0.90, 1.05, "kg/L")
    draws = draws_of_range(lopsided, rng=np.random.default_rng(2), n_draws=200_000)
    assert np.quantile(draws, [0.025, 0.5, 0.975]) == pytest.approx([0.90, 0.95, 1.05], abs=0.002)


def test_an_even_range_is_a_normal_distribution() -> None:
    draws = draws_of_range(choice(0, -20, 20, "%"), rng=np.random.default_rng(3), n_draws=200_000)
    assert draws.std() == pytest.approx(40 / 3.92, rel=0.01)
    assert draws.mean() == pytest.approx(0, abs=0.1)


def test_a_range_of_no_width_is_a_constant() -> None:
    draws = draws_of_range(choice(1, 1, 1, "1"), rng=np.random.default_rng(3), n_draws=10)
    np.testing.assert_array_equal(draws, 1.0)


def test_the_whole_interval_is_that_of_readings_shape_and_density_together() -> None:
    result = weigh(
        READINGS, density=choice(0.95, 0.85, 1.05, "kg/L"), shape=choice(0, -20, 20, "%")
    )
    relative_sd = np.hypot(0.2 / 0.95 / 3.92, 0.4 / 3.92)
    draws = result.maquettes["maquette-1"].mass_draws_kg
    assert draws.std() / draws.mean() == pytest.approx(relative_sd, rel=0.05)


def test_armature_is_taken_off_before_scaling_up() -> None:
    wired = tuple(
        reading(number, volume + 10, armature_volume_m3=10e-6)
        for number, volume in enumerate(VOLUMES_ML)
    )
    assert mass_median(weigh(wired)) == pytest.approx(mass_median(weigh(READINGS)))


def test_models_of_one_animal_at_two_scales_agree() -> None:
    other = tuple(
        reading(number + 10, volume * 8, body_id="maquette-2", scale_denominator=2.0)
        for number, volume in enumerate(VOLUMES_ML)
    )
    result = weigh(READINGS + other)
    assert mass_median(result, "maquette-2") == pytest.approx(mass_median(result), rel=2e-3)


def test_one_reading_gives_an_answer_with_a_caveat() -> None:
    result = weigh(READINGS[:1])
    (mass,) = [finding for finding in result.findings if finding.key == "body.mass.maquette-1"]
    assert "few readings" in {caveat.code for caveat in mass.caveats}
    assert isinstance(mass.value, Quantity)
    assert 0.015 < np.log(mass.value.draws).std() < 0.06


@pytest.mark.parametrize(
    ("factor", "kind"),
    [
        (10.0, "factor of ten"),
        (0.1, "factor of ten"),
        (1000.0, "factor of ten"),
        (1.5, "out of line"),
    ],
)
def test_a_reading_that_is_no_repeat_of_the_others_is_held_out(factor: float, kind: str) -> None:
    bad = (reading(0, 250.0 * factor), *READINGS[1:])
    result = weigh(bad)
    (doubt,) = result.doubts
    assert (doubt.ref, doubt.kind, doubt.held_out) == (bad[0].ref, kind, True)
    assert mass_median(result) == pytest.approx(15.2, rel=0.01)
    of_model = [f for f in result.findings if f.key.endswith("maquette-1")]
    assert len(of_model) == 2
    for finding in of_model:
        assert bad[0].ref in {ref for caveat in finding.caveats for ref in caveat.rows}


def test_a_large_armature_is_doubted_in_its_own_column() -> None:
    bad = (reading(0, 250.0, armature_volume_m3=100e-6), *READINGS[1:])
    (doubt,) = weigh(bad).doubts
    assert doubt.column == "armatureVolume"


def test_an_armature_larger_than_the_volume_is_never_used() -> None:
    bad = (reading(0, 250.0, armature_volume_m3=400e-6), *READINGS[1:])
    result = weigh(bad, kept=frozenset({("bodies", "v0")}))
    (doubt,) = result.doubts
    assert doubt.held_out
    assert mass_median(result) == pytest.approx(15.2, rel=0.01)


def test_a_kept_reading_is_used() -> None:
    bad = (reading(0, 400.0), *READINGS[1:])
    result = weigh(bad, kept=frozenset({("bodies", "v0")}))
    (doubt,) = result.doubts
    assert (doubt.decided, doubt.held_out) == ("keep", False)
    assert len(result.maquettes["maquette-1"].readings_m3) == 5


def test_a_reading_set_aside_is_never_used() -> None:
    result = weigh(READINGS, set_aside=frozenset({("bodies", "v0")}))
    assert len(result.maquettes["maquette-1"].readings_m3) == 4


def test_two_readings_that_disagree_are_both_doubted_and_named() -> None:
    with pytest.raises(NotEnoughEvidence) as raised:
        weigh((reading(0, 250.0), reading(1, 400.0)))
    assert "row 2" in raised.value.found
    assert "row 3" in raised.value.found


def test_no_readings_is_not_enough_evidence() -> None:
    with pytest.raises(NotEnoughEvidence):
        weigh(())


def test_finished_models_wait_in_words_for_a_body_to_be_held_against() -> None:
    row = ModelMeasurement(
        ref=RowRef(table="model_measurements", row=2, row_id="mm-1"),
        model_id="maquette",
        measure="height over all",
        value_mm=200.0,
        scale_denominator=4.0,
        state="mean",
        layer="naked",
    )
    bodyless = weigh((reading(1, 250.0),))
    judged = with_models_checked(
        bodyless,
        models=(row,),
        workmanship=Workmanship(share=0.01, least_mm=1.0),
        set_aside=NONE,
    )
    assert judged.models == ()
    (told,) = [finding for finding in judged.findings if finding.key == "body.models.none"]
    assert told.how.rows == (row.ref,)
    assert (
        with_models_checked(
            bodyless, models=(), workmanship=Workmanship(share=0.01, least_mm=1.0), set_aside=NONE
        )
        is bodyless
    )
