import numpy as np
import pytest

from bonewright.skeleton.joint_model import JointModel
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.next_measurement import NEW_SPECIMEN, rank_next_measurements

CODES = (("femur", "GL"), ("femur", "SC"), ("skull", "GL"))
COVARIANCE = 0.05**2 * np.ones((3, 3)) + np.diag([0.01, 0.02, 0.015]) ** 2
ERROR = 0.004


def known(n, skulls):
    present = np.ones((n, 3), bool)
    present[skulls:, 2] = False
    present[-1, 1] = False
    return LnMatrix(
        rows=tuple(f"bird {number}" for number in range(n)),
        codes=CODES,
        values_ln=np.zeros((n, 3)),
        present=present,
        error_sd_ln=np.full((n, 3), ERROR),
    )


def model():
    return JointModel(
        codes=CODES,
        mean_ln=np.zeros(3),
        covariance_ln=COVARIANCE,
        mean_covariance_ln=COVARIANCE,
        states=(),
        two_sizes=False,
        animals=6.0,
    )


def doubt_of_means(present):
    information = np.zeros((3, 3))
    for kept in present:
        inner = COVARIANCE[np.ix_(kept, kept)] + ERROR**2 * np.eye(kept.sum())
        information[np.ix_(kept, kept)] += np.linalg.inv(inner)
    return np.linalg.inv(information)


@pytest.mark.parametrize("aim", [None, np.array([0.3, 2.1, 0.0])])
def test_the_gain_is_what_refitting_with_the_value_would_bring(aim) -> None:
    matrix = known(6, 2)
    ranked = rank_next_measurements(
        model(),
        matrix,
        can_be_measured=np.ones((6, 3), bool),
        new_specimens_of=CODES,
        error_sd_ln=ERROR,
        aim=aim,
    )
    assert len(ranked) == 5 + 3
    before = doubt_of_means(matrix.present)
    for item in ranked:
        present = matrix.present.copy()
        column = CODES.index(item.code)
        if item.row == NEW_SPECIMEN:
            present = np.vstack([present, np.arange(3) == column])
        else:
            present[matrix.rows.index(item.row), column] = True
        after = doubt_of_means(present)
        assert item.skeleton_gain == pytest.approx(1 - np.trace(after) / np.trace(before))
        if aim is not None:
            assert item.aim_gain == pytest.approx(1 - aim @ after @ aim / (aim @ before @ aim))
    gains = [item.skeleton_gain if aim is None else item.aim_gain for item in ranked]
    assert gains == sorted(gains, reverse=True)


def test_the_rarest_bone_comes_first() -> None:
    ranked = rank_next_measurements(
        model(), known(30, 1), can_be_measured=np.ones((30, 3), bool), error_sd_ln=ERROR
    )
    assert ranked[0].code == ("skull", "GL")


def test_what_is_measured_already_or_does_not_exist_is_not_proposed() -> None:
    matrix = known(6, 2)
    exists = np.zeros((6, 3), bool)
    exists[:3] = True
    ranked = rank_next_measurements(model(), matrix, can_be_measured=exists)
    assert [(item.row, item.code) for item in ranked] == [("bird 2", ("skull", "GL"))]
