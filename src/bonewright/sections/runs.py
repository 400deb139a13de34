"""Stretches of bone along the rows of a picture, found in one reading of its voxels.

A slice of a million voxels is a few thousand *runs*: unbroken stretches of bone along a row.
Everything a section has to tell follows from where its runs begin and end. They are found
by comparing each voxel with the threshold once, packing the answers into bits, and looking
only at the bits where the answer changes.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Runs", "find_runs"]

_WORD = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Runs of bone in a few slices of one size, in the order of slices, rows and columns.

    ``piece`` (n_runs,) is the slice, ``row`` the row, ``start`` and ``stop`` the edges along
    the row in voxels: voxel j covers j - 0.5 to j + 0.5. ``crossings`` (n_slices, 4) counts
    how often the edge of the bone is crossed along rows, columns and the two diagonals.
    """

    shape: tuple[int, int, int]
    piece: NDArray[np.int64]
    row: NDArray[np.int64]
    start: NDArray[np.float64]
    stop: NDArray[np.float64]
    crossings: NDArray[np.int64]


def find_runs(slices: NDArray[np.generic], threshold: float, *, within_voxels: bool) -> Runs:
    """Find the runs of voxels at or above the threshold.

    Parameters
    ----------
    slices : (n_slices, n_rows, n_columns)
        Grey values or a mask; no more slices than fit in memory several times over.
    threshold : float
        Least grey value of bone.
    within_voxels : bool
        Whether a run's ends are placed between voxels by linear interpolation of the grey
        values (the partial-volume correction of half-maximum thresholds), or halfway.
    """
    n_slices, n_rows, n_columns = slices.shape
    # A spare column of no bone ends every row, so that a whole slice is one stream of bits.
    stride = -(-(n_columns + 1) // _WORD) * _WORD
    buffer = np.zeros((n_rows, stride), dtype=np.bool_)
    inside = buffer[:, :n_columns]
    level = _level(slices.dtype, threshold)
    positions, counts = [], np.zeros((n_slices, 4), dtype=np.int64)
    for index in range(n_slices):
        np.greater_equal(slices[index], level, out=inside)
        words = np.packbits(buffer.reshape(-1), bitorder="little").view("<u8")
        later = _one_later(words)
        found = _bit_positions(words ^ later)
        positions.append(found + index * (n_rows * stride))
        counts[index] = _crossings(
            words.reshape(n_rows, -1), later.reshape(n_rows, -1), along_rows=len(found)
        )
    stream = np.concatenate(positions)
    first, last = stream[0::2], stream[1::2]
    rows_in_all, start = np.divmod(first, stride)
    stop = last - rows_in_all * stride
    piece, row = np.divmod(rows_in_all, n_rows)
    if within_voxels:
        left = _edge(slices, piece, row, inner=start, outer=start - 1, level=threshold)
        right = _edge(slices, piece, row, inner=stop - 1, outer=stop, level=threshold)
    else:
        left, right = start - 0.5, stop - 0.5
    return Runs(
        shape=(n_slices, n_rows, n_columns),
        piece=piece,
        row=row,
        start=left,
        stop=right,
        crossings=counts,
    )


def _level(dtype: np.dtype[Any], threshold: float) -> Any:
    """Bring the threshold to the type of the voxels, so that comparing stays in that type."""
    if dtype == np.bool_:
        return np.bool_(True)
    if np.issubdtype(dtype, np.integer):
        limits = np.iinfo(dtype)
        return dtype.type(min(max(int(np.ceil(threshold)), limits.min), limits.max))
    return dtype.type(threshold)


def _one_later(words: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Move a stream of bits (least significant first) one place towards its end."""
    moved = words << np.uint64(1)
    moved[1:] |= words[:-1] >> np.uint64(63)
    return moved


def _bit_positions(words: NDArray[np.uint64]) -> NDArray[np.int64]:
    """Return the places of the set bits of a stream, ascending."""
    place = np.flatnonzero(words)
    rest = words[place]
    found = []
    one = np.uint64(1)
    while len(place):
        found.append(place * _WORD + np.bitwise_count((rest & (~rest + one)) - one))
        rest = rest & (rest - one)
        more = np.flatnonzero(rest)
        place, rest = place[more], rest[more]
    if not found:
        return np.zeros(0, dtype=np.int64)
    return np.sort(np.concatenate(found), kind="stable")


def _crossings(
    words: NDArray[np.uint64], later: NDArray[np.uint64], *, along_rows: int
) -> NDArray[np.int64]:
    """Count where neighbouring voxels differ along rows, columns and both diagonals.

    ``later`` is ``words`` moved one voxel along the rows; the spare column keeps rows apart.
    """
    above, below = words[:-1], words[1:]
    edges = int(np.bitwise_count(words[0]).sum()) + int(np.bitwise_count(words[-1]).sum())
    down = int(np.bitwise_count(above ^ below).sum()) + edges
    falling = int(np.bitwise_count(later[:-1] ^ below).sum()) + edges
    rising = int(np.bitwise_count(above ^ later[1:]).sum()) + edges
    return np.array([along_rows, down, falling, rising])


def _edge(
    slices: NDArray[np.generic],
    piece: NDArray[np.int64],
    row: NDArray[np.int64],
    *,
    inner: NDArray[np.int64],
    outer: NDArray[np.int64],
    level: float,
) -> NDArray[np.float64]:
    """Place an edge where the grey value passes the level between two neighbouring voxels."""
    n_columns = slices.shape[2]
    beyond = (outer < 0) | (outer >= n_columns)
    grey_in = slices[piece, row, inner].astype(np.float64)
    grey_out = slices[piece, row, np.clip(outer, 0, n_columns - 1)].astype(np.float64)
    drop = grey_in - grey_out
    share = np.where(beyond | (drop <= 0), 0.5, (grey_in - level) / np.where(drop > 0, drop, 1.0))
    return np.asarray(inner + np.clip(share, 0.0, 1.0) * (outer - inner))
