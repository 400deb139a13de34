"""What to measure next: which unmeasured bone would narrow the skeleton, or the mass, most.

A measurement helps twice: its own mean becomes better known, and so do all that go with
it. How much, does not depend on what it will be, so that the gain can be told before the
drawer is opened. The covariance is taken as known, which for single measurements is near
enough; the gains of two measurements of one bone do not add up, since they say much the
same.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.joint_model import JointModel
from bonewright.skeleton.ln_matrix import Code, LnMatrix

__all__ = ["NEW_SPECIMEN", "NextMeasurement", "rank_next_measurements"]

NEW_SPECIMEN = "a specimen not yet in the study"


@dataclass(frozen=True, slots=True, kw_only=True)
class NextMeasurement:
    """One possible measurement and what it would bring.

    ``skeleton_gain`` is the share by which the variance of the mean ln lengths, summed over
    all codes, would fall; ``aim_gain`` the share by which the variance of the aim would
    fall (None without an aim).
    """

    row: str
    code: Code
    skeleton_gain: float
    aim_gain: float | None


def rank_next_measurements(
    model: JointModel,
    matrix: LnMatrix,
    *,
    can_be_measured: NDArray[np.bool_],
    new_specimens_of: Sequence[Code] = (),
    error_sd_ln: float = 0.0,
    aim: NDArray[np.float64] | None = None,
) -> tuple[NextMeasurement, ...]:
    """Rank what could be measured next, best first.

    Parameters
    ----------
    model : JointModel
        Fitted to ``matrix``; its codes must be those of the matrix.
    matrix : LnMatrix
        What is measured already.
    can_be_measured : (n_rows, n_codes) bool
        Bones known to exist; cells already measured are passed over.
    new_specimens_of : sequence of codes
        Codes for which a further, unrelated specimen might be had.
    error_sd_ln : float
        Technical error of measurement, as a share.
    aim : (n_codes,) float
        Weights of the mean ln lengths in what is wanted, as the exponents of an equation
        for body mass. If given, the ranking is by the aim.
    """
    covariance = model.covariance_ln
    p = len(model.codes)
    measured = matrix.present
    information = np.zeros((p, p))
    for present, error in zip(measured, matrix.error_sd_ln, strict=True):
        inner = covariance[np.ix_(present, present)] + np.diag(error[present] ** 2)
        information[np.ix_(present, present)] += np.linalg.inv(inner)
    doubt = np.asarray(np.linalg.inv(information), dtype=np.float64)
    found = []
    for number, row in enumerate(matrix.rows):
        wanted = can_be_measured[number] & ~measured[number]
        if np.any(wanted):
            present, error = measured[number], matrix.error_sd_ln[number]
            inner = covariance[np.ix_(present, present)] + np.diag(error[present] ** 2)
            slopes = np.linalg.solve(inner, covariance[present]).T
            # A new value less what the individual's others predict: linear in the means.
            contrast = np.eye(p)
            contrast[:, present] -= slopes
            left = np.asarray(np.diag(covariance - slopes @ covariance[present]) + error_sd_ln**2)
            gains = _gains(doubt, contrast, left, aim=aim)
            found += _listed(row, model.codes, wanted, gains)
    alone = np.diag(covariance) + error_sd_ln**2
    fresh = np.array([code in set(new_specimens_of) for code in model.codes], dtype=np.bool_)
    found += _listed(NEW_SPECIMEN, model.codes, fresh, _gains(doubt, np.eye(p), alone, aim=aim))
    return tuple(sorted(found, key=lambda item: -_merit(item)))


def _merit(item: NextMeasurement) -> float:
    return item.skeleton_gain if item.aim_gain is None else item.aim_gain


def _gains(
    doubt: NDArray[np.float64],
    contrast: NDArray[np.float64],
    left: NDArray[np.float64],
    *,
    aim: NDArray[np.float64] | None,
) -> tuple[NDArray[np.float64], NDArray[np.float64] | None]:
    """Return the share of variance each of the (p,) measurements would take away."""
    reach = contrast @ doubt
    total = left + (reach * contrast).sum(axis=1)
    skeleton = (reach**2).sum(axis=1) / total / np.trace(doubt)
    if aim is None:
        return skeleton, None
    return skeleton, (reach @ aim) ** 2 / total / float(aim @ doubt @ aim)


def _listed(
    row: str,
    codes: tuple[Code, ...],
    wanted: NDArray[np.bool_],
    gains: tuple[NDArray[np.float64], NDArray[np.float64] | None],
) -> list[NextMeasurement]:
    skeleton, aimed = gains
    return [
        NextMeasurement(
            row=row,
            code=codes[column],
            skeleton_gain=float(skeleton[column]),
            aim_gain=None if aimed is None else float(aimed[column]),
        )
        for column in np.flatnonzero(wanted)
    ]
