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
    """Some individuals against the predictions made without each, (n_rows, m) side by side.

    ``numbers`` (n_rows,) are their places in the table; ``there`` says which of the m places a
    row fills: the first ones, with what :class:`RowLeftOut` says of one row. In places not
    filled all is 0.
    """

    numbers: NDArray[np.intp]
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
) -> tuple[RowsLeftOut, ...]:
    """Predict every row from all the others; only ``clean`` cells teach the model.

    ``start`` is the first look at the same table. The rows come in groups.
    """
    centre, sd = start.centre_ln, np.full(len(matrix.codes), UNKNOWN_MEAN_SD)
    if expected_ln is not None:
        told = np.isfinite(expected_ln)
        centre = np.where(told, np.nan_to_num(expected_ln), centre)
        sd = np.where(told, EXPECTED_MEAN_SD, sd)
    covariance = _covariance(matrix.only(clean), target, centre, pull=pull or Pull())
    information, pulled = np.diag(1 / sd**2), centre / sd**2
    groups = [
        _Group(matrix, clean, numbers, covariance_ln=covariance)
        for numbers in _of_like_width(matrix.present.sum(axis=1))
    ]
    for group in groups:
        group.teach(information, pulled)
    doubt = np.asarray(np.linalg.inv(information), dtype=np.float64)
    mean = doubt @ pulled
    return tuple(group.left_out(mean, doubt) for group in groups)


def _of_like_width(counts: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Group rows that fill up to 4, 8, 16 ... places, so that few places stay empty."""
    widths = np.ceil(np.log2(np.maximum(counts, 4)))
    return [np.flatnonzero(widths == width) for width in np.unique(widths)]


class _Group:
    """Some rows, each pushed to the left so that they can be worked on side by side."""

    def __init__(
        self,
        matrix: LnMatrix,
        clean: NDArray[np.bool_],
        numbers: NDArray[np.intp],
        *,
        covariance_ln: NDArray[np.float64],
    ) -> None:
        present = matrix.present[numbers]
        width = max(int(present.sum(axis=1).max()), 1)
        self.numbers = numbers
        self.columns = np.argsort(~present, axis=1, kind="stable")[:, :width]
        cells = numbers[:, None], self.columns
        self.there, self.values_ln = matrix.present[cells], matrix.values_ln[cells]
        self.teaches = clean[cells] & self.there
        self.taught = self.teaches[:, :, None] & self.teaches[:, None, :]
        self.between = self.there[:, :, None] & self.there[:, None, :]
        self.pairs = self.columns[:, :, None], self.columns[:, None, :]
        self.empty = np.eye(width)
        self.own = np.where(self.between, covariance_ln[self.pairs], 0.0)
        self.own += matrix.error_sd_ln[cells][:, :, None] ** 2 * self.empty

    def teach(self, information: NDArray[np.float64], pulled: NDArray[np.float64]) -> None:
        """Add what the clean values say of the means."""
        inverse = np.linalg.inv(np.where(self.taught, self.own, self.empty))
        inverse = np.where(self.taught, inverse, 0.0)
        np.add.at(information, self.pairs, inverse)
        np.add.at(pulled, self.columns, np.einsum("nab,nb->na", inverse, self.values_ln))

    def left_out(self, mean: NDArray[np.float64], doubt: NDArray[np.float64]) -> RowsLeftOut:
        """Take each row out of the means again: the update that put it in, turned about."""
        shared = np.where(self.between, doubt[self.pairs], 0.0)
        back = np.where(self.taught, self.own - shared, self.empty)
        of_taught = np.where(self.teaches[:, :, None], shared, 0.0)
        off = np.where(self.teaches, self.values_ln - mean[self.columns], 0.0)
        solved = np.linalg.solve(back, np.concatenate([off[:, :, None], of_taught], axis=2))
        lost = np.swapaxes(of_taught, 1, 2) @ solved
        return RowsLeftOut(
            numbers=self.numbers,
            columns=self.columns,
            there=self.there,
            values_ln=self.values_ln,
            mean_ln=mean[self.columns] - lost[:, :, 0],
            covariance_ln=self.own + shared + lost[:, :, 1:],
        )


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
