"""Living relatives' measurements as a table, for the pattern in which bones vary."""

from collections.abc import Iterable

import numpy as np

from bonewright.skeleton.ln_matrix import Entry, LnMatrix, ln_matrix
from bonewright.skeleton.robust_start import medians_where
from bonewright.study.model import RelativeMeasurement

__all__ = ["relatives_matrix"]

FEWEST_SPECIES = 4
GROSS_LN = 0.7
"""A length twice what the species' others let expect teaches nothing."""


def relatives_matrix(
    rows: Iterable[RelativeMeasurement], *, set_aside: frozenset[tuple[str, str]]
) -> LnMatrix | None:
    """Return species by measurement codes, or None for fewer than four species.

    Rows set aside are left out, and so are lengths about twice or half of what the other
    measurements of their species let expect: they are probably slips, which the step that
    judges relatives names; here they must not teach.
    """
    entries = [
        Entry(row=row.species, code=(row.element, row.code), value_mm=row.value_mm)
        for row in rows
        if (row.ref.table, row.ref.row_id) not in set_aside and row.element != "phalanx"
    ]
    matrix = ln_matrix(entries)
    matrix = matrix.only(np.abs(_residual_ln(matrix)) < GROSS_LN)
    filled = matrix.present.any(axis=1)
    if filled.sum() < FEWEST_SPECIES:
        return None
    codes = np.atleast_1d(matrix.present.any(axis=0))
    return LnMatrix(
        rows=tuple(np.array(matrix.rows)[filled]),
        codes=tuple(code for code, kept in zip(matrix.codes, codes, strict=True) if kept),
        values_ln=matrix.values_ln[np.ix_(filled, codes)],
        present=matrix.present[np.ix_(filled, codes)],
        error_sd_ln=matrix.error_sd_ln[np.ix_(filled, codes)],
    )


def _residual_ln(matrix: LnMatrix) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return what medians over codes and species leave of each value, 0 where there is none."""
    values, present = matrix.values_ln, matrix.present
    size = np.zeros((values.shape[0], 1))
    centre = np.zeros(values.shape[1])
    for _ in range(6):
        centre = medians_where(present, values - size)
        size[:, 0] = medians_where(present.T, (values - centre).T)
    return np.where(present, values - size - centre, 0.0)
