"""The relatives' rows gathered by measurement."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import RowRef
from bonewright.study.model import Relative, RelativeMeasurement

__all__ = ["LEG_ELEMENTS", "SpeciesPoints", "points_by_measurement"]

LEG_ELEMENTS = ("femur", "tibiotarsus", "tarsometatarsus")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpeciesPoints:
    """One measurement over species, in the order of ``species``.

    Where a species has several rows, ``bone_mm`` is their mean weighted by the individuals
    each rests on (one where the table does not say).
    """

    species: tuple[str, ...]
    bone_mm: NDArray[np.float64]
    mass_kg: NDArray[np.float64]
    rows: tuple[RowRef, ...]

    def without(self, species: str) -> "SpeciesPoints":
        """Return the same points with one species left out; the rows stay as they are."""
        others = np.array([name != species for name in self.species], dtype=bool)
        return SpeciesPoints(
            species=tuple(name for name in self.species if name != species),
            bone_mm=self.bone_mm[others],
            mass_kg=self.mass_kg[others],
            rows=self.rows,
        )


def points_by_measurement(
    relatives: Iterable[Relative], measurements: Iterable[RelativeMeasurement]
) -> Mapping[tuple[str, str], SpeciesPoints]:
    """Gather leg-bone measurements by (element, code), species in the order of the table."""
    by_species = {relative.species: relative for relative in relatives}
    gathered: dict[tuple[str, str], dict[str, list[RelativeMeasurement]]] = {}
    for row in measurements:
        if row.element in LEG_ELEMENTS and row.species in by_species:
            of_key = gathered.setdefault((row.element, row.code), {})
            of_key.setdefault(row.species, []).append(row)
    points = {}
    for key in sorted(gathered, key=lambda entry: (LEG_ELEMENTS.index(entry[0]), entry[1])):
        present = [species for species in by_species if species in gathered[key]]
        rows = [gathered[key][species] for species in present]
        points[key] = SpeciesPoints(
            species=tuple(present),
            bone_mm=np.array(
                [
                    np.average(
                        [row.value_mm for row in of_species],
                        weights=[row.n_measured or 1 for row in of_species],
                    )
                    for of_species in rows
                ]
            ),
            mass_kg=np.array([by_species[species].body_mass_kg for species in present]),
            rows=(
                *(row.ref for of_species in rows for row in of_species),
                *(by_species[species].ref for species in present),
            ),
        )
    return points
