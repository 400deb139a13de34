"""The hardest numbers: each gives a number with its warning, or what would suffice."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from bonewright.pipeline import Run
from bonewright.quantity import Quantity

if TYPE_CHECKING:
    from tests.properties.conftest import Small

LENGTH = "skeleton.mean.femur.GL"
MASS = "relatives.mass.femur.GL"


def _intervals(run: Run) -> dict[str, tuple[float, float]]:
    found = {f.key: f.value for f in run.findings}
    return {k: v.summary().interval95 for k, v in found.items() if isinstance(v, Quantity)}


@pytest.mark.parametrize("n", [1, 2, 3])
def test_one_two_or_three_bones_give_a_wider_interval_than_three_more_like_them(
    base: "Small", run_small: "Callable[[Small], Run]", n: int
) -> None:
    def width(count: int) -> float:
        run = run_small(replace(base, femora_mm=(64.0,) * count))
        low, high = _intervals(run)[LENGTH]
        return high / low

    assert width(n) > width(n + 3) > 1


def test_bones_all_alike_keep_an_interval(
    base: "Small", run_small: "Callable[[Small], Run]"
) -> None:
    low, high = _intervals(run_small(replace(base, femora_mm=(61.0,) * 3)))[
        "skeleton.mean.femur.GL"
    ]
    assert 50 < low < 61 < high < 72


def test_relatives_of_one_mass_give_that_mass(
    base: "Small", run_small: "Callable[[Small], Run]"
) -> None:
    alike = replace(base, relatives=[(mm, 500.0) for mm, _ in base.relatives])
    low, high = _intervals(run_small(alike))[MASS]
    assert low <= 0.5 * (1 + 1e-9)
    assert high >= 0.5 * (1 - 1e-9)


@pytest.mark.parametrize("case", ["one length", "three relatives", "one relative", "nothing"])
def test_too_little_says_what_would_suffice(
    base: "Small", run_small: "Callable[[Small], Run]", case: str
) -> None:
    changed = {
        "one length": replace(base, relatives=[(50.0, grams) for _, grams in base.relatives]),
        "three relatives": replace(base, relatives=base.relatives[:3]),
        "one relative": replace(base, relatives=base.relatives[:1]),
        "nothing": replace(base, femora_mm=(), relatives=()),
    }
    run = run_small(changed[case])
    assert run.relatives is None
    for said in ("Needed:", "Found:", "What would help:"):
        assert said in run.unanswered["relatives"]


@pytest.mark.parametrize("length", ["0", "1", "1e-12", "1e9"])
def test_a_tree_of_branches_of_no_length_or_of_one_star_gives_a_mass(
    base: "Small", run_small: "Callable[[Small], Run]", length: str
) -> None:
    tips = ",".join(f"{name.replace(' ', '_')}:{length}" for name in base.names[:8])
    with_tree = _intervals(run_small(replace(base, tree=f"({tips});")))[MASS]
    # No branch is shared, so what the tree says is what is said without one (lambda is 0).
    without = _intervals(run_small(base))[MASS]
    assert with_tree == pytest.approx(without, rel=0.05)


def test_a_predictor_given_twice_is_no_second_witness(
    base: "Small", run_small: "Callable[[Small], Run]"
) -> None:
    once, twice = _intervals(run_small(base)), _intervals(run_small(replace(base, twin=True)))
    assert np.isfinite([edge for interval in twice.values() for edge in interval]).all()
    low, high = once["judgement.mass"]
    twin_low, twin_high = twice["judgement.mass"]
    assert np.log(twin_high / twin_low) > 0.8 * np.log(high / low)
