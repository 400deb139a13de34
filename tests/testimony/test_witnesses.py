import dataclasses
from typing import Any

import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Exact, Finding, RowRef, Statement
from bonewright.study.model import (
    Account,
    Claim,
    DateSpan,
    MountMeasurement,
    Picture,
    PictureMark,
)
from bonewright.testimony.witnesses import TestimonyResult, hear_witnesses

NONE: frozenset[tuple[str, str]] = frozenset()


def ref(table: str, number: int, row_id: str) -> RowRef:
    return RowRef(table=table, row=number + 2, row_id=row_id)


def year(value: float) -> DateSpan:
    return DateSpan(earliest=value, latest=value + 1, text=f"{value:.0f}")


def picture(number: int, when: float, **changes: Any) -> Picture:
    made = Picture(
        ref=ref("pictures", number, f"p{number}"),
        picture_id=f"p{number}",
        title=f"picture {number}",
        date=year(when),
        drawn_from="unknown",
        copy_of=None,
        creator=None,
        reliability=None,
        source_id=None,
    )
    return dataclasses.replace(made, **changes)


def mark(number: int, picture_id: str, score: float, scorer: str = "scorer 1") -> PictureMark:
    return PictureMark(
        ref=ref("picture_marks", number, f"k{number}"),
        picture_id=picture_id,
        kind="fatness",
        score=score,
        scorer=scorer,
    )


def account(number: int, when: float, **changes: Any) -> Account:
    made = Account(
        ref=ref("accounts", number, f"a{number}"),
        account_id=f"a{number}",
        title=f"account {number}",
        date=year(when),
        standing="eyewitness",
        copy_of=None,
        creator=None,
        passage=None,
        reliability=None,
        source_id=None,
    )
    return dataclasses.replace(made, **changes)


def claim(number: int, account_id: str, value: float | None, kind: str = "weight") -> Claim:
    return Claim(
        ref=ref("claims", number, f"c{number}"),
        claim_id=f"c{number}",
        account_id=account_id,
        kind=kind,
        value=value,
        statement="so it is written",
    )


def measure(number: int, value_mm: float, title: str, **changes: Any) -> MountMeasurement:
    made = MountMeasurement(
        ref=ref("mount_measurements", number, f"mt{number}"),
        mount_id="mount-1",
        title=title,
        element="tibiotarsus",
        code="GL",
        value_mm=value_mm,
        allowance_low_mm=4.0,
        allowance_high_mm=16.0,
        source_id=None,
    )
    return dataclasses.replace(made, **changes)


# Six lean pictures, then two fat ones copied four times over.
PICTURES = (
    *(picture(number, 1640 + 10 * number, drawn_from="life") for number in range(6)),
    picture(6, 1700, drawn_from="life"),
    picture(7, 1702, drawn_from="life"),
    *(picture(number, 1702 + number, copy_of="p6") for number in range(8, 14)),
)
SCORES = [3, 2, 3.5, 2.5, 3, 2, 4, 3.5, 4, 4.5, 4, 4, 4.5, 4]
MARKS = tuple(
    mark(2 * number + offset, f"p{number}", score + 0.5 * offset, f"scorer {offset + 1}")
    for number, score in enumerate(SCORES)
    for offset in (0, 1)
)
MEAN_MM = {
    ("tibiotarsus", "GL"): np.random.default_rng(1).normal(250, 2, 20_000),
    ("skull", "GH"): np.random.default_rng(2).normal(50, 0.5, 20_000),
}
BETWEEN_MM = {("tibiotarsus", "GL"): 10.0, ("skull", "GH"): 2.0}


def hear(
    *,
    pictures: tuple[Picture, ...] = PICTURES,
    marks: tuple[PictureMark, ...] = MARKS,
    accounts: tuple[Account, ...] = (),
    claims: tuple[Claim, ...] = (),
    mount: tuple[MountMeasurement, ...] = (),
    witness_years: tuple[float, float] | None = None,
    kept: frozenset[tuple[str, str]] = NONE,
    set_aside: frozenset[tuple[str, str]] = NONE,
) -> TestimonyResult:
    return hear_witnesses(
        pictures=pictures,
        marks=marks,
        accounts=accounts,
        claims=claims,
        mount=mount,
        bone_mean_draws_mm=MEAN_MM,
        bone_between_sd_mm=BETWEEN_MM,
        witness_years=witness_years,
        kept=kept,
        set_aside=set_aside,
        rng=np.random.default_rng(3),
    )


def finding(result: TestimonyResult, key: str) -> Finding:
    (found,) = [one for one in result.findings if one.key == key]
    return found


def text(result: TestimonyResult, key: str) -> str:
    value = finding(result, key).value
    assert isinstance(value, Statement)
    return value.text


def test_a_picture_has_the_mean_of_its_scorers_each_counted_once() -> None:
    result = hear(marks=(*MARKS, mark(99, "p0", 5.0, "scorer 1")))
    first = result.pictures[0]
    # Scorer 1 gave 3 and 5, scorer 2 gave 3.5.
    assert (first.picture_id, first.n_scorers) == ("p0", 2)
    assert first.score == pytest.approx((4.0 + 3.5) / 2)


def test_pictures_stand_in_order_of_date() -> None:
    result = hear(pictures=PICTURES[::-1])
    assert [one.picture_id for one in result.pictures] == [f"p{n}" for n in range(14)]


def test_copies_make_a_change_that_disappears_without_them_and_the_sentence_says_so() -> None:
    result = hear()
    counted, independent = result.change_points
    assert (counted.with_copies, counted.n) == (True, 14)
    assert (independent.with_copies, independent.n) == (False, 8)
    assert counted.p_permutation < 0.05 < independent.p_permutation
    sentence = text(result, "testimony.change.independent")
    assert "no change of fatness can be told from chance" in sentence
    assert "that is copying, not seeing" in sentence


def test_a_picture_drawn_after_another_is_a_copy_though_its_original_is_not_named() -> None:
    drawn = tuple(dataclasses.replace(one, copy_of=None) for one in PICTURES)
    drawn = (*drawn[:8], *(dataclasses.replace(p, drawn_from="another picture") for p in drawn[8:]))
    assert [change.n for change in hear(pictures=drawn).change_points] == [14, 8]


def test_few_independent_pictures_leave_the_question_open_but_not_the_step() -> None:
    result = hear(pictures=PICTURES[:3] + PICTURES[6:])
    assert [change.with_copies for change in result.change_points] == [True]
    assert "is open" in text(result, "testimony.change.independent")


def test_test_statistics_are_exact_and_say_why() -> None:
    result = hear()
    for name in ("statistic", "p_permutation", "p_formula"):
        value = finding(result, f"testimony.{name}.independent").value
        assert isinstance(value, Exact)
        assert value.why_no_interval


def test_scorers_who_differ_by_half_a_point_agree() -> None:
    result = hear()
    within = finding(result, "testimony.scorers.within_one_point")
    apart = finding(result, "testimony.scorers.mean_difference")
    assert isinstance(within.value, Exact)
    assert isinstance(apart.value, Exact)
    assert (within.value.value, apart.value.value, within.n) == (100.0, 0.5, 14)


def test_a_score_far_from_the_others_is_doubted_but_used() -> None:
    marks = (
        mark(90, "p0", 5.0, "scorer 9"),
        mark(91, "p0", 1.5, "scorer 8"),
        *MARKS[2:],
        mark(92, "p0", 1.5, "scorer 7"),
    )
    (doubt,) = hear(marks=marks).doubts
    assert (doubt.ref.row_id, doubt.kind, doubt.held_out) == ("k90", "scorers far apart", False)


def test_a_copy_older_than_its_original_raises_doubt_on_both() -> None:
    swapped = (*PICTURES[:9], picture(9, 1690, copy_of="p6"), *PICTURES[10:])
    result = hear(pictures=swapped)
    assert {doubt.ref.row_id for doubt in result.doubts} == {"p6", "p9"}
    caveats = finding(result, "testimony.change.independent").caveats
    assert {ref.row_id for caveat in caveats for ref in caveat.rows} == {"p6", "p9"}
    result = hear(accounts=(account(1, 1700), account(2, 1650, copy_of="a1", standing="copied")))
    assert {doubt.ref.row_id for doubt in result.doubts} == {"a1", "a2"}


def test_a_copy_said_to_be_drawn_from_life_is_doubted() -> None:
    claimed = (*PICTURES[:9], picture(9, 1711, copy_of="p6", drawn_from="life"), *PICTURES[10:])
    (doubt,) = hear(pictures=claimed).doubts
    assert (doubt.ref.row_id, doubt.column) == ("p9", "drawnFrom")


def test_a_picture_outside_the_witness_years_is_held_out() -> None:
    late = (*PICTURES, picture(20, 1950))
    result = hear(pictures=late, witness_years=(1640, 1761))
    (doubt,) = result.doubts
    assert (doubt.ref.row_id, doubt.held_out) == ("p20", True)
    assert "p20" not in {one.picture_id for one in result.pictures}


def test_a_picture_set_aside_is_never_used_and_a_kept_one_is() -> None:
    result = hear(set_aside=frozenset({("pictures", "p0")}))
    assert "p0" not in {one.picture_id for one in result.pictures}
    late = (*PICTURES, picture(20, 1950))
    result = hear(pictures=late, witness_years=(1640, 1761), kept=frozenset({("pictures", "p20")}))
    assert result.doubts[0].decided == "keep"
    assert "p20" in {one.picture_id for one in result.pictures}


def test_claims_stand_in_order_of_date_and_weights_are_findings() -> None:
    accounts = (account(1, 1700), account(2, 1650, standing="copied"))
    claims = (claim(1, "a1", 15.0), claim(2, "a2", 20.0), claim(3, "a2", None, "movement"))
    result = hear(accounts=accounts, claims=claims)
    assert [one.claim_id for one in result.claims] == ["c2", "c3", "c1"]
    assert [one.is_copy for one in result.claims] == [True, True, False]
    value = finding(result, "testimony.claim.c1").value
    assert isinstance(value, Exact)
    assert (value.value, value.unit) == (15.0, "kg")
    assert "testimony.claim.c3" not in {one.key for one in result.findings}


def test_claims_of_an_account_set_aside_are_not_heard() -> None:
    result = hear(
        accounts=(account(1, 1700), account(2, 1650)),
        claims=(claim(1, "a1", 15.0), claim(2, "a2", 20.0)),
        set_aside=frozenset({("accounts", "a2")}),
    )
    assert [one.claim_id for one in result.claims] == ["c1"]


def test_a_weight_far_beyond_the_others_is_doubted_but_heard() -> None:
    accounts = tuple(account(number, 1650 + number) for number in range(4))
    claims = tuple(
        claim(number, f"a{number}", value) for number, value in enumerate([15, 17, 20, 150])
    )
    result = hear(accounts=accounts, claims=claims)
    (doubt,) = result.doubts
    assert (doubt.ref.row_id, doubt.held_out) == ("c3", False)
    assert len(result.claims) == 4


def test_the_mount_is_held_against_bone_and_soft_tissue() -> None:
    result = hear(
        mount=(
            measure(1, 262.0, "length of the lower leg"),
            measure(2, 312.0, "length of the lower leg"),
            measure(3, 96.0, "depth of the head", element="skull", code="GH"),
            measure(4, 190.0, "length of the lower leg"),
        )
    )
    right, long, deep, short = result.mount
    assert [check.wrong for check in result.mount] == [False, True, True, True]
    assert right.ratio == pytest.approx(262 / 260, rel=0.005)
    # Mean 250, spread between individuals 10, error of the mean 2, soft tissue 4 to 16.
    half = 1.96 * np.sqrt(10**2 + 2**2 + 12**2 / 12)
    assert right.expected_mm == pytest.approx((260 - half, 260 + half), abs=1.0)
    assert long.words == "Lower leg: 20 % too long for its bone"
    assert deep.words == "Head: 1.6 times as deep as bone and soft tissue allow"
    assert short.words == "Lower leg: 27 % too short for its bone"
    assert right.chance_percent > 50
    assert 0 < long.chance_percent < 1


def test_a_right_mount_is_seldom_called_wrong() -> None:
    """400 measures of right mounts: about 1 % called wrong (binomial 99 % range up to 2.5 %)."""
    rng = np.random.default_rng(8)
    values = rng.normal(250, 10, 400) + rng.uniform(4, 16, 400)
    result = hear(
        mount=tuple(measure(n, value, "length of the leg") for n, value in enumerate(values))
    )
    assert sum(check.wrong for check in result.mount) <= 10


def test_a_measure_without_its_bone_says_so() -> None:
    result = hear(mount=(measure(1, 50.0, "length of the wing", element="ulna"),))
    assert result.mount == ()
    assert "Cannot be judged" in text(result, "testimony.mount.mt1")


def test_a_measure_ten_times_too_long_is_held_out_as_a_slip() -> None:
    mount = (measure(1, 2620.0, "length of the lower leg"),)
    result = hear(mount=mount)
    (doubt,) = result.doubts
    assert (doubt.kind, doubt.held_out) == ("factor of ten", True)
    assert result.mount == ()
    kept = hear(mount=mount, kept=frozenset({("mount_measurements", "mt1")}))
    assert [check.wrong for check in kept.mount] == [True]


def test_an_allowance_as_long_as_the_bone_is_doubted() -> None:
    (doubt,) = hear(
        mount=(measure(1, 262.0, "length of the lower leg", allowance_high_mm=160.0),)
    ).doubts
    assert (doubt.column, doubt.held_out) == ("allowanceHigh", False)


def test_no_witness_at_all_is_not_enough_evidence() -> None:
    with pytest.raises(NotEnoughEvidence):
        hear(pictures=(), marks=())


def test_the_same_seed_gives_the_same_p_values() -> None:
    assert hear().change_points == hear().change_points
