"""A body of many solids divided so that every bit of it belongs to one segment alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bonewright.body.solids import Mesh, mesh_measures, mesh_of, solid_of
from bonewright.quantity import Draws

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["Part", "divided"]

# Less of a solid than this is lost in the rounding of the corners of meshes.
_LEAST_SHARE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """What belongs to one segment: ``whole`` solid, ``own`` part of it, and its open skin."""

    whole: Mesh
    own: Mesh | None
    volume_mm3: float
    centre_mm: Draws
    skin_mm2: float


def divided(solids: Mapping[str, Sequence[Mesh]]) -> tuple[dict[str, Part], Mesh]:
    """Divide a body among its segments, each volume going to the first segment that holds it.

    Parameters
    ----------
    solids : mapping from segment's label to its closed meshes, those it hangs on first

    Returns
    -------
    parts : dict from label to Part
        The own parts do not overlap; together they are the whole.
    whole : Mesh
    """
    from manifold3d import Manifold, OpType

    whole = Manifold()
    of_label: dict[int, str] = {}
    kept: dict[str, tuple[Manifold, Manifold | None]] = {}
    for label, meshes in solids.items():
        if not meshes:
            continue
        solid = Manifold.batch_boolean([solid_of(mesh) for mesh in meshes], OpType.Add)
        # The library remembers from which solid every triangle of the whole came.
        solid = solid.as_original()
        of_label[solid.original_id()] = label
        piece = solid - whole
        seen = piece.volume() > _LEAST_SHARE * solid.volume()
        kept[label] = (solid, piece if seen else None)
        whole = whole + solid
    skin = _skin_by_label(whole, of_label)
    return {
        label: _part(solid, piece, skin.get(label, 0.0)) for label, (solid, piece) in kept.items()
    }, mesh_of(whole)


def _part(solid: "Manifold", piece: "Manifold | None", skin_mm2: float) -> Part:
    whole = mesh_of(solid)
    own = None if piece is None else mesh_of(piece)
    measured = mesh_measures(whole if own is None else own)
    return Part(
        whole=whole,
        own=own,
        volume_mm3=0.0 if own is None else measured.volume_mm3,
        centre_mm=measured.centre_mm,
        skin_mm2=skin_mm2,
    )


def _skin_by_label(whole: "Manifold", of_label: Mapping[int, str]) -> dict[str, float]:
    """Sum the outer surface by the segment each triangle came from, mm2."""
    content = whole.to_mesh()
    corners = np.asarray(content.vert_properties[:, :3], dtype=np.float64)[
        np.asarray(content.tri_verts)
    ]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.sqrt(np.einsum("ij,ij->i", normal, normal)) / 2
    skin: dict[str, float] = {}
    starts = np.asarray(content.run_index) // 3
    for number, original in enumerate(content.run_original_id):
        label = of_label[int(original)]
        skin[label] = skin.get(label, 0.0) + float(area[starts[number] : starts[number + 1]].sum())
    return skin
