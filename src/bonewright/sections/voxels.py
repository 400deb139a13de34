"""Properties of sections from voxels: a mask, a photograph or slices of a scan."""

import numpy as np
from numpy.typing import NDArray

from bonewright.sections.edge_of_runs import OuterEdge
from bonewright.sections.runs import find_runs
from bonewright.sections.shape import Integrals, StackProperties, derive
from bonewright.sections.whole_bone import keep_bone

__all__ = ["voxel_properties"]

# Slices worked on together: enough to share the cost of a call, few enough for memory.
_TOGETHER = 64


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
    parts = [
        _few_slices(
            slices[start : start + _TOGETHER],
            threshold=threshold,
            pixel_mm=pixel_mm,
            within_voxels=within_voxels,
        )
        for start in range(0, len(slices), _TOGETHER)
    ]
    return StackProperties.joined(parts)


def _few_slices(
    slices: NDArray[np.generic],
    *,
    threshold: float,
    pixel_mm: tuple[float, float],
    within_voxels: bool,
) -> StackProperties:
    runs = find_runs(slices, threshold, within_voxels=within_voxels)
    bone = keep_bone(runs)
    width, height = pixel_mm
    n_slices, n_rows, n_columns = runs.shape
    runs = bone.runs
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
            mean_perimeter=_perimeter(bone.crossings, width=width, height=height)
            / np.where(bone.marrow_voxels > 0, 2, 1),
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
