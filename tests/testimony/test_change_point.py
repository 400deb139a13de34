import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.study.model import DateSpan
from bonewright.testimony.change_point import find_change, formula_p, pettitt_statistic

STEP = np.array([1.0, 2, 1, 2, 1, 2, 4, 5, 4, 5, 4, 5])


def years(*values: float, half_span: float = 0.0) -> tuple[DateSpan, ...]:
    return tuple(
        DateSpan(earliest=value - half_span, latest=value + half_span, text=str(value))
        for value in values
    )


def test_k_is_the_largest_difference_of_ranks_by_its_definition() -> None:
    rng = np.random.default_rng(1)
    for _ in range(20):
        values = rng.integers(1, 6, size=15).astype(float)
        by_pairs = [
            abs(sum(np.sign(a - b) for a in values[:k] for b in values[k:]))
            for k in range(1, len(values))
        ]
        assert pettitt_statistic(values)[0] == pytest.approx(max(by_pairs))


def test_a_clear_step_is_found_where_it_is() -> None:
    change = find_change(
        STEP, years(*range(1640, 1652)), with_copies=False, rng=np.random.default_rng(1)
    )
    assert change.statistic == 36
    assert (change.last_before, change.first_after) == (1645, 1646)
    assert (change.mean_before, change.mean_after) == (1.5, 4.5)
    assert change.p_permutation < 0.01
    assert change.p_formula == pytest.approx(formula_p(36, 12))


def test_a_shuffled_series_has_even_p_values() -> None:
    """200 series without change: about 5 % have p below 0.05 (binomial 95 % range 2-8.5 %)."""
    rng = np.random.default_rng(2)
    dates = years(*range(16))
    below = sum(
        find_change(
            rng.integers(1, 6, 16).astype(float), dates, with_copies=False, rng=rng
        ).p_permutation
        < 0.05
        for _ in range(200)
    )
    assert 4 <= below <= 17


def test_the_permutation_p_is_near_the_formula_where_the_formula_is_good() -> None:
    rng = np.random.default_rng(3)
    values = rng.normal(size=60) + np.where(np.arange(60) < 30, 0, 0.8)
    change = find_change(values, years(*range(60)), with_copies=False, rng=rng)
    assert change.p_permutation == pytest.approx(change.p_formula, abs=0.03)


def test_the_order_of_rows_does_not_matter_even_among_equal_dates() -> None:
    dates = years(1, 1, 1, 2, 2, 3, 3, 3, 4, 4)
    scores = np.array([1.0, 3, 2, 2, 1, 4, 5, 4, 3, 5])
    rng = np.random.default_rng(4)
    first = find_change(scores, dates, with_copies=False, rng=np.random.default_rng(5))
    for _ in range(5):
        order = rng.permutation(10)
        again = find_change(
            scores[order],
            tuple(dates[place] for place in order),
            with_copies=False,
            rng=np.random.default_rng(5),
        )
        assert again.statistic == first.statistic
        assert again.last_before == first.last_before
        assert again.mean_before == pytest.approx(first.mean_before)


def test_turning_time_or_scores_round_changes_neither_k_nor_place() -> None:
    dates = years(*range(12))
    scores = np.array([1.0, 2, 1, 3, 2, 2, 4, 5, 3, 4, 4, 5])
    plain, upside_down, backward = (
        find_change(values, dates, with_copies=False, rng=np.random.default_rng(6))
        for values in (scores, 6 - scores, scores[::-1])
    )
    assert plain.statistic == upside_down.statistic == backward.statistic
    assert plain.last_before == upside_down.last_before == 11 - backward.first_after


def test_uncertain_dates_widen_p_and_sure_dates_do_not() -> None:
    sure = find_change(STEP, years(*range(12)), with_copies=False, rng=np.random.default_rng(1))
    assert sure.p_dates == pytest.approx((sure.p_formula, sure.p_formula))
    vague = find_change(
        STEP, years(*range(12), half_span=5), with_copies=False, rng=np.random.default_rng(1)
    )
    assert vague.p_dates[0] < vague.p_dates[1]


def test_scores_all_alike_show_no_change() -> None:
    change = find_change(
        np.full(8, 3.0), years(*range(8)), with_copies=False, rng=np.random.default_rng(1)
    )
    assert (change.statistic, change.p_formula, change.p_permutation) == (0.0, 1.0, 1.0)


@pytest.mark.parametrize("dates", [years(1, 2, 3, 4, 5), years(*[7] * 9), ()])
def test_few_pictures_or_a_single_date_are_not_enough(dates: tuple[DateSpan, ...]) -> None:
    with pytest.raises(NotEnoughEvidence):
        find_change(
            np.arange(len(dates), dtype=float),
            dates,
            with_copies=False,
            rng=np.random.default_rng(1),
        )
