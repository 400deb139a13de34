"""Round bars and tubes as beams: sections, stresses, and how far a tip sinks.

Sources: bending stress M/Z, second moments of circle and ring, deflection as the integral of
moment over stiffness (unit load), and Euler's column, all as in any handbook of strength of
materials [RoarkYoung]_. They hold for slender, elastic bars; a joint that slips or a bend
that was heated is softer than they say.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws

__all__ = [
    "RoundSection",
    "Stretch",
    "buckling_load_n",
    "combined_stress_mpa",
    "round_section",
    "tip_movement_mm",
]

# Three points of Gauss's rule are exact for the cubics that straight bars under loads at
# points give.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(3)
_POISSON = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundSection:
    """Area (mm2), second moment about a diameter (mm4) and section modulus (mm3)."""

    area_mm2: float
    second_moment_mm4: float
    modulus_mm3: float


def round_section(diameter_mm: float, wall_mm: float | None = None) -> RoundSection:
    """Return the properties of a solid round (no wall) or a tube.

    Raises
    ------
    OutsideRange
        If the wall leaves no tube.
    """
    inner = 0.0 if wall_mm is None else diameter_mm - 2 * wall_mm
    if diameter_mm <= 0 or inner < 0 or (wall_mm is not None and wall_mm <= 0):
        raise OutsideRange(
            f"There is no tube of {diameter_mm:g} mm with a wall of {wall_mm} mm.",
            remedy="Look both up again in tables/stock.csv.",
        )
    second = np.pi / 64 * (diameter_mm**4 - inner**4)
    return RoundSection(
        area_mm2=float(np.pi / 4 * (diameter_mm**2 - inner**2)),
        second_moment_mm4=float(second),
        modulus_mm3=float(second / (diameter_mm / 2)),
    )


def combined_stress_mpa(
    section: RoundSection, *, bending_nmm: float, twisting_nmm: float, axial_n: float
) -> float:
    """Return the greatest equivalent stress (von Mises) at a round section, MPa."""
    along = abs(bending_nmm) / section.modulus_mm3 + abs(axial_n) / section.area_mm2
    # The polar modulus of a round section is twice its section modulus.
    shear = abs(twisting_nmm) / (2 * section.modulus_mm3)
    return float(np.sqrt(along**2 + 3 * shear**2))


def buckling_load_n(
    section: RoundSection, *, elastic_modulus_mpa: float, length_mm: float, ends: float = 2.0
) -> float:
    """Return Euler's load of a column; ``ends`` is 2 where one end is fixed and one free."""
    stiffness = elastic_modulus_mpa * section.second_moment_mm4
    return float(np.pi**2 * stiffness / (ends * length_mm) ** 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """A straight piece of bar with the loads that it carries towards the support.

    ``start_mm`` (3,) is nearer the support. Each load is a force (n, 3) N at a place (n, 3)
    mm beyond the stretch; loads do not change along it.
    """

    start_mm: Draws
    end_mm: Draws
    section: RoundSection
    elastic_modulus_mpa: float
    places_mm: Draws
    forces_n: Draws

    def moment_nmm(self, at_mm: Draws) -> Draws:
        """Return the moment (m, 3) of the loads about points (m, 3)."""
        arms = self.places_mm[None] - at_mm[:, None]
        return np.asarray(np.cross(arms, self.forces_n[None]).sum(axis=1))


def tip_movement_mm(stretches: Sequence[Stretch], tip_mm: Draws) -> Draws:
    """Return how far a tip moves through the bending and twisting of what carries it, (3,) mm.

    Each bit of bar turns by moment over stiffness, and carries the tip about itself. The
    pull along the bars is left out: it is thousands of times smaller.
    """
    moved = np.zeros(3)
    for stretch in stretches:
        along = stretch.end_mm - stretch.start_mm
        length = float(np.linalg.norm(along))
        if length == 0:
            continue
        at = stretch.start_mm + np.outer((_NODES + 1) / 2, along)
        moment = stretch.moment_nmm(at)
        axis = along / length
        twist = np.outer(moment @ axis, axis)
        stiffness = stretch.elastic_modulus_mpa * stretch.section.second_moment_mm4
        # G J = E / (2 (1 + nu)) times 2 I.
        turned = (moment - twist) / stiffness + twist * (1 + _POISSON) / stiffness
        moved += (_WEIGHTS[:, None] / 2 * length * np.cross(turned, tip_mm - at)).sum(axis=0)
    return np.asarray(moved)
