"""Surfaces as files: STL and 3MF for printers, in mm, and GLB for the screen, in metres.

The 3MF is the core of the 3MF Consortium's specification 1.3: one object a piece and its
place on the plate, three small parts in a ZIP. The bytes of every file can be repeated.
"""

import io
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import quoteattr

import numpy as np

from bonewright.study.model import Surface
from bonewright.study.surface_files import STL_FACE

__all__ = ["glb_of", "is_closed", "stl_of", "three_mf_of", "welded"]

Colour = tuple[int, int, int, int]

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_MODEL_TYPE = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
_MODEL_RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_GRID_MM = 1e-4
_EARLIEST = (1980, 1, 1, 0, 0, 0)


def welded(surface: Surface) -> Surface:
    """Bring corners to a grid of 0.0001 mm, corners that fall together being one.

    Readers of a file join corners of equal coordinates; a triangle whose corners so become
    one would leave its neighbours open. A surface that is closed stays closed, or is returned
    as it was.
    """
    grid = np.round(surface.vertices / _GRID_MM).astype(np.int64)
    unique, place = np.unique(grid, axis=0, return_inverse=True)
    faces = place.reshape(-1)[surface.faces]
    flat = (
        (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    )
    joined = Surface(vertices=np.asarray(unique * _GRID_MM, dtype=np.float64), faces=faces[~flat])
    return joined if is_closed(joined) else surface


def is_closed(surface: Surface) -> bool:
    """Say whether every edge is passed once in each direction, by two triangles."""
    faces = surface.faces.astype(np.int64)
    ends = np.concatenate((faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]))
    count = int(faces.max()) + 1 if len(faces) else 0
    forth = np.sort(ends[:, 0] * count + ends[:, 1])
    back = np.sort(ends[:, 1] * count + ends[:, 0])
    return bool(np.all(np.diff(forth) > 0) and np.array_equal(forth, back))


def stl_of(surface: Surface) -> bytes:
    """Write a surface in mm as binary STL; its unit, which the format cannot state, is the mm."""
    surface = welded(surface)
    corners = surface.vertices[surface.faces].astype(np.float32)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    records = np.zeros(len(corners), dtype=STL_FACE)
    records["normal"] = normal / np.where(length > 0, length, 1)
    records["corners"] = corners
    header = b"binary STL, unit mm".ljust(80)
    return header + len(corners).to_bytes(4, "little") + records.tobytes()


def three_mf_of(surfaces: Mapping[str, Surface]) -> bytes:
    """Write named surfaces in mm as one 3MF, unit mm, each where its coordinates put it."""
    objects, items = [], []
    for number, (name, as_given) in enumerate(surfaces.items(), start=1):
        surface = welded(as_given)
        objects.append(
            f'<object id="{number}" name={quoteattr(name)} type="model"><mesh><vertices>'
            + "".join(
                f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>'
                for x, y, z in surface.vertices.tolist()
            )
            + "</vertices><triangles>"
            + "".join(
                f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in surface.faces.tolist()
            )
            + "</triangles></mesh></object>"
        )
        items.append(f'<item objectid="{number}"/>')
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<model unit="millimeter" xml:lang="en-GB" xmlns="{_CORE}"><resources>'
        f"{''.join(objects)}</resources><build>{''.join(items)}</build></model>"
    )
    types = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels"'
        ' ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Default Extension="model" ContentType="{_MODEL_TYPE}"/></Types>'
    )
    relations = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<Relationships xmlns="{_PACKAGE}/relationships">'
        f'<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="{_MODEL_RELATION}"/>'
        "</Relationships>"
    )
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for name, text in (
            ("[Content_Types].xml", types),
            ("_rels/.rels", relations),
            ("3D/3dmodel.model", model),
        ):
            entry = zipfile.ZipInfo(name, date_time=_EARLIEST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text)
    return content.getvalue()


def glb_of(parts: Mapping[str, tuple[Surface, Colour]]) -> bytes:
    """Write named surfaces in mm, x forward and z up, as GLB: in metres with y up.

    Each is given its colour, red, green, blue and opacity out of 255.
    """
    import trimesh
    from trimesh.visual import TextureVisuals
    from trimesh.visual.material import PBRMaterial

    scene = trimesh.Scene()
    for name, (surface, colour) in parts.items():
        # x forward, y left, z up becomes z forward, x left, y up.
        turned = surface.vertices[:, [1, 2, 0]] / 1000.0
        solid = trimesh.Trimesh(turned, np.asarray(surface.faces), process=False)
        # Without a dull material viewers show a solid black.
        material = PBRMaterial(  # type: ignore[no-untyped-call]
            name=name,
            baseColorFactor=colour,
            metallicFactor=0.0,
            roughnessFactor=0.9,
            alphaMode="OPAQUE" if colour[3] == 255 else "BLEND",
        )
        solid.visual = TextureVisuals(material=material)  # type: ignore[no-untyped-call]
        scene.add_geometry(solid, node_name=name, geom_name=name)
    content = scene.export(file_type="glb", include_normals=True)  # type: ignore[no-untyped-call]
    if not isinstance(content, bytes):
        raise TypeError("the mesh library wrote a GLB that is not binary")
    return content
