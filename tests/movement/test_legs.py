import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Exact, Quantity, RowRef, Statement
from bonewright.movement.balance import stance_balance
from bonewright.movement.gait import hip_height_m
from bonewright.movement.legs import LegsResult, hip_of_legs, how_legs_move
from bonewright.movement.proportions import leg_proportions
from bonewright.movement.strength import strength_of_legs
from bonewright.study.model import Relative, StrengthIndicator

N = 500
LENGTHS = {
    "femur": np.full(N, 160.0),
    "tibiotarsus": np.full(N, 260.0),
    "tarsometatarsus": np.full(N, 150.0),
}
ANGLES = {
    name: np.deg2rad(np.full(N, angle)) for name, angle in zip(LENGTHS, (50, 25, 20), strict=True)
}


def relative(species: str, mass_kg: float, locomotion: str) -> Relative:
    return Relative(
        ref=RowRef(table="relatives", row=2, row_id=species),
        species=species,
        family=None,
        locomotion=locomotion,
        flight="flying",
        body_mass_kg=mass_kg,
        n_weighed=None,
        source_id=None,
    )


def legs(**changes: object) -> LegsResult:
    values: dict[str, object] = {
        "bones": {},
        "mass_draws_kg": None,
        "weight_fraction_draws": np.ones(N),
        "duty_factors": {},
        "strength_draws_mpa": np.full(N, 233.0),
        "hip": hip_of_legs(LENGTHS, ANGLES),
        "proportions": (),
        "balance": (),
        "scatter": np.random.default_rng(1).standard_normal(N),
    }
    return how_legs_move(**(values | changes))  # type: ignore[arg-type]


def test_straight_legs_stand_as_high_as_their_bones_are_long() -> None:
    upright = {name: np.zeros(N) for name in LENGTHS}
    assert hip_height_m(LENGTHS, upright)[0] == pytest.approx(0.57)


def test_the_speeds_say_what_they_rest_on_and_carry_the_formulas_scatter() -> None:
    by_key = {finding.key: finding for finding in legs().findings}
    running = by_key["movement.speed.running_by_stride"]
    assert {caveat.code for caveat in running.caveats} == {"formula scatters", "no top speed"}
    assert isinstance(running.value, Quantity)
    low, high = running.value.summary().interval95
    assert 1.6 < high / low < 2.1


def test_a_trackway_gives_speed_and_gait_and_moves_no_other_number() -> None:
    plain, tracked = legs(), legs(stride_draws_m=np.full(N, 0.55))
    assert plain.speeds is not None
    assert tracked.speeds is not None
    np.testing.assert_array_equal(plain.speeds.comfortable, tracked.speeds.comfortable)
    assert plain.speeds.by_trackway is None
    assert tracked.speeds.by_trackway is not None
    assert tracked.hip is not None
    expected = 0.25 * 9.80665**0.5 * 0.55**1.67 * np.median(tracked.hip.draws_m) ** -1.17
    assert np.median(tracked.speeds.by_trackway) == pytest.approx(expected, rel=0.03)
    found = {finding.key: finding for finding in tracked.findings}
    assert "movement.trackway_gait" not in {finding.key for finding in plain.findings}
    gait = found["movement.trackway_gait"].value
    assert isinstance(gait, Statement)
    assert "walked, in 100 %" in gait.text
    assert "whose tracks" in {c.code for c in found["movement.speed.by_trackway"].caveats}
    ran = {f.key: f for f in legs(stride_draws_m=np.full(N, 1.9)).findings}
    assert "the animal ran" in ran["movement.trackway_gait"].value.text  # type: ignore[union-attr]


def test_without_anything_to_go_by_it_says_what_would_help() -> None:
    with pytest.raises(NotEnoughEvidence):
        legs(hip=None)


def test_proportions_are_set_beside_groups_of_three_or_more() -> None:
    relatives = [relative(f"runner {n}", 5.0, "runner") for n in range(3)]
    relatives.append(relative("wader", 2.0, "wader"))
    species = {(one.species, "femur"): 100.0 for one in relatives}
    species |= {(one.species, "tibiotarsus"): 150.0 + 10 * n for n, one in enumerate(relatives)}
    (one,) = leg_proportions(LENGTHS, species, relatives)
    assert one.bone == "tibiotarsus"
    assert [group.locomotion for group in one.groups] == ["runner"]
    assert one.within() == ("runner",)
    (statement,) = [f for f in legs(proportions=(one,)).findings if f.key.endswith(".beside")]
    assert isinstance(statement.value, Statement)
    assert "decide nothing" in statement.value.text


def test_balance_is_lost_when_the_plumb_line_leaves_the_feet() -> None:
    centre = np.column_stack([np.linspace(-0.2, 0.2, N), np.full(N, 0.4)])
    balance = stance_balance("fat", centre_m=centre, foot_length_mm=np.full(N, 200.0))
    assert balance.share_over_feet == pytest.approx(0.5, abs=0.01)
    assert np.max(balance.tip_rad) == pytest.approx(np.arctan2(100, 400), abs=0.01)
    (finding,) = [f for f in legs(balance=(balance,)).findings if f.key == "movement.balance"]
    assert isinstance(finding.value, Statement)


def strength(**changes: object) -> object:
    runners = tuple(relative(f"runner {n}", 10.0, "runner") for n in range(4))
    per_kg = 9.80665 * 10 / 1e3
    values: dict[str, object] = {
        "modulus_over_arm_draws_mm2": {"femur": np.full(N, 30 * 15 * 9.80665 / 1e3)},
        "species_modulus_over_arm_mm2": {
            (one.species, "femur"): value * per_kg
            for one, value in zip(runners, (20.0, 25.0, 35.0, 40.0), strict=True)
        },
        "relatives": runners,
        "mass_draws_kg": np.full(N, 15.0),
        "weight_fraction_draws": np.ones(N),
        "comparison": "runner",
    }
    return strength_of_legs(**(values | changes))  # type: ignore[arg-type]


WALKERS: dict[str, object] = {
    "relatives": tuple(relative(f"runner {n}", 10.0, "walker") for n in range(4))
}


def test_the_greatest_share_of_fat_fills_the_window_to_its_upper_end() -> None:
    # Indicator 30 at 15 kg falls to 20, the weakest runner's, at 22.5 kg.
    result = strength(fat_free_draws_kg=np.full(N, 13.5))
    assert result.joint_high_draws_kg[0] == pytest.approx(22.5)  # type: ignore[attr-defined]
    (finding,) = [f for f in result.findings if f.key == "movement.greatest_fat"]  # type: ignore[attr-defined]
    assert isinstance(finding.value, Quantity)
    assert finding.value.summary().median == pytest.approx(100 * (1 - 13.5 / 22.5))


def test_a_body_too_heavy_without_fat_has_no_room_for_any() -> None:
    result = strength(fat_free_draws_kg=np.full(N, 30.0))
    (finding,) = [f for f in result.findings if f.key == "movement.greatest_fat"]  # type: ignore[attr-defined]
    assert {caveat.code for caveat in finding.caveats} == {"strength only", "no room for fat"}
    assert finding.value.summary().median == 0


def test_each_state_of_fatness_is_laid_over_the_window() -> None:
    states = {"lean": np.full(N, 9.0), "mean": np.full(N, 15.0), "fat": np.linspace(15, 30, N)}
    result = strength(state_mass_draws_kg=states)
    shares = {one.state: one.share_inside for one in result.states}  # type: ignore[attr-defined]
    assert shares["lean"] == 0
    assert shares["mean"] == 1
    assert shares["fat"] == pytest.approx(0.5, abs=0.01)
    finding = next(f for f in result.findings if f.key == "movement.state.fat")  # type: ignore[attr-defined]
    assert isinstance(finding.value, Exact)


def test_published_indicators_widen_the_range_only_when_asked() -> None:
    plain, counted = strength(), strength(count_published=True)
    assert plain.bones["femur"].comparison_range_per_gpa == pytest.approx((20, 40))  # type: ignore[attr-defined]
    low, high = counted.bones["femur"].comparison_range_per_gpa  # type: ignore[attr-defined]
    assert low == pytest.approx(15)
    assert high == pytest.approx(44)
    codes = {caveat.code for finding in counted.findings for caveat in finding.caveats}  # type: ignore[attr-defined]
    assert "published indicators counted" in codes


def own_row(number: int, animal: str, indicator: float, locomotion: str) -> StrengthIndicator:
    return StrengthIndicator(
        ref=RowRef(table="strength_indicators", row=number + 1, row_id=f"ind-{number}"),
        animal=animal,
        element="femur",
        indicator_per_gpa=indicator,
        locomotion=locomotion,
        source_id="src-1",
    )


def test_your_own_published_rows_count_by_their_way_of_moving_and_replace_the_programs() -> None:
    rows = (
        own_row(1, "Human", 16.0, "runner"),
        own_row(2, "sheep", 50.0, "runner"),
        own_row(3, "toad", 3.0, "walker"),
    )
    plain = strength(own_indicators=rows)
    assert plain.bones["femur"].comparison_range_per_gpa == pytest.approx((20, 40))  # type: ignore[attr-defined]
    counted = strength(own_indicators=rows, count_published=True)
    assert counted.bones["femur"].comparison_range_per_gpa == pytest.approx((16, 50))  # type: ignore[attr-defined]
    shown = [(one.animal, one.indicator_per_gpa) for one in counted.published]  # type: ignore[attr-defined]
    assert ("Human", 16.0) in shown
    assert ("human", 15) not in shown
    (caveat,) = {
        caveat
        for finding in counted.findings  # type: ignore[attr-defined]
        for caveat in finding.caveats
        if caveat.code == "published indicators counted"
    }
    assert [row.row_id for row in caveat.rows] == ["ind-1", "ind-2"]
    walkers = strength(own_indicators=rows, count_published=True, comparison="walker", **WALKERS)
    assert walkers.bones["femur"].comparison_range_per_gpa[0] == pytest.approx(3)  # type: ignore[attr-defined]


def test_other_bounds_move_the_window_and_are_named() -> None:
    wide = strength(bounds="t-interval")
    low, high = wide.bones["femur"].comparison_range_per_gpa  # type: ignore[attr-defined]
    assert low < 20
    assert high > 40
    texts = [caveat.text for finding in wide.findings for caveat in finding.caveats]  # type: ignore[attr-defined]
    assert any("19 times in 20" in text for text in texts)
