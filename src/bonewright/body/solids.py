"""Closed meshes as solids: what they hold, and how they join.

Joining, cutting and hulls are done by a solid-modelling library (manifold3d), loaded only
when they are asked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError
from bonewright.quantity import Draws

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = [
    "Mesh",
    "MeshMeasures",
    "joined",
    "mesh_measures",
    "solid_of",
]

_CHUNK = 400_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """A triangle mesh: ``vertices_mm`` (n, 3), ``faces`` (m, 3), anticlockwise from outside."""

    vertices_mm: Draws
    faces: NDArray[np.integer[Any]]

    def mirrored(self) -> "Mesh":
        """Return the mirror image from left to right."""
        return Mesh(vertices_mm=self.vertices_mm * [1, -1, 1], faces=self.faces[:, ::-1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeshMeasures:
    """Signed volume (mm3), area (mm2), centre (3,) mm, second moments (3, 3) about it (mm5)."""

    volume_mm3: float
    area_mm2: float
    centre_mm: Draws
    second_mm5: Draws


def mesh_measures(mesh: Mesh) -> MeshMeasures:
    """Measure a closed mesh by summing tetrahedra from a point amid it.

    Notes
    -----
    Exact for a closed mesh, by the divergence theorem. The faces are taken in chunks, so that
    memory stays small whatever their number. An open mesh gives a number without meaning:
    close it first.
    """
    origin = mesh.vertices_mm.mean(axis=0) if len(mesh.vertices_mm) else np.zeros(3)
    six_volumes, area = 0.0, 0.0
    first, second = np.zeros(3), np.zeros((3, 3))
    for start in range(0, len(mesh.faces), _CHUNK):
        corners = mesh.vertices_mm[mesh.faces[start : start + _CHUNK]] - origin
        a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
        normal = np.cross(b - a, c - a)
        area += float(np.sqrt(np.einsum("ij,ij->i", normal, normal)).sum()) / 2
        six = np.einsum("ij,ij->i", a, normal)
        total = a + b + c
        six_volumes += float(six.sum())
        first += six @ total
        weighted = six[:, None]
        second += (weighted * total).T @ total
        for corner in (a, b, c):
            second += (weighted * corner).T @ corner
    volume = six_volumes / 6
    if volume == 0:
        return MeshMeasures(
            volume_mm3=0.0, area_mm2=area, centre_mm=origin, second_mm5=np.zeros((3, 3))
        )
    centre = first / 24 / volume
    return MeshMeasures(
        volume_mm3=volume,
        area_mm2=area,
        centre_mm=origin + centre,
        second_mm5=second / 120 - volume * np.outer(centre, centre),
    )


def solid_of(mesh: Mesh) -> "Manifold":
    """Hand a closed mesh to the solid-modelling library.

    Raises
    ------
    BonewrightError
        If it is no solid.
    """
    from manifold3d import Error, Manifold
    from manifold3d import Mesh as SolidMesh

    solid = Manifold(
        SolidMesh(
            vert_properties=np.ascontiguousarray(mesh.vertices_mm, dtype=np.float32),
            tri_verts=np.ascontiguousarray(mesh.faces, dtype=np.uint32),
        )
    )
    if solid.status() != Error.NoError:
        raise BonewrightError(
            "A surface of the body is no closed solid.",
            remedy="Look at the hoops of the body plan, or at the scan.",
        )
    return solid


def mesh_of(solid: "Manifold") -> Mesh:
    """Take a mesh back from the solid-modelling library."""
    content = solid.to_mesh()
    return Mesh(
        vertices_mm=np.asarray(content.vert_properties[:, :3], dtype=np.float64),
        faces=np.asarray(content.tri_verts),
    )


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Join closed meshes into one solid; what they share counts once."""
    from manifold3d import Manifold, OpType

    return mesh_of(Manifold.batch_boolean([solid_of(mesh) for mesh in meshes], OpType.Add))
