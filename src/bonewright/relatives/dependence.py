"""Columns of data that other columns give away."""

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import OutsideRange

__all__ = ["refuse_dependent"]


def refuse_dependent(values: NDArray[np.float64], n_predictors: int) -> None:
    """Refuse columns that the columns before them give away.

    ``values`` (n_rows, n_columns) holds predictors, then responses; what is tested does not
    depend on their units.

    Raises
    ------
    OutsideRange
    """
    columns = np.ascontiguousarray(values.T)  # long rows, which numpy sums fastest
    centred = columns - columns.mean(axis=1, keepdims=True)
    size = np.maximum(np.abs(columns).max(axis=1), 1e-300)
    centred /= size[:, None]
    covariance = centred @ centred.T / columns.shape[1]
    spread = np.sqrt(np.diag(covariance))
    flat = spread <= 1e-12
    unit = np.where(flat, 1.0, spread)
    pivots = _pivots(covariance / np.outer(unit, unit))
    bad = flat | (pivots < 1e-12)
    if np.any(bad[:n_predictors]):
        raise OutsideRange(
            "A predictor is the same for all species, or follows from the other predictors.",
            remedy="Leave that predictor out.",
        )
    if np.any(bad):
        raise OutsideRange(
            "A measurement is the same for all species, or follows exactly from the rest: there"
            " is no scatter to learn from.",
            remedy="Check that the column was not computed from the others.",
        )


def _pivots(correlation: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the share of each column's variance that the columns before it leave over."""
    left = correlation.copy()
    for column in range(left.shape[0]):
        pivot = left[column, column]
        if pivot > 0:
            after = slice(column + 1, None)
            left[after, after] -= np.outer(left[after, column], left[column, after]) / pivot
    return np.diag(left)
