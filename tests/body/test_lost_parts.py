"""Lost parts from relatives' proportions, doubtful rows of the plan, and the fat cycle."""

from dataclasses import replace

import numpy as np
import pytest

from bonewright.body.condition import FASTING_RATES, fasting_days
from bonewright.body.grown import GrownBody
from bonewright.body.lost_parts import LostPartsResult, lost_parts
from bonewright.body.plan_doubts import sound_plan, sound_tissues
from bonewright.body.weighing import weigh_body
from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Quantity, RowRef
from bonewright.study.ground_bird import GROUND_BIRD_HOOPS, GROUND_BIRD_SEGMENTS, TISSUES
from bonewright.study.model import BodyHoop, LostPart
from bonewright.study.settings import Choices

NOBODY: frozenset[tuple[str, str]] = frozenset()
Bones = dict[tuple[str, str], np.ndarray]


def part(number: int, ratio: float, **changes: object) -> LostPart:
    made = LostPart(
        ref=RowRef(table="lost_parts", row=number + 2, row_id=f"p{number}"),
        part="claw length",
        species=f"Species {number}",
        element="tarsometatarsus",
        code="GL",
        ratio=ratio,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def parts_of(*rows: LostPart, n_draws: int = 50_000) -> LostPartsResult:
    return lost_parts(
        rows,
        bone_draws_mm={("tarsometatarsus", "GL"): np.full(n_draws, 100.0)},
        mass_draws_kg=np.full(n_draws, 10.0),
        kept=NOBODY,
        set_aside=NOBODY,
        rng=np.random.default_rng(2),
        n_draws=n_draws,
    )


def test_a_part_has_the_t_interval_of_a_further_relative() -> None:
    ratios = [0.18, 0.20, 0.21, 0.19, 0.22]
    result = parts_of(*(part(i, ratio) for i, ratio in enumerate(ratios)))
    (size,) = result.sizes.values()
    ln_ratio = np.log(ratios)
    half = 2.776 * ln_ratio.std(ddof=1) * np.sqrt(1 + 1 / 5)  # t at 4 degrees of freedom
    low, middle, high = np.log(np.quantile(size / 100, [0.025, 0.5, 0.975]))
    assert middle == pytest.approx(ln_ratio.mean(), abs=0.01)
    assert low == pytest.approx(ln_ratio.mean() - half, abs=0.05 * half)
    assert high == pytest.approx(ln_ratio.mean() + half, abs=0.05 * half)


def test_one_relative_gives_a_wide_interval_and_a_caveat() -> None:
    result = parts_of(part(0, 0.2))
    (finding,) = result.findings
    assert "few relatives" in {caveat.code for caveat in finding.caveats}
    assert isinstance(finding.value, Quantity)
    assert np.log(finding.value.draws).std() > 0.15


def test_a_mass_is_given_over_body_mass_in_kg() -> None:
    rows = [part(i, 0.2, part="leg muscle mass", element=None, code=None) for i in range(4)]
    (finding,) = parts_of(*rows).findings
    assert isinstance(finding.value, Quantity)
    assert finding.value.unit == "kg"
    assert np.median(finding.value.draws) == pytest.approx(2.0, rel=0.01)


def test_a_ratio_ten_times_the_others_is_held_out_and_named() -> None:
    rows = [part(0, 2.0), *(part(i, 0.2 + i / 1000) for i in range(1, 5))]
    result = parts_of(*rows)
    (doubt,) = result.doubts
    assert (doubt.ref, doubt.kind, doubt.held_out) == (rows[0].ref, "factor of ten", True)
    (finding,) = result.findings
    assert rows[0].ref in {ref for caveat in finding.caveats for ref in caveat.rows}
    assert np.median(finding.value.draws) == pytest.approx(20, rel=0.03)  # type: ignore[union-attr]


def test_a_part_over_a_bone_nobody_measured_has_no_size() -> None:
    assert parts_of(part(0, 0.2, element="femur")).sizes == {}


def _own_trunk() -> list[BodyHoop]:
    rows = [hoop for hoop in GROUND_BIRD_HOOPS if hoop.segment == "trunk"]
    return [
        replace(hoop, ref=RowRef(table="body_hoops", row=i + 2, row_id=f"h{i}"))
        for i, hoop in enumerate(rows)
    ]


@pytest.mark.parametrize("field", ["half_width_ratio", "dorsal_ratio", "ventral_ratio"])
@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_hoop_unlike_its_neighbours_is_held_out_and_they_stand_in(
    bones: Bones, field: str, factor: float
) -> None:
    hoops = _own_trunk()
    hoops[3] = replace(hoops[3], **{field: getattr(hoops[3], field) * factor})
    plan, doubts = sound_plan((), hoops, bone_draws_mm=bones, kept=NOBODY, set_aside=NOBODY)
    assert hoops[3].ref in {doubt.ref for doubt in doubts if doubt.held_out}
    assert hoops[3] not in plan.segments["trunk"].hoops


def test_sound_hoops_are_not_doubted(bones: Bones) -> None:
    plan, doubts = sound_plan((), _own_trunk(), bone_draws_mm=bones, kept=NOBODY, set_aside=NOBODY)
    assert doubts == ()
    assert plan.replaced == ("trunk",)


def test_a_kept_hoop_is_used(bones: Bones) -> None:
    hoops = _own_trunk()
    hoops[3] = replace(hoops[3], half_width_ratio=4.0)
    plan, _ = sound_plan(
        (),
        hoops,
        bone_draws_mm=bones,
        kept=frozenset({("body_hoops", f"h{i}") for i in range(7)}),
        set_aside=NOBODY,
    )
    assert hoops[3] in plan.segments["trunk"].hoops


def test_a_segment_over_an_unmeasured_bone_or_ten_times_too_long_gives_way_to_the_plan(
    bones: Bones,
) -> None:
    beak = next(s for s in GROUND_BIRD_SEGMENTS if s.segment == "beak")
    ref = RowRef(table="body_segments", row=2, row_id="beak")
    for wrong in (
        replace(beak, ref=ref, code="Bd"),
        replace(beak, ref=ref, length_ratio=10 * beak.length_ratio),
    ):
        plan, (doubt,) = sound_plan(
            (wrong,), (), bone_draws_mm=bones, kept=NOBODY, set_aside=NOBODY
        )
        assert (doubt.ref, doubt.held_out) == (ref, True)
        assert plan.segments["beak"].segment == beak


def test_a_density_of_no_such_tissue_gives_way_to_the_known_one() -> None:
    wrong = replace(
        TISSUES[0],
        ref=RowRef(table="tissues", row=2, row_id="muscle"),
        density_kg_m3=500.0,
        low_kg_m3=490.0,
        high_kg_m3=510.0,
    )
    used, (doubt,) = sound_tissues((wrong,), kept=NOBODY, set_aside=NOBODY)
    assert used == ()
    assert doubt.held_out


def test_days_of_fasting_are_the_integral_over_a_falling_mass(bird: GrownBody) -> None:
    rate = np.full(len(bird.states["mean"].mass_draws_kg), 1.3)
    found = fasting_days(bird, rate_over_basal=rate, rng=np.random.default_rng(3))
    law = np.random.default_rng(3).integers(len(FASTING_RATES), size=len(rate))
    for draw in (0, 10, 500):
        lean, fat = (bird.states[s].mass_draws_kg[draw] for s in ("lean", "fat"))
        steps = np.linspace(lean, fat, 20_001)
        middles = (steps[1:] + steps[:-1]) / 2
        spent = 1.3 * FASTING_RATES[law[draw]].basal_kj_per_day(middles)
        days = np.diff(steps) @ (1 / spent)
        assert 39.3e3 * days <= found.days[draw] * 1.00001
        assert found.days[draw] <= 39.7e3 * days * 1.00001


def test_a_study_with_a_skeleton_only_still_gets_a_body(bones: Bones) -> None:
    result = weigh_body(
        readings=(),
        scans=(),
        segments=(),
        hoops=(),
        tissues=(),
        parts=(),
        bone_draws_mm=bones,
        choices=Choices(),
        kept=NOBODY,
        set_aside=NOBODY,
        rng=np.random.default_rng(1),
        n_draws=2000,
    )
    assert result.grown is not None
    assert result.gaps == ()
    keys = [finding.key for finding in result.findings]
    assert len(keys) == len(set(keys))
    assert "body.grown.mass.mean" in keys


def test_a_study_with_nothing_says_which_bones_would_help() -> None:
    with pytest.raises(NotEnoughEvidence) as raised:
        weigh_body(
            readings=(),
            scans=(),
            segments=(),
            hoops=(),
            tissues=(),
            parts=(),
            bone_draws_mm={},
            choices=Choices(),
            kept=NOBODY,
            set_aside=NOBODY,
            rng=np.random.default_rng(1),
            n_draws=2000,
        )
    assert "femur GL" in raised.value.found
