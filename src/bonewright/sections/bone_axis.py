"""The long axis of a bone in a stack of slices, found without holding the stack in memory."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.sections.runs import find_runs
from bonewright.sections.threshold import Threshold
from bonewright.sections.whole_bone import keep_bone

__all__ = ["BoneAxis", "SliceSource", "find_bone_axis", "slabs"]

_SLAB_BYTES = 48 * 2**20
_FEWEST_SLICES = 10
# Slices near the ends cut the bone's ends slantwise and say nothing of the axis.
_TRIMMED = 0.15
_STEEPEST_RAD = np.deg2rad(35)


class SliceSource(Protocol):
    """A stack of slices that can be read a few at a time."""

    @property
    def shape(self) -> tuple[int, int, int]:
        """Numbers of slices, rows and columns."""

    @property
    def spacing_mm(self) -> tuple[float, float, float]:
        """Distance from slice to slice, from row to row and from column to column."""

    @property
    def dtype(self) -> np.dtype[np.generic]:
        """Type of the grey values."""

    def read(self, start: int, stop: int) -> NDArray[np.generic]:
        """Return some slices, (stop - start, n_rows, n_columns), bright for bone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoneAxis:
    """A line through the bone, in mm from the first voxel, in the order x, y, z.

    y counts against the rows (upwards in a slice), so that x, y, z are right-handed.
    ``low`` and ``high`` are where the bone begins and ends along ``direction`` from
    ``point``; ``radius_mm`` is the farthest that any bone lies from the axis.
    """

    point_mm: NDArray[np.float64]
    direction: NDArray[np.float64]
    low_mm: float
    high_mm: float
    radius_mm: float

    @property
    def length_mm(self) -> float:
        """Length of the bone along its axis."""
        return self.high_mm - self.low_mm

    @property
    def tilt_rad(self) -> float:
        """Angle between the axis and the direction from slice to slice."""
        return float(np.arccos(min(abs(float(self.direction[2])), 1.0)))


def slabs(source: SliceSource, *, overlap: int = 0) -> Iterator[tuple[int, NDArray[np.generic]]]:
    """Read a stack piece by piece: the number of the first slice, and the slices."""
    n_slices, n_rows, n_columns = source.shape
    each = max(_SLAB_BYTES // max(n_rows * n_columns * source.dtype.itemsize, 1), 1 + overlap)
    for start in range(0, n_slices, each):
        yield start, source.read(start, min(start + each + overlap, n_slices))


def find_bone_axis(source: SliceSource, threshold: Threshold) -> BoneAxis:
    """Fit a line through the middles of the bone in all slices.

    Raises
    ------
    NotEnoughEvidence
        If fewer than ten slices show bone.
    OutsideRange
        If the bone lies more than 35 degrees from the direction from slice to slice.

    Notes
    -----
    The largest piece of bone of each slice is used. A curved bone's axis is the straight line
    nearest to it. In a cone cut aslant the middles lie beside the axis by a constant share of
    the radius, which turns the line by less than a thousandth of a radian in any leg bone.
    """
    n_slices, n_rows, _ = source.shape
    dz, dy, dx = source.spacing_mm
    middles: list[NDArray[np.float64]] = []
    rims: list[NDArray[np.float64]] = []
    for start, slab in slabs(source):
        bone = keep_bone(
            find_runs(slab, threshold.level, within_voxels=threshold.within_voxels)
        ).runs
        z = (bone.piece + start) * dz
        y = (n_rows - 1 - bone.row) * dy
        x_low, x_high = bone.start * dx, bone.stop * dx
        length = x_high - x_low
        moments = [
            np.bincount(bone.piece, weights=weights, minlength=len(slab))
            for weights in (length, length * (x_low + x_high) / 2, length * y)
        ]
        there = moments[0] > 0
        middles.append(
            np.stack(
                [
                    moments[1][there] / moments[0][there],
                    moments[2][there] / moments[0][there],
                    (np.flatnonzero(there) + start) * dz,
                    moments[0][there],
                ],
                axis=1,
            )
        )
        rims.append(_rim(np.stack([x_low, y, z], axis=1), np.stack([x_high, y, z], axis=1)))
    centres = np.concatenate(middles)
    if len(centres) < _FEWEST_SLICES:
        raise NotEnoughEvidence(
            "The bone's axis cannot be found.",
            needed=f"at least {_FEWEST_SLICES} slices that show bone",
            found=f"{len(centres)} of {n_slices}",
            would_help="another threshold, or the whole stack",
        )
    cut = int(_TRIMMED * len(centres))
    used = centres[cut : len(centres) - cut]
    point = used[:, :3].mean(axis=0)
    offsets = used[:, :3] - point
    # x and y are regressed on z, which has no error.
    slope = (offsets[:, 2] @ offsets[:, :2]) / (offsets[:, 2] @ offsets[:, 2])
    direction = np.array([slope[0], slope[1], 1.0])
    direction /= np.linalg.norm(direction)
    if np.arccos(direction[2]) > _STEEPEST_RAD:
        raise OutsideRange(
            "The bone lies more than 35 degrees aslant in the stack.",
            remedy="Export the scan with slices across the bone, or turn the volume first.",
        )
    rim = np.concatenate(rims) - point
    along = rim @ direction
    off = np.sqrt(np.maximum((rim**2).sum(axis=1) - along**2, 0.0))
    return BoneAxis(
        point_mm=point,
        direction=direction,
        low_mm=float(along.min()),
        high_mm=float(along.max()),
        radius_mm=float(off.max()),
    )


def _rim(low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the points of a slab that can be extreme: a few for each slice."""
    if not len(low):
        return low
    points = np.concatenate([low, high])
    keep = []
    for angle in np.linspace(0, 2 * np.pi, 24, endpoint=False):
        height = points[:, 0] * np.cos(angle) + points[:, 1] * np.sin(angle)
        order = np.lexsort((height, points[:, 2]))
        last = np.r_[np.flatnonzero(np.diff(points[order, 2])), len(points) - 1]
        keep.append(order[last])
    return points[np.unique(np.concatenate(keep))]
