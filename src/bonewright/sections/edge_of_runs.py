"""The outer edge of the bone of each slice, and how far it reaches, finer than a voxel."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from bonewright.sections.runs import Runs
from bonewright.sections.shape import Numbers

__all__ = ["OuterEdge"]

# Half the number of rows sampled on each side of the farthest one.
_REACH = 12
# The part of the edge fitted: as wide, on each side, as this share of its distance.
_WIDTH = 0.3
_FEWEST = 7
_MOST_MOVED_VOXELS = 0.75


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OuterEdge:
    """First and last edge of bone in each row of each slice, (n_slices, n_rows), in mm.

    A row without bone holds the nearest bone row's edges, and ``n_rows_of_bone`` counts the
    others; rows are counted from the first with bone.
    """

    left: NDArray[np.float64]
    right: NDArray[np.float64]
    y: NDArray[np.float64]
    n_rows_of_bone: NDArray[np.int64]
    voxel_mm: float

    @classmethod
    def of(
        cls,
        runs: Runs,
        *,
        start_mm: NDArray[np.float64],
        stop_mm: NDArray[np.float64],
        y_mm: NDArray[np.float64],
    ) -> Self:
        """Collect the outer edge from runs whose ends are given in mm."""
        n_slices = runs.shape[0]
        line = runs.piece * runs.shape[1] + runs.row
        first = np.flatnonzero(np.r_[True, line[1:] != line[:-1]]) if len(line) else line
        last = np.r_[first[1:], len(line)] - 1 if len(line) else line
        piece = runs.piece[first]
        n_rows = np.bincount(piece, minlength=n_slices)
        begins = np.cumsum(n_rows) - n_rows
        # Where a slice has fewer rows than the tallest, its last row stands in.
        tallest = max(int(n_rows.max(initial=0)), 1)
        index = begins[:, None] + np.minimum(np.arange(tallest), np.maximum(n_rows - 1, 0)[:, None])
        if not len(line):
            nothing = np.full((n_slices, 1), np.nan)
            return cls(left=nothing, right=nothing, y=nothing, n_rows_of_bone=n_rows, voxel_mm=1.0)
        index = np.minimum(index, len(first) - 1)
        return cls(
            left=start_mm[first][index],
            right=stop_mm[last][index],
            y=y_mm[first][index],
            n_rows_of_bone=n_rows,
            voxel_mm=_step(y_mm),
        )

    def farthest(self, x: Numbers, y: Numbers) -> NDArray[np.float64]:
        """Return the distance from (x, y), one point a slice, to the farthest edge."""
        column_x, column_y = np.asarray(x)[:, None], np.asarray(y)[:, None]
        farther = self.right - column_x > column_x - self.left
        sideways = np.where(farther, self.right, self.left) - column_x
        distance = np.hypot(sideways, self.y - column_y)
        place = np.argmax(distance, axis=1)[:, None]
        length = np.take_along_axis(distance, place, axis=1)[:, 0]
        dx = np.take_along_axis(sideways, place, axis=1)[:, 0] / length
        dy = np.take_along_axis(self.y - column_y, place, axis=1)[:, 0] / length
        return self.reach(x, y, dx, dy)

    def reach(self, x: Numbers, y: Numbers, dx: Numbers, dy: Numbers) -> NDArray[np.float64]:
        """Return how far the bone reaches from (x, y) in a direction, one of each a slice.

        A piece of an ellipse is fitted to the edge near its farthest place. It may move the
        answer by no more than three quarters of a voxel from the farthest edge found, which
        is taken as it is where the edge is straight or a corner.
        """
        x, y = np.asarray(x)[:, None], np.asarray(y)[:, None]
        dx, dy = np.asarray(dx)[:, None], np.asarray(dy)[:, None]
        side = np.where(dx >= 0, self.right, self.left)
        ahead = (side - x) * dx + (self.y - y) * dy
        top = np.argmax(ahead, axis=1)
        plain = np.take_along_axis(ahead, top[:, None], axis=1)
        # Rows end in the middle of the last row's voxels: half a voxel more along y.
        plain_edge = plain + self.voxel_mm / 2 * np.abs(dy)
        rows, wide = self._rows_near(top, plain)
        points_x = np.concatenate(
            [np.take_along_axis(self.left, rows, axis=1), np.take_along_axis(self.right, rows, 1)],
            axis=1,
        )
        points_y = np.take_along_axis(self.y, rows, axis=1)
        points_y = np.concatenate([points_y, points_y], axis=1)
        forward = (points_x - x) * dx + (points_y - y) * dy
        across = (points_y - y) * dx - (points_x - x) * dy
        return self._vertex(forward, across, plain=plain, plain_edge=plain_edge, wide=wide)

    def _rows_near(
        self, top: NDArray[np.int64], reach_mm: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        wide = _WIDTH * reach_mm
        step = np.maximum(np.nan_to_num(wide) / self.voxel_mm / _REACH, 1.0)
        offsets = np.arange(-_REACH, _REACH + 1)
        rows = top[:, None] + np.round(offsets * step).astype(np.int64)
        most = np.maximum(self.n_rows_of_bone - 1, 0)[:, None]
        return np.clip(rows, 0, most), wide

    def _vertex(
        self,
        forward: NDArray[np.float64],
        across: NDArray[np.float64],
        *,
        plain: NDArray[np.float64],
        plain_edge: NDArray[np.float64],
        wide: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        depth = plain - forward
        near = depth <= 0.3 * wide
        middle = (across * near).sum(1, keepdims=True) / np.maximum(near.sum(1, keepdims=True), 1)
        t = (across - middle) / wide
        weight = np.where(near & (np.abs(t) <= 1.2), 1.0, 0.0)
        t2 = weight * t * t
        ones = np.ones(t.shape[1])
        powers = [weight @ ones, (weight * t) @ ones, t2 @ ones, (t2 * t) @ ones]
        powers.append(np.einsum("ij,ij,ij->i", t2, t, t))
        # The square of the reach of an ellipse is a parabola, its reach is not.
        squared = forward * np.abs(forward)
        sums = [np.einsum("ij,ij->i", part, squared) for part in (weight, weight * t, t2)]
        enough = powers[0] >= _FEWEST
        matrix = np.array([[powers[i + j] for j in range(3)] for i in range(3)])
        matrix = matrix.transpose(2, 0, 1) + 1e-9 * np.eye(3)
        usable = enough & np.isfinite(matrix).all(axis=(1, 2))
        matrix = np.where(usable[:, None, None], matrix, np.eye(3))
        right = np.where(usable[:, None], np.array(sums).T, 0.0)
        level, slope, bend = np.linalg.solve(matrix, right[:, :, None])[:, :, 0].T
        curved = usable & (bend < 0)
        vertex = level - np.where(curved, slope**2 / (4 * np.where(curved, bend, -1.0)), 0.0)
        limit = _MOST_MOVED_VOXELS * self.voxel_mm
        reached = np.sqrt(np.maximum(vertex, 0.0))
        fitted = np.clip(reached, plain[:, 0] - limit, plain_edge[:, 0] + limit)
        return np.asarray(np.where(curved, fitted, plain_edge[:, 0]))


def _step(y_mm: NDArray[np.float64]) -> float:
    steps = np.abs(np.diff(y_mm))
    steps = steps[steps > 0]
    return float(steps.min()) if len(steps) else 1.0
