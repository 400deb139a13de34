"""A first look at the skeleton that gross mistakes cannot spoil.

Medians over individuals and over the measurements of one individual in turn (Tukey's
median polish). Sizes are not allowed to leave the range that grown animals of one kind
have, so that a lone bone ten times too long shows as ten times too long and not as a giant.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.ln_matrix import LnMatrix

__all__ = ["GROSS_LN", "RobustStart", "robust_start"]

LARGEST_SIZE_LN = 0.2
"""No grown animal is beyond a fifth larger or smaller than the middle: common practice."""

GROSS_LN = 0.5
"""A length off by half as much again is no length of that bone."""

FEW = 4
"""Up to this many values the expected mean, if there is one, has a voice in the median."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RobustStart:
    """Centres (n_codes,) of ln lengths and what is left of each value, (n_rows, n_codes)."""

    centre_ln: NDArray[np.float64]
    residual_ln: NDArray[np.float64]

    @property
    def gross(self) -> NDArray[np.bool_]:
        """Which cells are off by more than any grown animal could be."""
        return np.abs(self.residual_ln) > GROSS_LN


def robust_start(
    matrix: LnMatrix, *, expected_ln: NDArray[np.float64] | None = None, rounds: int = 8
) -> RobustStart:
    """Find the centre of every code by medians.

    ``expected_ln`` (n_codes,) is what living relatives let expect, NaN where they say
    nothing; it counts as one more value where a code has at most four. Every code needs
    at least one value or an expectation.
    """
    values = np.where(matrix.present, matrix.values_ln, np.nan)
    counts = matrix.present.sum(axis=0)
    prior = np.full((1, values.shape[1]), np.nan)
    if expected_ln is not None:
        prior[0] = np.where(counts <= FEW, expected_ln, np.nan)
    size = np.zeros((values.shape[0], 1))
    known = matrix.present.any(axis=1)
    centre = np.zeros(values.shape[1])
    for _ in range(rounds):
        centre = np.nanmedian(np.vstack([values - size, prior]), axis=0)
        # Of a code with one value nothing can be learned about that individual's size.
        off = np.where(counts > 1, values - centre, np.nan)
        off[:, counts <= 1] = np.where(np.isnan(values[:, counts <= 1]), np.nan, 0.0)
        size[known, 0] = np.clip(
            np.nanmedian(off[known], axis=1), -LARGEST_SIZE_LN, LARGEST_SIZE_LN
        )
    residual = np.where(matrix.present, matrix.values_ln - size - centre, 0.0)
    return RobustStart(centre_ln=centre, residual_ln=residual)
