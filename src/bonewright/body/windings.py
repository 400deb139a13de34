"""Where a surface passes through itself, found by looking through it along many lines.

Along a straight line each crossing of the surface leads in or out. In a sound solid the
count is never more than one deep and never below nothing. Lengths that lie two deep, where
parts pass through each other, would be counted twice by the volume; lengths below nothing
belong to pockets that are inside out.
"""

import numpy as np
from numpy.typing import NDArray

from bonewright.body.solids import Mesh

__all__ = ["winding_shares"]

_LINES = 96
_CHUNK = 500_000


def winding_shares(mesh: Mesh) -> tuple[float, float]:
    """Look through a closed surface along a grid of lines.

    Returns
    -------
    once : float
        The volume inside, each part counted once, over the signed volume of the surface.
    wrong : float
        Share of the inside that lies more than one deep, or below nothing.

    Notes
    -----
    96 x 96 lines along the shortest extent of the surface, set off the grid of round numbers
    by an irrational part of a step, so that edges of hand-made shapes do not fall on lines.
    """
    size = np.ptp(mesh.vertices_mm, axis=0)
    axis = int(np.argmin(size))
    across = [i for i in range(3) if i != axis]
    low = mesh.vertices_mm.min(axis=0)[across]
    step = size[across] / _LINES
    start = low + step * np.array([0.41421356, 0.61803399])
    lines, depths, ways = [], [], []
    for first in range(0, len(mesh.faces), _CHUNK):
        found = _crossings(mesh, slice(first, first + _CHUNK), axis, across, start, step)
        lines.append(found[0])
        depths.append(found[1])
        ways.append(found[2])
    line, depth, way = np.concatenate(lines), np.concatenate(depths), np.concatenate(ways)
    if not len(line):
        return 1.0, 0.0
    order = np.lexsort((depth, line))
    line, depth, way = line[order], depth[order], way[order]
    level = np.cumsum(way)
    same = line[1:] == line[:-1]
    length = np.where(same, np.diff(depth), 0.0)
    level = level[:-1]
    inside = float(length[level != 0].sum())
    wrong = float(length[(level > 1) | (level < 0)].sum())
    signed = float((length * level).sum())
    if inside <= 0 or signed <= 0:
        return 1.0, 1.0
    return inside / signed, wrong / inside


def _crossings(
    mesh: Mesh,
    faces: slice,
    axis: int,
    across: list[int],
    start: NDArray[np.float64],
    step: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int64]]:
    """Return line, depth and way (1 in, -1 out) of each crossing of the faces with the lines."""
    corners = mesh.vertices_mm[mesh.faces[faces]]
    flat = (corners[:, :, across] - start) / step
    first = np.ceil(flat.min(axis=1)).astype(np.int64)
    last = np.floor(flat.max(axis=1)).astype(np.int64)
    first, last = np.maximum(first, 0), np.minimum(last, _LINES - 1)
    counts = np.maximum(last - first + 1, 0)
    n_lines = counts[:, 0] * counts[:, 1]
    hit = np.flatnonzero(n_lines)
    # One entry for each line that a face's bounding box meets.
    face = np.repeat(hit, n_lines[hit])
    rank = np.arange(len(face)) - np.repeat(np.cumsum(n_lines[hit]) - n_lines[hit], n_lines[hit])
    u = first[face, 0] + rank // counts[face, 1]
    v = first[face, 1] + rank % counts[face, 1]
    a, b, c = flat[face, 0], flat[face, 1], flat[face, 2]
    point = np.stack((u, v), axis=1).astype(np.float64)
    double = _cross(b - a, c - a)
    edge_on = double == 0
    divisor = np.where(edge_on, 1.0, double)
    share_b = _cross(point - a, c - a) / divisor
    share_c = _cross(b - a, point - a) / divisor
    met = ~edge_on & (share_b >= 0) & (share_c >= 0) & (share_b + share_c < 1)
    height = corners[face[met]][:, :, axis]
    depth = (
        height[:, 0]
        + share_b[met] * (height[:, 1] - height[:, 0])
        + share_c[met] * (height[:, 2] - height[:, 0])
    )
    # Seen along the axis, a face that turns anticlockwise leads out; the handedness of the two
    # axes across it changes with the axis.
    sign = -1 if axis == 1 else 1
    way = np.where(sign * double[met] > 0, -1, 1)
    return u[met] * _LINES + v[met], depth, way


def _cross(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
