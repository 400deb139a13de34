"""What the figure is made of, segment by segment: clay, foam under clay, or a cast shell."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.study.workshop_rows import BuildMaterial
from bonewright.workshop.amounts import Amount, joined_sources
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild, SegmentToBuild

__all__ = [
    "FILLS",
    "Filling",
    "SegmentFilling",
    "filling_of",
    "fitting_fill",
    "inner_layer_mm3",
    "mass_of_volume",
    "outer_layer_mm3",
]

FILLS: Final = ("clay", "clay on foam", "cast shell")
# Above this volume a figure solid of clay is too heavy to handle and too dear.
_MOST_SOLID_MM3 = 2.5e6
# How evenly a skin or shell is laid: half of the range of its thickness.
_THICKNESS_SPREAD = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentFilling:
    """One segment's materials: volume (mm3) and mass by use."""

    label: str
    volume_mm3: Mapping[str, float]
    mass_kg: Mapping[str, Amount]

    @property
    def total_kg(self) -> Amount:
        """Mass of the segment."""
        return _sum(list(self.mass_kg.values()), how="sum of its materials")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filling:
    """The figure's materials without its armature: ``fill`` is one of :data:`FILLS`.

    ``mass_kg`` is the whole, ``centre_mm`` (3,) its centre of mass.
    """

    fill: str
    segments: tuple[SegmentFilling, ...]
    mass_kg: Amount
    centre_mm: Draws

    def mass_of(self, label: str) -> float:
        """Return the mass of a segment, kg; 0 where nothing of it lies outside the others."""
        return next((s.total_kg.value for s in self.segments if s.label == label), 0.0)

    def used(self, use: str) -> Amount:
        """Return the mass of all material of one use, before waste."""
        parts = [s.mass_kg[use] for s in self.segments if use in s.mass_kg]
        return _sum(parts, how="sum over the segments")


def fitting_fill(figure: FigureToBuild) -> str:
    """Return the filling that suits the figure's size (common practice)."""
    if figure.layer == "skeleton":
        return "cast shell"
    return "clay" if figure.volume_mm3 <= _MOST_SOLID_MM3 else "clay on foam"


def filling_of(figure: FigureToBuild, fill: str, rules: BuildRules) -> Filling:
    """Fill every segment of a figure.

    Parameters
    ----------
    fill : str
        clay: solid; clay on foam: a skin of clay over a core; cast shell: hollow resin. A
        skeleton is cast solid whatever is chosen, for bones are too thin to be hollow.

    Raises
    ------
    OutsideRange
        If there is no such filling.
    """
    if fill not in FILLS:
        raise OutsideRange(
            f"There is no filling '{fill}'.", remedy=f"Choose one of: {', '.join(FILLS)}."
        )
    filled = tuple(
        _segment(segment, fill, rules, solid=figure.layer == "skeleton")
        for segment in figure.segments
        if segment.own is not None
    )
    centres = {segment.label: segment.centre_mm for segment in figure.segments}
    masses = np.array([segment.total_kg.value for segment in filled])
    places = np.array([centres[segment.label] for segment in filled])
    return Filling(
        fill=fill,
        segments=filled,
        mass_kg=_sum([s.total_kg for s in filled], how="sum over the segments"),
        centre_mm=np.asarray(masses @ places / masses.sum()),
    )


def _segment(
    segment: SegmentToBuild, fill: str, rules: BuildRules, *, solid: bool
) -> SegmentFilling:
    whole = segment.volume_mm3
    if solid or fill == "clay":
        use = "resin" if solid else "clay"
        volumes = {use: whole}
        spreads = {use: 0.0}
    elif fill == "clay on foam":
        skin = inner_layer_mm3(whole, segment.skin_mm2, rules.limit("clay skin (mm)"))
        volumes = {"clay": skin, "foam": whole - skin}
        spreads = {"clay": _THICKNESS_SPREAD * (skin < whole), "foam": 0.0}
    else:
        wall = inner_layer_mm3(whole, segment.skin_mm2, rules.limit("shell (mm)"))
        volumes = {"resin": wall}
        spreads = {"resin": _THICKNESS_SPREAD * (wall < whole)}
    kept = {use: volume for use, volume in volumes.items() if volume > 0}
    return SegmentFilling(
        label=segment.label,
        volume_mm3=kept,
        mass_kg={
            use: mass_of_volume(volume, rules.material(use), spread=spreads[use])
            for use, volume in kept.items()
        },
    )


def mass_of_volume(volume_mm3: float, material: BuildMaterial, *, spread: float = 0.0) -> Amount:
    """Return the mass of a volume; ``spread`` is how far the volume may be off, as a share."""
    litres = volume_mm3 * 1e-9
    best = litres * material.density_kg_m3
    below = np.hypot(1 - material.low_kg_m3 / material.density_kg_m3, spread)
    above = np.hypot(material.high_kg_m3 / material.density_kg_m3 - 1, spread)
    return Amount(
        value=best,
        low=best * max(1 - float(below), 0.0),
        high=best * (1 + float(above)),
        unit="kg",
        how=f"volume x density of {material.material}"
        + (f", thickness within {100 * spread:.0f} %" if spread else ""),
        source=material.source,
    )


def inner_layer_mm3(volume_mm3: float, skin_mm2: float, thick_mm: float) -> float:
    """Return the volume of a layer of even thickness inside a surface.

    Notes
    -----
    Reckoned as in a long rod as thick as the part (twice its volume over its skin): the core
    left is V (1 - t / r)^2. Exact for rods; for a ball, whose core shrinks by the cube, it is
    short by less than a tenth where the layer is thin.
    """
    if skin_mm2 <= 0 or volume_mm3 <= 0:
        return 0.0
    radius = 2 * volume_mm3 / skin_mm2
    core = max(1 - thick_mm / radius, 0.0)
    return float(volume_mm3 * (1 - core**2))


def outer_layer_mm3(volume_mm3: float, skin_mm2: float, thick_mm: float) -> float:
    """Return the volume of a layer of even thickness outside a surface, as for a long rod."""
    if skin_mm2 <= 0 or volume_mm3 <= 0:
        return 0.0
    radius = 2 * volume_mm3 / skin_mm2
    return float(volume_mm3 * ((1 + thick_mm / radius) ** 2 - 1))


def _sum(parts: list[Amount], *, how: str) -> Amount:
    """Add amounts whose ranges rise and fall together, as densities do."""
    return Amount(
        value=sum(part.value for part in parts),
        low=sum(part.low for part in parts),
        high=sum(part.high for part in parts),
        unit=parts[0].unit if parts else "kg",
        how=how,
        source=joined_sources(*(part.source for part in parts)),
    )
