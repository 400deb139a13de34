"""Published laws that the grown body is held against: skin, plumage, respiratory volume."""

import numpy as np

from bonewright.quantity import Draws

__all__ = ["plumage_mass_kg", "respiratory_volume_m3", "skin_area_m2"]

_G_PER_KG = 1000.0


def skin_area_m2(mass_kg: Draws) -> Draws:
    """Return the skin area of a bird, 10 m^(2/3) cm2 with m in g [WalsbergKing1978]_."""
    return np.asarray(10.0 * (mass_kg * _G_PER_KG) ** (2 / 3) * 1e-4)


def plumage_mass_kg(mass_kg: Draws) -> Draws:
    """Return the mass of a bird's plumage, 0.09 m^0.95, both in g [Turcek1966]_."""
    return np.asarray(0.09 * (mass_kg * _G_PER_KG) ** 0.95 / _G_PER_KG)


def respiratory_volume_m3(mass_kg: Draws) -> Draws:
    """Return a bird's lungs and air sacs, 160.8 m^0.91 mL, m in kg [LasiewskiCalder1971]_."""
    return np.asarray(160.8e-6 * mass_kg**0.91)
