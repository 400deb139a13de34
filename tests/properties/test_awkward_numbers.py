"""The hardest numbers: each gives a number with its warning, or what would suffice."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from bonewright.findings import Statement
from bonewright.pipeline import Run
from bonewright.quantity import Quantity

if TYPE_CHECKING:
    from tests.properties.conftest import Small

Relatives = Sequence[tuple[float, float]]
LENGTH = "skeleton.mean.femur.GL"
MASS = "relatives.mass.femur.GL"
JOINT = "relatives.mass.joint"
_OFF = np.random.default_rng(4).standard_normal(20)
TWENTY: Relatives = [
    (float(mm), float(0.9e-3 * mm**2.9 * np.exp(0.1 * off)))
    for mm, off in zip(np.geomspace(20, 95, 20).round(2), _OFF, strict=True)
]


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


CASES = {
    "one length": [(50.0, grams) for _, grams in TWENTY],
    "one length but for rounding": [(50 * (1 + 1e-9 * n), g) for n, (_, g) in enumerate(TWENTY)],
    "one length but for one": [(90.0 if n == 3 else 50.0, g) for n, (_, g) in enumerate(TWENTY)],
    "lengths within calliper error, far off": [
        (30 + 0.03 * n, grams) for n, (_, grams) in enumerate(TWENTY)
    ],
    "three relatives": TWENTY[:3],
    "two relatives": TWENTY[:2],
    "one relative": TWENTY[:1],
    "nothing": [],
}


@pytest.mark.parametrize("case", CASES)
def test_too_little_says_what_would_suffice(
    base: "Small", run_small: "Callable[[Small], Run]", case: str
) -> None:
    femora = base.femora_mm if case != "nothing" else ()
    run = run_small(replace(base, femora_mm=femora, relatives=CASES[case]))
    assert run.relatives is None
    for said in ("Needed:", "Found:", "What would help:"):
        assert said in run.unanswered["relatives"]
    assert "judgement" in run.unanswered


def test_one_relative_of_which_only_the_mass_is_known_says_which_rows_are_lacking(
    base: "Small", run_small: "Callable[[Small], Run]"
) -> None:
    run = run_small(replace(base, relatives=base.relatives[:1], masses_only=True))
    assert "rows in relative_measurements.csv" in run.unanswered["relatives"]


def _balanced(names: Sequence[str], inner: float, tip: float) -> str:
    if len(names) == 1:
        return f"{names[0].replace(' ', '_')}:{tip}"
    half = len(names) // 2
    parts = (_balanced(part, inner, tip) for part in (names[:half], names[half:]))
    return f"({','.join(parts)}):{inner}"


def _on_tree(base: "Small", inner: float, tip: float, relatives: Relatives = TWENTY) -> "Small":
    tree = _balanced(base.names[: len(relatives)], inner, tip)
    return replace(base, relatives=relatives, tree=tree[: tree.rindex(":")] + ";")


# Long double would not hold 1e300 squared either: what counts is the shares of the height.
@pytest.mark.parametrize(
    ("inner", "tip"), [(1, 1), (0, 1), (1, 0), (1, 1e-12), (1e-12, 1), (1e-300, 1e-300), (1e300, 0)]
)
def test_whatever_the_branches_lengths_the_mass_is_told_within_what_a_tree_can_move(
    base: "Small", run_small: "Callable[[Small], Run]", inner: float, tip: float
) -> None:
    with_tree = _intervals(run_small(_on_tree(base, inner, tip)))[JOINT]
    without = _intervals(run_small(replace(base, relatives=TWENTY)))[JOINT]
    assert with_tree == pytest.approx(without, rel=0.1)


def test_a_star_is_no_tree(base: "Small", run_small: "Callable[[Small], Run]") -> None:
    with_tree = _intervals(run_small(_on_tree(base, 0, 5)))[JOINT]
    without = _intervals(run_small(replace(base, relatives=TWENTY)))[JOINT]
    assert with_tree == pytest.approx(without, rel=1e-6)


@pytest.mark.parametrize(
    ("case", "word"), [("no length", "branch"), ("on a line", "scatter"), ("one mass", "scatter")]
)
def test_where_bones_together_cannot_tell_it_is_said_why_and_one_bone_stands_in(
    base: "Small", run_small: "Callable[[Small], Run]", case: str, word: str
) -> None:
    length = 0.0 if case == "no length" else 1.0
    grams = {"on a line": lambda mm: 0.9e-3 * mm**2.9, "one mass": lambda _: 500.0}.get(case)
    relatives = TWENTY if grams is None else [(mm, grams(mm)) for mm, _ in TWENTY]
    run = run_small(_on_tree(base, length, length, relatives))
    found = {finding.key: finding for finding in run.findings}
    told = found["relatives.joint"].value
    assert isinstance(told, Statement)
    assert word in told.text
    assert ".." not in told.text
    codes = {caveat.code for caveat in found[MASS].caveats}
    assert ("no scatter" in codes) == (word == "scatter")
    assert "judgement.mass" in found


def test_a_predictor_given_twice_is_no_second_witness(
    base: "Small", run_small: "Callable[[Small], Run]"
) -> None:
    once, twice = _intervals(run_small(base)), _intervals(run_small(replace(base, twin=True)))
    assert np.isfinite([edge for interval in twice.values() for edge in interval]).all()
    low, high = once["judgement.mass"]
    twin_low, twin_high = twice["judgement.mass"]
    assert np.log(twin_high / twin_low) > 0.8 * np.log(high / low)
