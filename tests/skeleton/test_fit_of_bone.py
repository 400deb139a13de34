import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.fit_of_bone import bone_fit, doubtful_cells
from bonewright.skeleton.left_out_rows import expected_from_relatives
from bonewright.skeleton.ln_matrix import LnMatrix

FEMUR = tuple(("femur", code) for code in ("GL", "Lm", "Bp", "SC", "Bd"))
TIBIA = tuple(("tibiotarsus", code) for code in ("GL", "SC", "Bd"))
CODES = FEMUR + TIBIA
MEAN_MM = np.array([172.0, 158.0, 45.0, 17.9, 39.0, 262.0, 15.4, 29.5])


def bones(seed, n=20):
    rng = np.random.default_rng(seed)
    shared = rng.normal(0, 0.04, (n, 1)) + rng.normal(0, 0.01, (n, 8))
    return np.round(MEAN_MM * np.exp(shared), 1)


def table(lengths, present=None):
    present = np.ones(lengths.shape, bool) if present is None else present
    return LnMatrix(
        rows=tuple(f"bird {number}" for number in range(len(lengths))),
        codes=CODES,
        values_ln=np.log(lengths),
        present=present,
        error_sd_ln=np.full(lengths.shape, 0.003),
    )


def said(misfits):
    return {(misfit.row, misfit.code, misfit.kind) for misfit in misfits}


def test_sound_bones_raise_no_doubt() -> None:
    assert sum(len(doubtful_cells(table(bones(seed)))) for seed in range(10)) == 0


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_factor_of_ten_is_found_named_and_its_neighbours_left_alone(factor) -> None:
    lengths = bones(1)
    right = lengths[4, 2]
    lengths[4, 2] *= factor
    (misfit,) = doubtful_cells(table(lengths))
    assert (misfit.row, misfit.code, misfit.kind) == ("bird 4", ("femur", "Bp"), "factor of ten")
    assert misfit.expected_mm == pytest.approx(right, rel=0.05)


def test_two_factors_of_ten_in_one_individual_are_both_named() -> None:
    lengths = bones(2)
    lengths[4, 2] *= 10
    lengths[4, 4] *= 10
    assert said(doubtful_cells(table(lengths))) == {
        ("bird 4", ("femur", "Bp"), "factor of ten"),
        ("bird 4", ("femur", "Bd"), "factor of ten"),
    }


def test_swapped_columns_are_named_on_both_sides() -> None:
    lengths = bones(3)
    lengths[7, [2, 4]] = lengths[7, [4, 2]]
    misfits = doubtful_cells(table(lengths))
    assert said(misfits) == {
        ("bird 7", ("femur", "Bp"), "swapped columns"),
        ("bird 7", ("femur", "Bd"), "swapped columns"),
    }
    assert {misfit.swapped_with for misfit in misfits} == {("femur", "Bp"), ("femur", "Bd")}


def test_swapped_digits_are_told_from_a_factor_of_ten() -> None:
    lengths = bones(4)
    written = f"{lengths[3, 0]:.1f}"
    turned = written[0] + written[2] + written[1] + written[3:]
    assert abs(float(turned) - float(written)) > 10
    lengths[3, 0] = float(turned)
    (misfit,) = doubtful_cells(table(lengths))
    assert (misfit.code, misfit.kind) == (("femur", "GL"), "swapped digits")


def test_a_value_no_slip_explains_is_unlike_the_rest() -> None:
    lengths = bones(5)
    lengths[3, 5] *= 1.35
    (misfit,) = doubtful_cells(table(lengths))
    assert (misfit.code, misfit.kind) == (("tibiotarsus", "GL"), "unlike the rest")
    assert misfit.z > 4.9


def test_a_giant_in_proportion_is_no_mistake() -> None:
    lengths = bones(6)
    lengths[3] *= 1.12
    assert doubtful_cells(table(lengths)) == ()


def test_distances_of_sound_bones_are_about_one_standard_deviation() -> None:
    z = np.concatenate([bone_fit(table(bones(seed, 40))).ravel() for seed in range(5)])
    assert np.std(z) == pytest.approx(1.0, abs=0.12)


def test_a_mistake_in_the_only_value_shows_by_living_relatives() -> None:
    lengths = bones(7)
    lengths[0, 5] *= 10
    present = np.ones(lengths.shape, bool)
    present[1:, 5] = False
    rng = np.random.default_rng(7)
    species = table(
        MEAN_MM * np.exp(rng.uniform(-0.8, 0.0, (20, 1)) + rng.normal(0, 0.08, (20, 8)))
    )
    matrix = table(lengths, present)
    assert doubtful_cells(matrix) == ()
    expected = expected_from_relatives(species, matrix)
    (misfit,) = doubtful_cells(matrix, expected_ln=expected)
    assert (misfit.row, misfit.code) == ("bird 0", ("tibiotarsus", "GL"))
    assert misfit.kind == "factor of ten"


def test_in_many_spoiled_studies_ninety_nine_mistakes_in_a_hundred_are_found() -> None:
    planted = found = sound = alarms = 0
    for seed in range(40):
        rng = np.random.default_rng([8, seed])
        lengths = bones([9, seed])
        wrong = np.zeros(lengths.shape, bool)
        for row in rng.choice(len(lengths), 3, replace=False):
            if rng.random() < 0.5:
                column = rng.integers(8)
                lengths[row, column] *= rng.choice([10, 0.1])
                wrong[row, column] = True
            else:
                pair = [2, 4]
                lengths[row, pair] = lengths[row, pair[::-1]]
                wrong[row, pair] = True
        matrix = table(lengths)
        doubted = np.zeros_like(wrong)
        for misfit in doubtful_cells(matrix):
            doubted[matrix.rows.index(misfit.row), CODES.index(misfit.code)] = True
        planted += wrong.sum()
        found += (wrong & doubted).sum()
        sound += (~wrong).sum()
        alarms += (~wrong & doubted).sum()
    assert found / planted >= 0.99
    assert alarms / sound <= 0.01


def test_two_bones_are_too_few_to_judge() -> None:
    with pytest.raises(NotEnoughEvidence):
        doubtful_cells(table(bones(1, 2)))
