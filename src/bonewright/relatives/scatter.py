"""How a species lies off several lines at once."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

__all__ = ["shared_scatter"]

_LEAST_SHARED = 5
_DRAWN_TO_ZERO = 5  # species' worth of weight that no correlation has

Key = tuple[str, str]


def shared_scatter(
    residuals: Mapping[Key, Mapping[str, float]], *, rng: np.random.Generator, n_draws: int
) -> dict[Key, NDArray[np.float64]]:
    """Draw standard normal scatter for each line, correlated as the residuals are.

    A species stout in one leg bone is mostly stout in the others: in one imagined world
    the lost animal lies off all lines together.

    Parameters
    ----------
    residuals : mapping of line to mapping of species to residual
        Residuals of the fits.
    rng, n_draws
        Source and number of draws.

    Returns
    -------
    dict of line to (n_draws,) float
        Each standard normal.

    Notes
    -----
    Correlations are of species that two lines share, drawn a little towards zero; below
    five shared species they are taken for none. Negative eigenvalues, which pairwise
    correlations may have, are cut off.
    """
    keys = list(residuals)
    correlation = np.eye(len(keys))
    for row, first in enumerate(keys):
        for column in range(row):
            second = keys[column]
            shared = [name for name in residuals[first] if name in residuals[second]]
            if len(shared) < _LEAST_SHARED:
                continue
            one = np.array([residuals[first][name] for name in shared])
            other = np.array([residuals[second][name] for name in shared])
            size = float(np.sqrt(np.dot(one, one) * np.dot(other, other)))
            if size > 0:
                weight = len(shared) / (len(shared) + _DRAWN_TO_ZERO)
                value = weight * float(np.dot(one, other)) / size
                correlation[row, column] = correlation[column, row] = value
    values, vectors = np.linalg.eigh(correlation)
    factor = vectors * np.sqrt(np.maximum(values, 0.0))
    factor /= np.sqrt(np.sum(factor**2, axis=1, keepdims=True))
    scatter = rng.standard_normal((n_draws, len(keys))) @ factor.T
    return {key: scatter[:, column] for column, key in enumerate(keys)}
