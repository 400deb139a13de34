"""The cut list buys no more stock than the best plan there is."""

import itertools
from collections import Counter

import numpy as np
import pytest

from bonewright.errors import OutsideRange
from bonewright.workshop.cut_list import CutPlan, cut_plan


def every_piece_once(plan: CutPlan, pieces: list[tuple[str, float]]) -> bool:
    return Counter(cut for bar in plan.bars for cut in bar.pieces) == Counter(pieces)


def fewest_bars(lengths: list[float], stock: float, saw: float) -> int:
    """Find the best plan by trying every way to divide the pieces among bars."""
    for count in range(1, len(lengths) + 1):
        for places in itertools.product(range(count), repeat=len(lengths)):
            loads = [0.0] * count
            for place, length in zip(places, lengths, strict=True):
                loads[place] += length + saw
            if max(loads) <= stock + saw + 1e-9:
                return count
    raise AssertionError("no plan")


def test_on_small_cases_the_plan_is_the_best_that_trying_everything_finds() -> None:
    rng = np.random.default_rng(3)
    for _ in range(25):
        lengths = [float(x) for x in rng.integers(15, 70, size=6)]
        pieces = [(f"p{n}", length) for n, length in enumerate(lengths)]
        plan = cut_plan(pieces, [100.0], saw_cut_mm=2.0)
        assert plan.best
        assert len(plan.bars) == fewest_bars(lengths, 100.0, 2.0)
        assert every_piece_once(plan, pieces)


def test_a_case_that_longest_first_gets_wrong_is_solved() -> None:
    # Three bars cut up at random: laid in by size the pieces take four.
    lengths = [51, 24, 25, 4, 91, 5, 15, 67, 18]
    plan = cut_plan([(str(n), float(x)) for n, x in enumerate(lengths)], [100.0], saw_cut_mm=0.0)
    assert len(plan.bars) == 3
    assert plan.best
    assert plan.waste_percent == pytest.approx(0.0, abs=1e-9)


def test_no_bar_is_cut_beyond_its_length_and_the_last_piece_needs_no_cut() -> None:
    plan = cut_plan([("a", 49.0), ("b", 49.0)], [100.0], saw_cut_mm=2.0)
    assert len(plan.bars) == 1
    assert plan.bars[0].left_mm == pytest.approx(0.0)
    tight = cut_plan([("a", 49.5), ("b", 49.5)], [100.0], saw_cut_mm=2.0)
    assert len(tight.bars) == 2
    whole = cut_plan([("a", 100.0)], [100.0], saw_cut_mm=2.0)
    assert len(whole.bars) == 1


def test_of_several_lengths_those_that_waste_least_are_bought() -> None:
    plan = cut_plan([("a", 60.0), ("b", 60.0)], [100.0, 130.0, 250.0], saw_cut_mm=0.0)
    assert [bar.stock_mm for bar in plan.bars] == [130.0]
    assert plan.best


def test_a_piece_longer_than_all_stock_is_named() -> None:
    with pytest.raises(OutsideRange, match=r"spine \(120 mm\)"):
        cut_plan([("spine", 120.0)], [100.0], saw_cut_mm=2.0)


def test_nothing_to_cut_buys_nothing() -> None:
    plan = cut_plan([], [100.0], saw_cut_mm=2.0)
    assert plan.bars == ()
    assert plan.waste_percent == 0.0
