"""Properties of sections from voxels: a mask, a photograph or slices of a scan."""

import numpy as np
from numpy.typing import NDArray

from bonewright.sections.edge_of_runs import OuterEdge
from bonewright.sections.runs import find_runs
from bonewright.sections.shape import Integrals, StackProperties, derive
from bonewright.sections.whole_bone import WholeBone, keep_bone

__all__ = ["voxel_properties"]

# Slices worked on together: enough to share the cost of a call, few enough for memory.
_TOGETHER = 64
# Pictures of no more rows than this are read between rows too, this many times finer.
_SMALL, _FINER = 500, 4


def voxel_properties(
    slices: NDArray[np.generic],
    *,
    threshold: float = 1.0,
    pixel_mm: tuple[float, float],
    within_voxels: bool = False,
) -> StackProperties:
    """Compute the properties of every slice in one reading of its voxels.

    Parameters
    ----------
    slices : (n_slices, n_rows, n_columns)
        Grey values, bright for bone, or a mask. Columns run along x (lateral), rows against
        y: the first row is the most anterior, as in a picture.
    threshold : float
        Least grey value of bone; 1 for a mask.
    pixel_mm : (float, float)
        Size of a voxel along a row, and from row to row.
    within_voxels : bool
        See :func:`bonewright.sections.runs.find_runs`.

    Returns
    -------
    StackProperties
        Coordinates are from the middle of the slice. Of each slice the largest piece of
        bone is used; cavities it encloses count as marrow.

    Notes
    -----
    Integrals over runs are exact for square voxels. The extreme fibre is fitted to the edge
    near it, and the perimeter counted by Cauchy and Crofton's formula over four directions
    [Crofton]_, so that neither depends on how the shape happens to fall on the grid.
    """
    parts = []
    for start in range(0, len(slices), _TOGETHER):
        few = slices[start : start + _TOGETHER]
        bone = keep_bone(find_runs(few, threshold, within_voxels=within_voxels))
        # Crossings are counted on voxels as they are: Crofton's four directions serve squares.
        marrow = bone.marrow_voxels > 0
        edges = _perimeter(bone.crossings, width=pixel_mm[0], height=pixel_mm[1])
        height = pixel_mm[1]
        if within_voxels and few.shape[1] <= _SMALL:
            height /= _FINER
            bone = keep_bone(find_runs(_finer_rows(few), threshold, within_voxels=True))
        parts.append(
            _properties(
                bone,
                pixel_mm=(pixel_mm[0], height),
                mean_perimeter=edges / np.where(marrow, 2, 1),
            )
        )
    return StackProperties.joined(parts)


def _finer_rows(slices: NDArray[np.generic]) -> NDArray[np.float32]:
    """Put rows between rows by linear interpolation, so that edges lie within rows too."""
    n_rows = slices.shape[1]
    place = np.clip((np.arange(n_rows * _FINER) + 0.5) / _FINER - 0.5, 0, n_rows - 1)
    below = np.minimum(place.astype(np.int64), max(n_rows - 2, 0))
    share = (place - below).astype(np.float32)[:, None]
    grey = np.asarray(slices, dtype=np.float32)
    above = grey[:, np.minimum(below + 1, n_rows - 1)]
    return np.asarray(grey[:, below] * (1 - share) + above * share)


def _properties(
    bone: WholeBone, *, pixel_mm: tuple[float, float], mean_perimeter: NDArray[np.float64]
) -> StackProperties:
    runs = bone.runs
    width, height = pixel_mm
    n_slices, n_rows, n_columns = runs.shape
    start = (runs.start - (n_columns - 1) / 2) * width
    stop = (runs.stop - (n_columns - 1) / 2) * width
    y = np.asarray(((n_rows - 1) / 2 - runs.row) * height, dtype=np.float64)

    def total(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.bincount(runs.piece, weights=values, minlength=n_slices).astype(np.float64)

    length = (stop - start) * height
    twice_x = length * (start + stop)
    integrals = Integrals(
        area=total(length),
        x=total(twice_x) / 2,
        y=total(length * y),
        xx=total(length * (start * start + start * stop + stop * stop)) / 3,
        yy=total(length * (y * y + height**2 / 12)),
        xy=total(twice_x * y) / 2,
    )
    edge = OuterEdge.of(runs, start_mm=start, stop_mm=stop, y_mm=y)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = derive(
            integrals,
            reach=edge.reach,
            farthest=edge.farthest,
            whole_area=np.asarray(integrals.area) + bone.marrow_voxels * width * height,
            mean_perimeter=mean_perimeter,
        )
    return StackProperties(**{name: np.asarray(value) for name, value in values.items()})


def _perimeter(crossings: NDArray[np.int64], *, width: float, height: float) -> NDArray[np.float64]:
    """Return the length of all edges, by counting crossings in four directions."""
    diagonal = np.hypot(width, height)
    slant = float(np.arctan2(height, width))
    # Distance between neighbouring lines of each direction, and the share of all directions
    # that is nearer to it than to the others.
    between = np.array([height, width, width * height / diagonal, width * height / diagonal])
    share = np.array([slant, np.pi / 2 - slant, np.pi / 4, np.pi / 4]) / np.pi
    return np.asarray(np.pi / 2 * (crossings * between * share).sum(axis=1))
