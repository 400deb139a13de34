"""The outline of a section in a grey picture: an outer ring and its holes."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.sections.shape import Ring

__all__ = ["contour_rings"]

# A hole smaller than this share of the whole is a pore or noise, no cavity of the bone.
_LEAST_HOLE = 0.002


def contour_rings(
    grey: NDArray[np.generic], level: float, *, pixel_mm: tuple[float, float]
) -> tuple[Ring, ...]:
    """Draw the line where grey passes the level, around the largest piece of bone.

    Parameters
    ----------
    grey : (n_rows, n_columns)
        Bright for bone.
    level : float
        Grey value of the edge.
    pixel_mm : (float, float)
        Size of a pixel along a row, and from row to row.

    Returns
    -------
    tuple of rings
        The outer ring, then holes, in mm from the middle of the picture, y upwards. Points
        lie between pixels by linear interpolation.

    Raises
    ------
    NotEnoughEvidence
        If nothing is bright enough.
    """
    import skimage.measure

    find_contours: Any = skimage.measure.find_contours
    values = np.asarray(grey, dtype=np.float64)
    n_rows, n_columns = values.shape
    # A rim of background closes a bone that reaches the frame.
    framed = np.pad(values, 1, constant_values=float(min(values.min(), level - 1)))
    closed = [
        line[:-1] - 1
        for line in find_contours(framed, level, fully_connected="low")
        if len(line) > 3
    ]
    if not closed:
        raise NotEnoughEvidence(
            "No bone was found in the picture.",
            needed=f"an area at least as bright as {level:g}",
            found=f"grey values up to {values.max():g}",
            would_help="a lower threshold, or dark bone marked as such",
        )
    areas = [_area(line) for line in closed]
    outer = int(np.argmax(np.abs(areas)))
    chosen = [closed[outer]]
    for line, area in zip(closed, areas, strict=True):
        large_hole = area * areas[outer] < 0 and abs(area) >= _LEAST_HOLE * abs(areas[outer])
        if large_hole and _inside(line[0], closed[outer]):
            chosen.append(line)
    return tuple(
        tuple(
            (
                float((column - (n_columns - 1) / 2) * pixel_mm[0]),
                float(((n_rows - 1) / 2 - row) * pixel_mm[1]),
            )
            for row, column in line
        )
        for line in chosen
    )


def _area(line: NDArray[np.float64]) -> float:
    row, column = line.T
    return float(column @ np.roll(row, -1) - row @ np.roll(column, -1)) / 2


def _inside(point: NDArray[np.float64], ring: NDArray[np.float64]) -> bool:
    """Count the ring's edges to the right of the point."""
    y, x = point
    y1, x1 = ring.T
    y2, x2 = np.roll(y1, -1), np.roll(x1, -1)
    spans = (y1 > y) != (y2 > y)
    at = x1[spans] + (y - y1[spans]) * (x2[spans] - x1[spans]) / (y2[spans] - y1[spans])
    return bool(np.sum(at > x) % 2)
