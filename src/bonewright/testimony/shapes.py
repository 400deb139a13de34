"""How alike two marked pictures are, whatever their size, place, turn and facing."""

import math

import numpy as np
from numpy.typing import NDArray

from bonewright.testimony.marks import MarkedPicture

__all__ = ["FEWEST_SHARED", "procrustes_distance", "shape_distances"]

_Array = NDArray[np.float64]

FEWEST_SHARED = 6
_NO_SHAPE = frozenset({"scale start", "scale end"})


def procrustes_distance(first: _Array, second: _Array, *, mirrored: bool = True) -> float:
    """Return the Procrustes distance of two configurations of points, in [0, 1].

    Parameters
    ----------
    first, second : (n_points, 2) float
        The same points in the same order, three or more.
    mirrored : bool
        Whether one of the two may be turned over: prints mirror what they copy.

    Returns
    -------
    float
        Root of the least sum of squares between the two, each centred and of unit size,
        after the best turn and resizing (full Procrustes distance). Dimensionless.

    Notes
    -----
    Source: [Dryden1998]_, chapter 4. In the plane the best turn has a closed form: with
    points as complex numbers z and w, centred and of unit size, the distance is
    sqrt(1 - s^2) with s the modulus of sum z conj(w), and turning over is conjugation.
    """
    z, w = _as_complex(first), _as_complex(second)
    agreement = abs(np.vdot(w, z)) ** 2
    if mirrored:
        agreement = max(agreement, abs(np.vdot(np.conj(w), z)) ** 2)
    return math.sqrt(max(0.0, 1.0 - float(agreement)))


def _as_complex(points: _Array) -> NDArray[np.complex128]:
    z = points[:, 0] + 1j * points[:, 1]
    z = z - z.mean()
    size = float(np.linalg.norm(z))
    return np.asarray(z / size if size > 0 else z, dtype=np.complex128)


def shape_distances(marked: tuple[MarkedPicture, ...]) -> _Array:
    """Return the Procrustes distance of every pair of pictures over the points they share.

    Returns
    -------
    (n, n) float
        Infinite where a pair shares fewer than six points.
    """
    n = len(marked)
    distances = np.full((n, n), np.inf)
    np.fill_diagonal(distances, 0.0)
    for i in range(n):
        for j in range(i):
            shared = sorted((set(marked[i].points) & set(marked[j].points)) - _NO_SHAPE)
            if len(shared) < FEWEST_SHARED:
                continue
            first, second = (np.array([marked[k].points[name] for name in shared]) for k in (i, j))
            distances[i, j] = distances[j, i] = procrustes_distance(first, second)
    return distances
