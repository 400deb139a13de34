"""A first look at the skeleton that gross mistakes cannot spoil.

Medians over individuals and over the measurements of one individual in turn (Tukey's
median polish). Sizes are not allowed to leave the range that grown animals of one kind
have, so that a lone bone ten times too long shows as ten times too long and not as a giant.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.ln_matrix import LnMatrix

__all__ = ["RobustStart", "medians_where", "robust_start"]

LARGEST_SIZE_LN = 0.2
"""No grown animal is beyond a fifth larger or smaller than the middle: common practice."""

GROSS_LN = 0.5
"""A length off by half as much again is no length of that bone."""

NEAR = 3.5
"""Standard deviations within which a value may teach the first model."""

NORMAL_MAD = 1.4826
"""Makes the median absolute deviation of normal values their standard deviation."""

LEAST_SPREAD_LN = 0.004
"""No measurement varies less than this about its prediction: common practice."""

WEIGHT_OF_COMMON = 6
"""How many values the spread common to all codes counts for in the spread of one."""

FEW = 4
"""Up to this many values the expected mean, if there is one, has a voice in the median."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RobustStart:
    """Centres (n_codes,) of ln lengths, and what is left of each value, (n_rows, n_codes).

    ``spread_ln`` (n_codes,) is the robust standard deviation of what is left.
    """

    centre_ln: NDArray[np.float64]
    residual_ln: NDArray[np.float64]
    spread_ln: NDArray[np.float64]

    @property
    def fit_to_learn_from(self) -> NDArray[np.bool_]:
        """Which cells are near enough to teach a first model; no judgement on the others."""
        return np.abs(self.residual_ln) <= np.minimum(NEAR * self.spread_ln, GROSS_LN)


def robust_start(
    matrix: LnMatrix, *, expected_ln: NDArray[np.float64] | None = None, rounds: int = 8
) -> RobustStart:
    """Find the centre of every code by medians.

    ``expected_ln`` (n_codes,) is what living relatives let expect, NaN where they say
    nothing; it counts as one more value where a code has at most four. Every code needs
    at least one value or an expectation.
    """
    present, values = matrix.present, matrix.values_ln
    counts = present.sum(axis=0)
    # What is expected stands as one more row.
    whole, told = np.vstack([values, np.zeros(len(counts))]), np.vstack([present, counts < 0])
    if expected_ln is not None:
        told[-1] = (counts <= FEW) & np.isfinite(expected_ln)
        whole[-1] = np.nan_to_num(expected_ln)
    size = np.zeros((len(whole), 1))
    known = present.any(axis=1)
    centre = np.zeros(len(counts))
    for _ in range(rounds):
        previous, centre = centre, medians_where(told, whole - size)
        if np.array_equal(centre, previous):
            break
        # Of a code with one value nothing can be learned about that individual's size.
        off = np.where(counts > 1, values - centre, 0.0)
        middle = medians_where(present[known].T, off[known].T)
        size[:-1][known, 0] = np.clip(middle, -LARGEST_SIZE_LN, LARGEST_SIZE_LN)
    residual = np.where(present, values - size[:-1] - centre, 0.0)
    return RobustStart(centre_ln=centre, residual_ln=residual, spread_ln=_spread(residual, present))


def medians_where(told: NDArray[np.bool_], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the median of each column over the cells that are told; infinite over none."""
    ordered = np.sort(np.where(told, values, np.inf), axis=0)
    counts, columns = told.sum(axis=0), np.arange(values.shape[1])
    low, high = ordered[(counts - 1) // 2, columns], ordered[counts // 2, columns]
    return np.asarray(low / 2 + high / 2)


def _spread(residual: NDArray[np.float64], present: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return robust standard deviations, (n_codes,), drawn to their common one where few."""
    counts = present.sum(axis=0)
    sizes = np.abs(residual)
    common = max(NORMAL_MAD * float(np.median(sizes[present])), LEAST_SPREAD_LN)
    own = np.where(counts, NORMAL_MAD * medians_where(present, sizes), 0.0)
    squares = counts * own**2 + WEIGHT_OF_COMMON * common**2
    return np.asarray(np.sqrt(squares / (counts + WEIGHT_OF_COMMON)))
