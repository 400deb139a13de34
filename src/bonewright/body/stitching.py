"""Open scans closed again: corners that almost meet are joined, small holes are covered."""

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from bonewright.body.solids import Mesh
from bonewright.errors import OutsideRange

__all__ = ["stitched_mesh"]

_MOST_FACES = 3_000_000
_JOINED_WITHIN = 1e-6
# A hole larger than this part of the scan's size hides what it should be closed with.
_LARGEST_HOLE = 0.15
_MOST_HOLES = 200


def stitched_mesh(mesh: Mesh) -> tuple[Mesh, list[str]]:
    """Close an open mesh, and say how.

    Corners within a millionth of the scan's size are joined, and faces turned alike, by a
    mesh library. Each hole no wider than 15 % of the scan is covered from its middle.

    Raises
    ------
    OutsideRange
        If holes stay, or the mesh is too large to be stitched here.
    """
    if len(mesh.faces) > _MOST_FACES:
        raise OutsideRange(
            f"A scan of {len(mesh.faces):,} triangles is open.".replace(",", "\u202f"),
            remedy="Close its holes in the scanning program, or thin it to below three million"
            " triangles.",
        )
    import trimesh

    size = float(np.ptp(mesh.vertices_mm, axis=0).max())
    loose = trimesh.Trimesh(mesh.vertices_mm, mesh.faces, process=False)
    digits = int(np.ceil(-np.log10(max(size, 1e-300) * _JOINED_WITHIN)))
    loose.merge_vertices(digits_vertex=digits, merge_norm=True, merge_tex=True)
    loose.update_faces(loose.nondegenerate_faces() & loose.unique_faces())
    if not loose.is_winding_consistent:
        trimesh.repair.fix_winding(loose)  # type: ignore[no-untyped-call]
    vertices = np.asarray(loose.vertices, dtype=np.float64)
    faces = np.asarray(loose.faces, dtype=np.int64)
    repairs = ["corners that almost meet joined"]
    rims = _rims(faces)
    if rims is None or len(rims) > _MOST_HOLES:
        raise _open(faces)
    wide = [rim for rim in rims if np.ptp(vertices[rim], axis=0).max() > _LARGEST_HOLE * size]
    if wide:
        raise _open(faces)
    for rim in rims:
        middle = len(vertices)
        vertices = np.vstack((vertices, vertices[rim].mean(axis=0)))
        onward = np.roll(rim, -1)
        cover = np.stack((onward, rim, np.full(len(rim), middle)), axis=1)
        faces = np.vstack((faces, cover))
    if rims:
        noun = "hole" if len(rims) == 1 else "holes"
        repairs.append(f"{len(rims)} small {noun} covered")
    return Mesh(vertices_mm=vertices, faces=faces), repairs


def _lone_edges(faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the directed edges (n, 2) that no face uses the other way."""
    ahead = np.concatenate((faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]))
    span = int(faces.max()) + 1
    there, back = ahead[:, 0] * span + ahead[:, 1], ahead[:, 1] * span + ahead[:, 0]
    return np.asarray(ahead[~np.isin(there, back)])


def _rims(faces: NDArray[np.int64]) -> list[NDArray[np.int64]] | None:
    """Follow the lone edges around each hole; None if they do not make rings."""
    onward: dict[int, list[int]] = defaultdict(list)
    for start, end in _lone_edges(faces):
        onward[int(start)].append(int(end))
    if any(len(ends) != 1 for ends in onward.values()):
        return None
    rims = []
    while onward:
        first = next(iter(onward))
        rim = [first]
        at = onward.pop(first)[0]
        while at != first:
            if at not in onward:
                return None
            rim.append(at)
            at = onward.pop(at)[0]
        rims.append(np.array(rim, dtype=np.int64))
    return rims


def _open(faces: NDArray[np.int64]) -> OutsideRange:
    return OutsideRange(
        f"A scan is open: {len(_lone_edges(faces))} of its edges belong to one triangle only, so"
        " that it encloses no volume.",
        remedy="Fill its holes in the scanning program and export it again.",
    )
