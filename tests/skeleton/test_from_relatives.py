"""Bones that the lost animal has not left, told by living relatives."""

import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.from_relatives import from_relatives_findings, lengths_from_relatives
from bonewright.skeleton.ln_matrix import LnMatrix

CODES = (("skull", "GL"), ("humerus", "GL"), ("ulna", "GL"), ("femur", "GL"), ("femur", "Bd"))
SKULL, HUMERUS, ULNA, FEMUR, BREADTH = range(5)
MEAN_LN = np.log([150.0, 95.0, 72.0, 165.0, 40.0])


def species_ln(rng, n):
    """Species that differ in size, in wings as wholes, and in every bone by itself."""
    size, wing = rng.normal(-0.5, 0.4, (n, 1)), rng.normal(0, 0.25, (n, 1))
    return MEAN_LN + size + wing * np.array([0, 1, 1, 0, 0]) + rng.normal(0, 0.05, (n, len(CODES)))


def table(values):
    return LnMatrix(
        rows=tuple(f"species {number}" for number in range(len(values))),
        codes=CODES,
        values_ln=values,
        present=np.ones_like(values, bool),
        error_sd_ln=np.zeros_like(values),
    )


def told(values, animal, known, rng):
    known_ln = {CODES[n]: np.full(2_000, animal[n]) for n in known}
    return lengths_from_relatives(table(values), known_ln, rng=rng)


def width(draws):
    low, high = np.quantile(np.log(draws), [0.025, 0.975])
    return high - low


def test_a_bone_nobody_left_has_a_fair_interval() -> None:
    held = []
    for number in range(20):
        rng = np.random.default_rng([18, number])
        values = species_ln(rng, 31)
        draws = told(values[1:], values[0], (HUMERUS, FEMUR, BREADTH), rng).draws_mm
        assert set(draws) == {CODES[SKULL], CODES[ULNA]}
        for code in (SKULL, ULNA):
            low, high = np.quantile(np.log(draws[CODES[code]]), [0.025, 0.975])
            held.append(low <= values[0, code] <= high)
    assert 35 <= sum(held) <= 40


def test_a_humerus_tells_of_the_ulna_since_wings_go_as_wholes() -> None:
    rng = np.random.default_rng(3)
    values = species_ln(rng, 41)
    with_wing = told(values[1:], values[0], (HUMERUS, FEMUR, BREADTH), rng)
    without = told(values[1:], values[0], (FEMUR, BREADTH), rng)
    ulna = CODES[ULNA]
    assert width(with_wing.draws_mm[ulna]) < 0.6 * width(without.draws_mm[ulna])


def test_an_animal_unlike_its_relatives_gets_wider_intervals_and_is_said_to_be_so() -> None:
    rng = np.random.default_rng(4)
    values = species_ln(rng, 41)
    odd = values[0] + np.array([0, 0, 0, 0.6, -0.6])
    like = told(values[1:], values[0], (HUMERUS, FEMUR, BREADTH), rng)
    unlike = told(values[1:], odd, (HUMERUS, FEMUR, BREADTH), rng)
    assert unlike.unlike > 2
    assert width(unlike.draws_mm[CODES[SKULL]]) > 1.5 * width(like.draws_mm[CODES[SKULL]])
    assert "widened" in from_relatives_findings(unlike)[0].how.formula


def test_an_animal_beyond_every_relative_bears_a_caveat() -> None:
    rng = np.random.default_rng(5)
    values = species_ln(rng, 20)
    giant = told(values, MEAN_LN + 1.5, (HUMERUS, FEMUR, BREADTH), rng)
    codes = {caveat.code for caveat in from_relatives_findings(giant)[0].caveats}
    assert codes == {"from relatives only", "beyond relatives"}


def test_too_few_relatives_tell_of_no_further_bone() -> None:
    rng = np.random.default_rng(6)
    with pytest.raises(NotEnoughEvidence):
        told(species_ln(rng, 4), MEAN_LN, (FEMUR,), rng)
