"""Shadows of solids from three sides, and what a plane cuts out of them."""

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
from shapely import MultiPolygon, Polygon

from bonewright.body.solids import Mesh, solid_of
from bonewright.quantity import Draws
from bonewright.workshop.drawing import Line, closed_line
from bonewright.workshop.figure_to_build import Hoop

if TYPE_CHECKING:
    from manifold3d import CrossSection

__all__ = ["VIEWS", "View", "lines_of_shape", "section_in_hoop", "shadow"]

# How far a drawn outline may leave the solid's own corners, mm on paper.
_TOLERANCE_MM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """How the figure is looked at: which axes run to the right and up on paper."""

    title: str
    right: tuple[float, float, float]
    up: tuple[float, float, float]

    def seen(self, points_mm: Draws) -> Draws:
        """Return where points (n, 3) or (3,) of the figure lie on paper, (n, 2) or (2,)."""
        return np.asarray(points_mm @ np.array([self.right, self.up]).T)


# Of the figure's axes: x forward, y to the animal's left, z up.
VIEWS: Final = {
    "side": View(title="From the right side", right=(1, 0, 0), up=(0, 0, 1)),
    "front": View(title="From the front", right=(0, 1, 0), up=(0, 0, 1)),
    "top": View(title="From above", right=(1, 0, 0), up=(0, 1, 0)),
}


# The whole figure is drawn on several sheets and in the booklet.
@lru_cache(maxsize=64)
def shadow(mesh: Mesh, view: View) -> Polygon | MultiPolygon:
    """Return a closed solid's shadow, in mm on paper."""
    right, up = np.array(view.right), np.array(view.up)
    towards = np.cross(right, up)
    turned = mesh.vertices_mm @ np.stack((right, up, towards)).T
    return _shape(solid_of(Mesh(vertices_mm=turned, faces=mesh.faces)).project())


def section_in_hoop(mesh: Mesh, hoop: Hoop) -> Polygon | MultiPolygon:
    """Return what the plane of a hoop cuts out of a solid, in the hoop's plane, mm."""
    local = (mesh.vertices_mm - hoop.centre_mm) @ np.stack((hoop.across, hoop.dorsal, hoop.axis)).T
    if not local[:, 2].min() < 0 < local[:, 2].max():
        return Polygon()
    faces = mesh.faces
    if np.linalg.det(np.stack((hoop.across, hoop.dorsal, hoop.axis))) < 0:
        faces = faces[:, ::-1]
    return _shape(solid_of(Mesh(vertices_mm=local, faces=faces)).slice(0.0))


def _shape(section: "CrossSection") -> Polygon | MultiPolygon:
    shape: Polygon | MultiPolygon = Polygon()
    loops = [Polygon(loop) for loop in section.to_polygons() if len(loop) > 2]
    for loop in sorted(loops, key=lambda loop: -loop.area):
        shape = shape.symmetric_difference(loop.buffer(0))
    return shape.simplify(_TOLERANCE_MM)


def lines_of_shape(shape: Polygon | MultiPolygon, layer: str) -> tuple[Line, ...]:
    """Return a shape's edges as closed lines with their holes."""
    parts = shape.geoms if isinstance(shape, MultiPolygon) else (shape,)
    return tuple(
        closed_line(
            part.exterior.coords[:-1],
            layer,
            holes=[hole.coords[:-1] for hole in part.interiors],
        )
        for part in parts
        if not part.is_empty
    )
