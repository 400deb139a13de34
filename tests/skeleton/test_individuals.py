"""Pairs and counts, what to measure next, and proportions, on made-up flocks."""

import numpy as np
import pytest

from bonewright.findings import RowRef
from bonewright.skeleton.proportions import proportions_of
from bonewright.skeleton.what_next import what_to_measure_next
from bonewright.study.model import Relative, RelativeMeasurement

FEMUR = {"GL": 170.0, "Bp": 42.0, "Bd": 39.0, "SC": 15.5, "CD": 52.0}


def femur(flock, size: float, rng: np.random.Generator, **changes: object) -> str:
    values = {code: v * size * float(np.exp(rng.normal(0, 0.002))) for code, v in FEMUR.items()}
    return flock.bone("femur", values, **changes)


def test_two_loose_bones_of_one_size_far_from_the_rest_are_a_likely_pair(flock) -> None:
    rng = np.random.default_rng(1)
    for number in range(10):
        femur(flock, 0.9 + 0.02 * number, rng, individual_id=f"i{number}")
    left = femur(flock, 1.19, rng, side="left")
    right = femur(flock, 1.19, rng, side="right")
    individuals = flock.average(n_draws=500).individuals
    (pair,) = individuals.pairs
    assert (pair.left.specimen.specimen_id, pair.right.specimen.specimen_id) == (left, right)
    assert pair.probability > 0.5
    assert individuals.n_named == 10


def test_bones_of_two_named_individuals_are_never_paired(flock) -> None:
    rng = np.random.default_rng(2)
    for number in range(8):
        side = "left" if number % 2 else "right"
        femur(flock, 1.0 + 0.001 * number, rng, individual_id=f"i{number}", side=side)
    individuals = flock.average(n_draws=500).individuals
    assert individuals.pairs == ()
    whole = next(c for c in individuals.counts if c.element == "femur" and not c.size_class)
    assert (whole.n_left, whole.n_right, whole.minimum) == (4, 4, 8)


def test_left_and_right_of_one_named_individual_count_once(flock) -> None:
    rng = np.random.default_rng(3)
    for number in range(6):
        for side in ("left", "right"):
            femur(flock, 0.95 + 0.02 * number, rng, individual_id=f"i{number}", side=side)
    whole = next(c for c in flock.average(n_draws=500).individuals.counts if not c.size_class)
    assert (whole.n_known_pairs, whole.minimum) == (6, 6)


def test_the_bone_that_lacks_a_measurement_the_mass_hangs_on_comes_first(random_flock) -> None:
    skeleton = random_flock(6).average(n_draws=500)
    ranked = what_to_measure_next(skeleton, mass_exponents={("femur", "CD"): 2.5})
    first = ranked.in_table[0]
    assert first.code == ("femur", "CD")
    assert first.ref is not None
    gains = [item.mass_gain for item in ranked.in_table]
    assert gains == sorted(gains, reverse=True)
    measured = {(row.specimen_id, row.code) for row in skeleton.sorted_rows.measurements}
    assert all((item.specimen_id, item.code[1]) not in measured for item in ranked.in_table)


def relatives(wing: float) -> tuple[tuple[Relative, ...], tuple[RelativeMeasurement, ...]]:
    """Five species in one build, of sizes 0.2 to 1; ``wing`` is humerus over femur."""
    species, rows = [], []
    for number, size in enumerate((0.2, 0.4, 0.6, 0.8, 1.0)):
        ref = RowRef(table="relatives", row=number + 2, row_id=f"s{number}")
        species.append(
            Relative(
                ref=ref,
                species=f"s{number}",
                family=None,
                locomotion="walker",
                flight="flying",
                body_mass_kg=size,
                n_weighed=3,
                source_id=None,
            )
        )
        for element, value in (("femur", 100.0), ("humerus", 100.0 * wing)):
            row = len(rows) + 2
            rows.append(
                RelativeMeasurement(
                    ref=RowRef(table="relative_measurements", row=row, row_id=f"r{row}"),
                    species=f"s{number}",
                    element=element,
                    code="GL",
                    value_mm=value * size,
                    n_measured=3,
                    source_id=None,
                )
            )
    return tuple(species), tuple(rows)


def flock_of_eight(flock) -> None:
    rng = np.random.default_rng(7)
    for number in range(8):
        size = 1 + 0.03 * rng.standard_normal()
        flock.bone("femur", {"GL": 100 * size, "Bp": 25 * size}, individual_id=f"i{number}")


def test_a_broken_bone_is_given_the_length_it_had(flock) -> None:
    flock_of_eight(flock)
    name = flock.bone("femur", {"Bp": 25 * 1.06}, preservation="broken")
    lost = flock.bone("femur", {}, preservation="broken")  # nothing tells of this one
    skeleton = flock.average(n_draws=1000)
    (length,) = skeleton.fragments
    assert (length.specimen.specimen_id, length.code, length.own) == (
        name,
        ("femur", "GL"),
        ("Bp",),
    )
    low, high = np.quantile(length.draws_mm, [0.025, 0.975])
    assert low < 106 < high < 115
    assert f"skeleton.fragment.{name}.GL" in [finding.key for finding in skeleton.findings]
    assert not any(lost in finding.key for finding in skeleton.findings)


def test_a_bone_of_which_nothing_is_measured_is_ranked_too(flock) -> None:
    flock_of_eight(flock)
    name = flock.bone("femur", {})
    ranked = what_to_measure_next(flock.average(n_draws=500), mass_exponents={})
    assert {item.code[1] for item in ranked.in_table if item.specimen_id == name} == {"GL", "Bp"}


def test_a_bone_that_only_relatives_tell_is_what_the_skeleton_gains_most_from(flock) -> None:
    flock_of_eight(flock)
    _, rows = relatives(1.0)
    name = flock.bone("humerus", {})
    skeleton = flock.average(n_draws=500, relative_measurements=rows)
    assert skeleton.from_relatives is not None
    assert set(skeleton.from_relatives.draws_mm) == {("humerus", "GL")}
    assert "skeleton.from_relatives.humerus.GL" in [f.key for f in skeleton.findings]
    ranked = what_to_measure_next(skeleton, mass_exponents={("femur", "GL"): 3.0})
    first = next(item for item in ranked.in_table if item.skeleton_rank == 1)
    assert (first.specimen_id, first.code) == (name, ("humerus", "GL"))
    assert name in ranked.findings[0].value.text


@pytest.mark.parametrize(("standard", "off"), [("s4", 0.0), ("s1", np.log10(1 / 0.4)), (None, 0.0)])
def test_the_log_size_index_is_the_logarithm_over_the_standard(flock, standard, off) -> None:
    for number in range(6):
        flock.bone("femur", {"GL": 98.0 + number * 0.8}, individual_id=f"i{number}")
    species, rows = relatives(1.0)
    found = proportions_of(
        flock.average(n_draws=500),
        relatives=species,
        relative_measurements=rows,
        standard=standard,
        out=frozenset(),
    )
    (index,) = found.indices
    assert found.chosen == (standard is not None)
    assert np.median(index.draws) == pytest.approx(off, abs=0.006)
    assert len(index.individuals) == 6


def test_a_wing_shorter_than_every_relatives_is_said_to_lie_outside_them(flock) -> None:
    for number in range(6):
        size = 0.97 + 0.01 * number
        flock.bone("femur", {"GL": 100 * size}, individual_id=f"i{number}")
        flock.bone("humerus", {"GL": 50 * size}, individual_id=f"i{number}")
    species, rows = relatives(1.1)
    found = proportions_of(
        flock.average(n_draws=500),
        relatives=species,
        relative_measurements=rows,
        standard=None,
        out=frozenset(),
    )
    (ratio,) = found.ratios
    assert ratio.key == "humerus_over_femur"
    assert np.median(ratio.draws) == pytest.approx(0.5, rel=0.01)
    finding = next(f for f in found.findings if f.key.endswith("humerus_over_femur"))
    assert [caveat.code for caveat in finding.caveats] == ["outside relatives"]
