"""Published equations of body mass on a leg bone, as data."""

from dataclasses import dataclass

import numpy as np

from bonewright.quantity import Draws

__all__ = ["PUBLISHED_EQUATIONS", "PublishedEquation", "equation_mass_kg"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedEquation:
    """log10(mass/g) = slope_log10 log10(measurement/mm) + intercept_log10.

    ``status`` says how far the coefficients were checked against the publication.
    """

    key: str
    element: str
    code: str
    slope_log10: float
    intercept_log10: float
    animals: str
    source: str
    status: str


PUBLISHED_EQUATIONS = (
    PublishedEquation(
        key="all_birds_least_circumference",
        element="femur",
        code="CD",
        slope_log10=2.411,
        intercept_log10=-0.065,
        animals="living birds of all kinds",
        source="CampbellMarcus1992",
        status="from memory",
    ),
)


def equation_mass_kg(equation: PublishedEquation, bone_mm: Draws) -> Draws:
    """Return the mass (kg) that the equation gives for each draw of the bone (mm).

    The scatter of animals about the published line is not in it: the equation as
    recalled comes without one.
    """
    log10_g = equation.slope_log10 * np.log10(bone_mm) + equation.intercept_log10
    return np.asarray(10.0 ** (log10_g - 3))
