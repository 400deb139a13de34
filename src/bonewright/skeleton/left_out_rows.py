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
from bonewright.skeleton.robust_start import RobustStart, robust_start
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES, Pull, ShrinkageTarget

__all__ = ["RowLeftOut", "RowsLeftOut", "expected_from_relatives", "rows_left_out"]

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowsLeftOut:
    """All individuals against the predictions made without each, (n_rows, m) side by side.

    ``there`` says which of the m places a row fills: the first ones, with what
    :class:`RowLeftOut` says of one row. In places not filled all is 0.
    """

    columns: NDArray[np.intp]
    there: NDArray[np.bool_]
    values_ln: NDArray[np.float64]
    mean_ln: NDArray[np.float64]
    covariance_ln: NDArray[np.float64]

    def row(self, number: int) -> RowLeftOut:
        """Return one row alone."""
        places = slice(int(self.there[number].sum()))
        return RowLeftOut(
            columns=self.columns[number, places],
            values_ln=self.values_ln[number, places],
            mean_ln=self.mean_ln[number, places],
            covariance_ln=self.covariance_ln[number, places, places],
        )

    def pulled(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return each value's pull off what is predicted, (n_rows, m), and the precision.

        The precision (n_rows, m, m) is the inverse of the covariance; the pull is the
        precision times the difference from the mean.
        """
        width = np.eye(self.there.shape[1])
        filled = np.where(self.there[:, :, None], self.covariance_ln, width)
        precision = np.linalg.inv(filled)
        off = np.where(self.there, self.values_ln - self.mean_ln, 0.0)
        return np.einsum("nab,nb->na", precision, off), precision


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
    start: RobustStart,
    target: ShrinkageTarget | None,
    expected_ln: NDArray[np.float64] | None,
    pull: Pull | None = None,
) -> RowsLeftOut:
    """Predict every row from all the others; only ``clean`` cells teach the model.

    ``start`` is the first look at the same table.
    """
    centre, sd = start.centre_ln, np.full(len(matrix.codes), UNKNOWN_MEAN_SD)
    if expected_ln is not None:
        told = np.isfinite(expected_ln)
        centre = np.where(told, np.nan_to_num(expected_ln), centre)
        sd = np.where(told, EXPECTED_MEAN_SD, sd)
    covariance = _covariance(matrix.only(clean), target, centre, pull=pull or Pull())
    columns, there, values, error2 = _side_by_side(matrix)
    between = there[:, :, None] & there[:, None, :]
    pairs = columns[:, :, None], columns[:, None, :]
    own = np.where(between, covariance[pairs], 0.0)
    own += error2[:, :, None] * np.eye(columns.shape[1])
    teaches = np.take_along_axis(clean, columns, axis=1) & there
    taught = teaches[:, :, None] & teaches[:, None, :]
    inner = np.where(taught, own, np.eye(columns.shape[1]))
    inverse = np.where(taught, np.linalg.inv(inner), 0.0)
    information = np.diag(1 / sd**2)
    np.add.at(information, pairs, inverse)
    pulled = centre / sd**2
    np.add.at(pulled, columns, np.einsum("nab,nb->na", inverse, values))
    doubt = np.linalg.inv(information)
    mean = doubt @ pulled
    # A row is taken out again by the update that put it in, turned about.
    shared = np.where(between, doubt[pairs], 0.0)
    back = np.where(taught, inner - shared, np.eye(columns.shape[1]))
    to_taught = np.where(teaches[:, :, None] & between, shared, 0.0)
    off = np.where(teaches, values - mean[columns], 0.0)
    solved = np.linalg.solve(back, np.concatenate([off[:, :, None], to_taught], axis=2))
    lost = np.swapaxes(to_taught, 1, 2) @ solved
    return RowsLeftOut(
        columns=columns,
        there=there,
        values_ln=values,
        mean_ln=mean[columns] - lost[:, :, 0],
        covariance_ln=own + shared + lost[:, :, 1:],
    )


def _side_by_side(
    matrix: LnMatrix,
) -> tuple[NDArray[np.intp], NDArray[np.bool_], NDArray[np.float64], NDArray[np.float64]]:
    """Push each row's values to the left: columns, which are there, values, squared errors."""
    width = max(int(matrix.present.sum(axis=1).max(initial=0)), 1)
    columns = np.argsort(~matrix.present, axis=1, kind="stable")[:, :width]
    there = np.take_along_axis(matrix.present, columns, axis=1)
    values = np.take_along_axis(matrix.values_ln, columns, axis=1)
    error2 = np.take_along_axis(matrix.error_sd_ln, columns, axis=1) ** 2
    return columns, there, values, error2


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
