"""Laws that every study obeys, whatever its numbers: scale, order, names, units, draws."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bonewright.pipeline import Run
from bonewright.quantity import Quantity

if TYPE_CHECKING:
    from tests.properties.conftest import Small

LENGTH, MASS = "skeleton.mean.femur.GL", "relatives.mass.femur.GL"
few = settings(
    max_examples=4, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
femora = st.lists(st.floats(40, 90).map(lambda mm: round(mm, 2)), min_size=3, max_size=6)
factors = st.floats(0.5, 1.8).map(lambda k: round(k, 3))


def medians(run: Run) -> dict[str, float]:
    found = {finding.key: finding.value for finding in run.findings}
    return {key: v.summary().median for key, v in found.items() if isinstance(v, Quantity)}


@few
@given(lengths=femora, k=factors)
def test_all_lengths_by_k_give_lengths_by_k_and_the_same_mass(
    base: "Small", run_small: "Callable[[Small], Run]", lengths: list[float], k: float
) -> None:
    small = replace(base, femora_mm=lengths)
    scaled = replace(
        small,
        femora_mm=[k * mm for mm in lengths],
        relatives=[(k * mm, grams) for mm, grams in base.relatives],
    )
    before, after = medians(run_small(small)), medians(run_small(scaled))
    assert after[LENGTH] == pytest.approx(k * before[LENGTH], rel=1e-6)
    assert after[MASS] == pytest.approx(before[MASS], rel=1e-6)


@few
@given(lengths=femora, k=factors)
def test_all_masses_by_k_give_masses_by_k_and_the_same_lengths(
    base: "Small", run_small: "Callable[[Small], Run]", lengths: list[float], k: float
) -> None:
    small = replace(base, femora_mm=lengths)
    scaled = replace(small, relatives=[(mm, k * grams) for mm, grams in base.relatives])
    before, after = medians(run_small(small)), medians(run_small(scaled))
    assert after[LENGTH] == before[LENGTH]
    for key in (MASS, "judgement.mass"):
        assert after[key] == pytest.approx(k * before[key], rel=1e-6)


@few
@given(lengths=femora, names=st.permutations(range(8)))
def test_order_of_rows_names_of_species_and_bones_and_units_change_nothing(
    base: "Small", run_small: "Callable[[Small], Run]", lengths: list[float], names: list[int]
) -> None:
    small = replace(base, femora_mm=lengths)
    before = medians(run_small(small))
    others = (
        replace(small, backwards=True),
        replace(small, names=[small.names[place] for place in names]),
        replace(small, bone_names=[f"AMNA.{n:03d}" for n in range(12)]),
        replace(small, length_unit="cm", mass_unit="kg"),
        replace(small, length_unit="in", mass_unit="lb"),
    )
    for other in others:
        after = medians(run_small(other))
        assert after.keys() == before.keys()
        for key, value in before.items():
            assert after[key] == pytest.approx(value, rel=1e-9), key


@few
@given(lengths=femora, order=st.permutations(range(12)))
def test_bones_named_in_another_order_move_nothing_beyond_chance(
    base: "Small", run_small: "Callable[[Small], Run]", lengths: list[float], order: list[int]
) -> None:
    """Bones draw their noise in the order of their names: the sample is another, of the same."""
    small = replace(base, femora_mm=lengths, relatives=())
    before, after = (
        {f.key: f.value.summary() for f in run.findings if isinstance(f.value, Quantity)}
        for run in (
            run_small(small),
            run_small(replace(small, bone_names=[f"bone-{place:02d}" for place in order])),
        )
    )
    assert after.keys() == before.keys()
    for key, summary in before.items():
        # The median of 300 draws is known to 0.07 of their spread, the difference of two to 0.1.
        assert abs(after[key].median - summary.median) < 0.5 * summary.sd, key


def test_sixteen_times_the_draws_give_a_quarter_of_the_monte_carlo_error(
    base: "Small", run_small: "Callable[[Small], Run]"
) -> None:
    def error(n_draws: int) -> float:
        runs = [run_small(replace(base, n_draws=n_draws, seed=seed)) for seed in range(16)]
        return float(np.std(np.log([medians(run)[MASS] for run in runs]), ddof=1))

    # The standard deviation of 16 medians is itself known within about a fifth, so the ratio
    # of two within about a quarter; twice that on either side.
    assert 0.12 < error(1600) / error(100) < 0.5
