"""Properties of a cross-section, from the integrals over it.

Coordinates are x mediolateral (side to side, positive lateral) and y anteroposterior (front
to back, positive anterior). The same code serves one section (floats) and a whole stack
(arrays, one value a slice).
"""

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Self, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Integrals",
    "Numbers",
    "Ring",
    "SectionProperties",
    "StackProperties",
    "derive",
    "one_section",
]

Ring = tuple[tuple[float, float], ...]
Numbers: TypeAlias = float | NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Integrals:
    """Integrals over the bone of a section: floats, or arrays of shape (n_sections,).

    ``area`` (mm2) of 1, ``x`` and ``y`` (mm3) of the coordinates, ``xx``, ``yy`` and ``xy``
    (mm4) of their products; all about the origin of the coordinates.
    """

    area: Numbers
    x: Numbers
    y: Numbers
    xx: Numbers
    yy: Numbers
    xy: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionProperties:
    """Properties of one cross-section.

    Second moments are about axes through the centroid: ``second_moment_mediolateral_mm4``
    about the mediolateral axis (resists bending front to back). ``axis_of_greatest_rad`` is
    the angle from the mediolateral axis to the principal axis about which the second moment
    is greatest, above -pi/2 and at most pi/2. Section moduli are from the true extreme
    fibre, the farthest on either side of the axis; ``farthest_fibre_mm`` is the distance
    from the centroid to the farthest point.

    ``whole_area_mm2`` is what the outer edge encloses, marrow space included;
    ``mean_perimeter_mm`` is halfway between the outer and the inner perimeter (the outer one
    of a solid section).
    """

    area_mm2: float
    centroid_mm: tuple[float, float]
    second_moment_mediolateral_mm4: float
    second_moment_anteroposterior_mm4: float
    product_moment_mm4: float
    greatest_moment_mm4: float
    least_moment_mm4: float
    axis_of_greatest_rad: float
    polar_moment_mm4: float
    section_modulus_mediolateral_mm3: float
    section_modulus_anteroposterior_mm3: float
    section_modulus_greatest_mm3: float
    section_modulus_least_mm3: float
    farthest_fibre_mm: float
    whole_area_mm2: float
    mean_perimeter_mm: float

    @property
    def inner_over_outer(self) -> float:
        """Inner over outer diameter K of a round tube with these areas."""
        return float(inner_over_outer(self.area_mm2, self.whole_area_mm2))

    @property
    def relative_cortical_area_percent(self) -> float:
        """Share of the whole section that is bone, in %."""
        return 100 * self.area_mm2 / self.whole_area_mm2

    @property
    def torsion_constant_thin_wall_mm4(self) -> float:
        """Bredt's torsion constant of one closed wall of even thickness."""
        return float(thin_wall(self.area_mm2, self.whole_area_mm2, self.mean_perimeter_mm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StackProperties:
    """Properties of many sections; fields as in :class:`SectionProperties`, (n_sections,).

    ``centroid_mm`` is (n_sections, 2). A slice without bone has area 0 and NaN elsewhere.
    """

    area_mm2: NDArray[np.float64]
    centroid_mm: NDArray[np.float64]
    second_moment_mediolateral_mm4: NDArray[np.float64]
    second_moment_anteroposterior_mm4: NDArray[np.float64]
    product_moment_mm4: NDArray[np.float64]
    greatest_moment_mm4: NDArray[np.float64]
    least_moment_mm4: NDArray[np.float64]
    axis_of_greatest_rad: NDArray[np.float64]
    polar_moment_mm4: NDArray[np.float64]
    section_modulus_mediolateral_mm3: NDArray[np.float64]
    section_modulus_anteroposterior_mm3: NDArray[np.float64]
    section_modulus_greatest_mm3: NDArray[np.float64]
    section_modulus_least_mm3: NDArray[np.float64]
    farthest_fibre_mm: NDArray[np.float64]
    whole_area_mm2: NDArray[np.float64]
    mean_perimeter_mm: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.area_mm2)

    @property
    def inner_over_outer(self) -> NDArray[np.float64]:
        """Inner over outer diameter K of round tubes with these areas."""
        return np.asarray(inner_over_outer(self.area_mm2, self.whole_area_mm2))

    @property
    def torsion_constant_thin_wall_mm4(self) -> NDArray[np.float64]:
        """Bredt's torsion constant of one closed wall of even thickness."""
        return np.asarray(thin_wall(self.area_mm2, self.whole_area_mm2, self.mean_perimeter_mm))

    def section(self, index: int) -> SectionProperties:
        """Return the properties of one section."""
        values = {
            field.name: float(getattr(self, field.name)[index])
            for field in fields(self)
            if field.name != "centroid_mm"
        }
        x, y = self.centroid_mm[index]
        return SectionProperties(centroid_mm=(float(x), float(y)), **values)

    @classmethod
    def joined(cls, parts: "list[Self]") -> Self:
        """Put the sections of several parts one after the other."""
        return cls(
            **{
                field.name: np.concatenate([getattr(part, field.name) for part in parts])
                for field in fields(cls)
            }
        )


def inner_over_outer(area: Numbers, whole_area: Numbers) -> Numbers:
    """Return K, the square root of marrow area over whole area. Source: [CurreyAlexander1985]_."""
    return np.sqrt(np.maximum(1 - area / whole_area, 0.0))


def thin_wall(area: Numbers, whole_area: Numbers, mean_perimeter: Numbers) -> Numbers:
    """Return Bredt's torsion constant, mm4, of one closed wall of even thickness.

    Notes
    -----
    J = 4 A^2 t / s, with A the area inside the wall's middle line, s that line's length and
    t = area / s the mean thickness. Source: [Roark]_. Exact for a thin wall. A thick one
    has more than this gives (a circular tube of K = 0.8 by 1 %, a solid one by half), a wall
    of uneven thickness less: :mod:`bonewright.sections.torsion` solves for either.
    """
    middle_area = whole_area - area / 2
    return 4 * middle_area**2 * area / mean_perimeter**2


def derive(
    integrals: Integrals,
    *,
    reach: Callable[[Numbers, Numbers, Numbers, Numbers], Numbers],
    farthest: Callable[[Numbers, Numbers], Numbers],
    whole_area: Numbers,
    mean_perimeter: Numbers,
) -> dict[str, Numbers]:
    """Derive every property from the integrals and the shape of the outer edge.

    ``reach(x, y, dx, dy)`` returns how far the outer edge reaches from the point (x, y) in
    the unit direction (dx, dy); ``farthest(x, y)`` the distance of its farthest point.
    The result has the fields of :class:`StackProperties`, ``centroid_mm`` as (x, y).
    """
    x, y = integrals.x / integrals.area, integrals.y / integrals.area
    about_x = integrals.yy - integrals.area * y**2
    about_y = integrals.xx - integrals.area * x**2
    product = integrals.xy - integrals.area * x * y
    middle, half = (about_x + about_y) / 2, (about_x - about_y) / 2
    radius = np.hypot(half, product)
    # I about an axis at angle u is middle + half cos 2u - product sin 2u; where both are
    # rounding dust (a circle, a square), every axis is principal and the mediolateral serves.
    dust = radius <= 1e-12 * middle
    angle = np.where(dust, 0.0, np.arctan2(-product, half) / 2)
    angle = np.where(angle <= -np.pi / 2 + 1e-12, np.pi / 2, angle)

    def modulus(moment: Numbers, dx: Numbers, dy: Numbers) -> Numbers:
        return moment / np.maximum(reach(x, y, dx, dy), reach(x, y, -dx, -dy))

    zero, one = np.zeros_like(angle), np.ones_like(angle)
    return {
        "area_mm2": integrals.area,
        "centroid_mm": np.stack([np.asarray(x), np.asarray(y)], axis=-1),
        "second_moment_mediolateral_mm4": about_x,
        "second_moment_anteroposterior_mm4": about_y,
        "product_moment_mm4": product,
        "greatest_moment_mm4": middle + radius,
        "least_moment_mm4": middle - radius,
        "axis_of_greatest_rad": angle,
        "polar_moment_mm4": about_x + about_y,
        "section_modulus_mediolateral_mm3": modulus(about_x, zero, one),
        "section_modulus_anteroposterior_mm3": modulus(about_y, one, zero),
        "section_modulus_greatest_mm3": modulus(middle + radius, -np.sin(angle), np.cos(angle)),
        "section_modulus_least_mm3": modulus(middle - radius, np.cos(angle), np.sin(angle)),
        "farthest_fibre_mm": farthest(x, y),
        "whole_area_mm2": whole_area,
        "mean_perimeter_mm": mean_perimeter,
    }


def one_section(values: dict[str, Numbers]) -> SectionProperties:
    """Turn the result of :func:`derive` for one section into its properties."""
    centroid = np.asarray(values["centroid_mm"])
    rest = {name: float(value) for name, value in values.items() if name != "centroid_mm"}
    return SectionProperties(centroid_mm=(float(centroid[0]), float(centroid[1])), **rest)
