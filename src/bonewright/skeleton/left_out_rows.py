"""Each individual's measurements as all the others let expect them.

An individual is left out of the means in turn, so that a wrong value cannot vouch for
itself; what its values should be, and how sure that is, follows from the rest. Where a
code is known from hardly anyone, living relatives can say what to expect.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.robust_start import robust_start
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES, Pull, ShrinkageTarget

__all__ = ["RowLeftOut", "expected_from_relatives", "rows_left_out"]

UNKNOWN_MEAN_SD = 1.0
EXPECTED_MEAN_SD = 0.25
"""How far, in ln mm, a mean may lie from what living relatives let expect: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowLeftOut:
    """One individual's values against the prediction made without it.

    ``columns`` (m,) are the codes it has, ``values_ln`` (m,) the values, ``mean_ln`` (m,)
    and ``covariance_ln`` (m, m) the prediction, doubt of the means and error included.
    """

    columns: NDArray[np.intp]
    values_ln: NDArray[np.float64]
    mean_ln: NDArray[np.float64]
    covariance_ln: NDArray[np.float64]

    def leave_one_out(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return z of each value given the row's others, and what they predict, ln mm."""
        inverse = np.linalg.inv(self.covariance_ln)
        pulled = inverse @ (self.values_ln - self.mean_ln)
        precision = np.diag(inverse)
        return pulled / np.sqrt(precision), self.values_ln - pulled / precision

    def part(self, places: NDArray[np.intp]) -> "RowLeftOut":
        """Return the row with only the values at ``places``, in that order."""
        return RowLeftOut(
            columns=self.columns[places],
            values_ln=self.values_ln[places],
            mean_ln=self.mean_ln[places],
            covariance_ln=self.covariance_ln[np.ix_(places, places)],
        )


def expected_from_relatives(relatives: LnMatrix, matrix: LnMatrix) -> NDArray[np.float64]:
    """Return the mean ln lengths that living relatives let expect, (n_codes,).

    The relatives' proportions are carried to the size of the lost animal, which is the
    median over the codes it shares with them. NaN where no relative has the code, and
    everywhere if they share fewer than three codes.
    """
    expected = np.full(len(matrix.codes), np.nan)
    shared = [
        (column, relatives.codes.index(code))
        for column, code in enumerate(matrix.codes)
        if code in relatives.codes
    ]
    if len(shared) < 3:
        return expected
    ours, theirs = (np.array(side) for side in zip(*shared, strict=True))
    fitted = fit_factors(relatives, pull=BETWEEN_SPECIES)
    mean, loading = fitted.mean_ln[theirs], fitted.loading[theirs]
    centre = robust_start(matrix).centre_ln[ours]
    expected[ours] = mean + loading * np.median((centre - mean) / loading)
    return expected


def rows_left_out(
    matrix: LnMatrix,
    clean: NDArray[np.bool_],
    *,
    target: ShrinkageTarget | None,
    expected_ln: NDArray[np.float64] | None,
    pull: Pull | None = None,
) -> list[RowLeftOut]:
    """Predict every row from all the others; only ``clean`` cells teach the model."""
    start = robust_start(matrix, expected_ln=expected_ln)
    centre, sd = start.centre_ln, np.full(len(matrix.codes), UNKNOWN_MEAN_SD)
    if expected_ln is not None:
        told = np.isfinite(expected_ln)
        centre = np.where(told, np.nan_to_num(expected_ln), centre)
        sd = np.where(told, EXPECTED_MEAN_SD, sd)
    covariance = _covariance(matrix.only(clean), target, centre, pull=pull or Pull())
    information = np.diag(1 / sd**2)
    pulled_mean = centre / sd**2
    parts = []
    for values, kept, error in zip(matrix.values_ln, clean, matrix.error_sd_ln, strict=True):
        columns = np.flatnonzero(kept)
        inner = covariance[np.ix_(columns, columns)] + np.diag(error[columns] ** 2)
        inverse = np.linalg.inv(inner)
        parts.append((columns, inverse, inverse @ values[columns]))
        information[np.ix_(columns, columns)] += inverse
        pulled_mean[columns] += parts[-1][2]
    rows = []
    for number, (columns, inverse, pulled) in enumerate(parts):
        without, pull_without = information.copy(), pulled_mean.copy()
        without[np.ix_(columns, columns)] -= inverse
        pull_without[columns] -= pulled
        own = np.flatnonzero(matrix.present[number])
        solved = np.linalg.solve(
            without, np.column_stack([pull_without, np.eye(len(pulled_mean))[:, own]])
        )
        doubt = solved[own, 1:] + np.diag(matrix.error_sd_ln[number, own] ** 2)
        rows.append(
            RowLeftOut(
                columns=own,
                values_ln=matrix.values_ln[number, own],
                mean_ln=solved[own, 0],
                covariance_ln=covariance[np.ix_(own, own)] + doubt,
            )
        )
    return rows


def _covariance(
    clean: LnMatrix, target: ShrinkageTarget | None, centre: NDArray[np.float64], *, pull: Pull
) -> NDArray[np.float64]:
    """Fit the covariance on clean cells; a code without any gets that of its target alone."""
    # One value as uncertain as can be stands in for a code that has lost all of its own.
    lost = ~clean.present.any(axis=0)
    whole = LnMatrix(
        rows=(*clean.rows, "stand-in"),
        codes=clean.codes,
        values_ln=np.vstack([clean.values_ln, np.where(lost, centre, 0.0)]),
        present=np.vstack([clean.present, lost]),
        error_sd_ln=np.vstack([clean.error_sd_ln, np.where(lost, UNKNOWN_MEAN_SD, 0.0)]),
    )
    fitted = fit_factors(whole, target=target, pull=pull, max_rounds=60, tolerance=0.01)
    return fitted.covariance_ln()
