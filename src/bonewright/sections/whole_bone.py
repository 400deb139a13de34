"""The bone among the runs of a slice: its largest piece, and the cavities it encloses."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from bonewright.sections.runs import Runs

__all__ = ["WholeBone", "keep_bone"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WholeBone:
    """Runs of the largest piece of bone of each slice.

    ``marrow_voxels`` (n_slices,) is the area it encloses, in voxels; ``crossings`` as in
    :class:`~bonewright.sections.runs.Runs`.
    """

    runs: Runs
    marrow_voxels: NDArray[np.float64]
    crossings: NDArray[np.int64]


def keep_bone(runs: Runs) -> WholeBone:
    """Keep the largest piece of bone of each slice and measure what it encloses.

    Most slices are one ring without specks, and that is quick to see; only the others are
    worked through piece by piece.
    """
    plain, marrow = _plain_rings(runs)
    if plain.all():
        return WholeBone(runs=runs, marrow_voxels=marrow, crossings=runs.crossings)
    keep = plain[runs.piece]
    hard = np.flatnonzero(~keep)
    largest, enclosed = _largest_piece(runs, hard)
    keep[hard[largest]] = True
    marrow = np.where(plain, marrow, enclosed)
    kept = Runs(
        shape=runs.shape,
        piece=runs.piece[keep],
        row=runs.row[keep],
        start=runs.start[keep],
        stop=runs.stop[keep],
        crossings=runs.crossings,
    )
    return WholeBone(
        runs=kept, marrow_voxels=marrow, crossings=_crossings_of_kept(runs, kept, plain)
    )


def _plain_rings(runs: Runs) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Say which slices are one solid or one ring with one cavity, and the cavity's area."""
    n_slices = runs.shape[0]
    same_row = (runs.piece[1:] == runs.piece[:-1]) & (runs.row[1:] == runs.row[:-1])
    first = np.flatnonzero(np.r_[True, ~same_row]) if len(runs.row) else np.zeros(0, np.int64)
    count = np.diff(np.r_[first, len(runs.row)])
    last = first + count - 1
    piece, row = runs.piece[first], runs.row[first]
    left, right = runs.start[first], runs.stop[last]
    hollow = count == 2
    gap_from = np.where(hollow, runs.stop[first], np.inf)
    gap_to = np.where(hollow, runs.start[last], -np.inf)
    bad = count > 2
    # Each row against the next one of its slice.
    a, b = slice(None, -1), slice(1, None)
    joined = piece[b] == piece[a]
    apart = (row[b] != row[a] + 1) | (left[b] > right[a]) | (left[a] > right[b])
    both = hollow[a] & hollow[b]
    split = both & ((gap_from[a] >= gap_to[b]) | (gap_from[b] >= gap_to[a]))
    opens = ~hollow[a] & hollow[b]
    leaks_above = opens & ((left[a] > gap_from[b]) | (right[a] < gap_to[b]))
    closes = hollow[a] & ~hollow[b]
    leaks_below = closes & ((left[b] > gap_from[a]) | (right[b] < gap_to[a]))
    wrong = joined & (apart | split | leaks_above | leaks_below)
    # A cavity that reaches the first or last row of the bone is open there.
    starts = np.r_[True, ~joined]
    ends = np.r_[~joined, True]
    bad |= hollow & (starts[: len(hollow)] | ends[: len(hollow)])
    plain = np.ones(n_slices, dtype=np.bool_)
    plain[piece[bad]] = False
    plain[piece[b][wrong]] = False
    cavities = np.bincount(piece[b][joined & opens], minlength=n_slices)
    plain[cavities > 1] = False
    return plain, _summed(piece, np.where(hollow, gap_to - gap_from, 0.0), n_slices)


def _largest_piece(
    runs: Runs, hard: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Return which of the ``hard`` runs belong to their slice's largest piece.

    Also the area that piece encloses in each slice. Bone voxels that touch at a corner hang
    together; air must share an edge.
    """
    n_slices, n_rows, _ = runs.shape
    piece, row = runs.piece[hard], runs.row[hard]
    start, stop = runs.start[hard], runs.stop[hard]
    label = _pieces(piece * (n_rows + 1) + row, start - 0.5, stop + 0.5)
    size = np.bincount(label, weights=stop - start)
    slice_of = np.zeros(len(size), dtype=np.int64)
    slice_of[label] = piece
    best = np.full(n_slices, -1)
    by_size = np.argsort(size, kind="stable")
    best[slice_of[by_size]] = by_size
    largest = label == best[piece]
    return largest, _enclosed(
        runs.shape, piece[largest], row[largest], start[largest], stop[largest]
    )


def _enclosed(
    shape: tuple[int, int, int],
    piece: NDArray[np.int64],
    row: NDArray[np.int64],
    start: NDArray[np.float64],
    stop: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Measure the air that cannot reach the outside, in voxels, for each slice."""
    n_slices, n_rows, n_columns = shape
    # A line that is never there keeps the last row of a slice from the first of the next.
    lines = n_rows + 1
    line = piece * lines + row
    before = np.r_[True, line[1:] != line[:-1]]
    after = np.r_[line[1:] != line[:-1], True]
    # Air before each run, air after the last of each row, and rows without any bone.
    every = (np.arange(n_slices)[:, None] * lines + np.arange(n_rows)).ravel()
    empty = np.setdiff1d(every, line)
    air_line = np.r_[line, line[after], empty]
    air_start = np.r_[np.where(before, -1.0, np.r_[-1.0, stop[:-1]]), stop[after], empty * 0 - 1.0]
    air_stop = np.r_[start, np.full(after.sum(), n_columns + 0.0), empty * 0 + n_columns + 0.0]
    order = np.lexsort((air_start, air_line))
    air_line, air_start, air_stop = air_line[order], air_start[order], air_stop[order]
    label = _pieces(air_line, air_start, air_stop)
    row_of = air_line % lines
    outside = (air_start <= -1) | (air_stop >= n_columns) | (row_of == 0) | (row_of == n_rows - 1)
    open_air = np.zeros(label.max(initial=-1) + 1, dtype=np.bool_)
    open_air[label[outside]] = True
    inside = ~open_air[label]
    areas = (air_stop - air_start)[inside]
    return _summed(air_line[inside] // lines, areas, n_slices)


def _summed(
    piece: NDArray[np.int64], values: NDArray[np.float64], n_slices: int
) -> NDArray[np.float64]:
    return np.bincount(piece, weights=values, minlength=n_slices).astype(np.float64)


def _pieces(
    line: NDArray[np.int64], start: NDArray[np.float64], stop: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Label stretches that hang together with stretches of the next line they overlap."""
    n_runs = len(line)
    # One ascending number for each end, so that a single search serves all lines.
    width = max(float(stop.max(initial=0.0)), 0.0) - min(float(start.min(initial=0.0)), 0.0) + 4
    begins = line * width + start
    ends = line * width + stop
    low = np.searchsorted(ends, begins + width, side="right")
    high = np.searchsorted(begins, ends + width, side="left")
    many = np.maximum(high - low, 0)
    above = np.repeat(np.arange(n_runs), many)
    below = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many) + np.repeat(low, many)
    graph = coo_array((np.ones(len(above), dtype=np.int8), (above, below)), shape=(n_runs, n_runs))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _crossings_of_kept(runs: Runs, kept: Runs, plain: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Scale the counted crossings of slices with specks by the share of edges kept."""
    n_slices = runs.shape[0]
    before = np.bincount(runs.piece, minlength=n_slices)
    after = np.bincount(kept.piece, minlength=n_slices)
    share = np.where(plain | (before == 0), 1.0, after / np.maximum(before, 1))
    return np.round(runs.crossings * share[:, None]).astype(np.int64)
