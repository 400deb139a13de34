"""The strength indicator and the mass at which it takes a given value."""

from typing import TypeVar

from bonewright.literature import constant
from bonewright.quantity import Draws

__all__ = ["mass_at_indicator", "strength_indicator"]

_Number = TypeVar("_Number", float, Draws)

# mm2 to m2 is 1e-6, Pa^-1 to GPa^-1 is 1e9.
_PER_GPA = 1e-6 * 1e9


def strength_indicator(
    modulus_over_arm_mm2: _Number, mass_kg: _Number, *, weight_fraction: _Number
) -> _Number:
    """Return Z / (a m g x) in GPa^-1.

    Parameters
    ----------
    modulus_over_arm_mm2 : float or (n_draws,)
        Section modulus Z over the distance x from section to the bone's lower end.
    mass_kg : float or (n_draws,)
        Body mass m.
    weight_fraction : float or (n_draws,)
        Share a of the body weight on that pair of legs; 1 for a two-legged animal.

    Notes
    -----
    Source: [Alexander1985]_, [Alexander1989]_.

    Examples
    --------
    >>> round(strength_indicator(20.0, 50.0, weight_fraction=1.0), 2)
    40.79
    """
    return _PER_GPA * modulus_over_arm_mm2 / (weight_fraction * mass_kg * _gravity())


def mass_at_indicator(
    modulus_over_arm_mm2: _Number, indicator_per_gpa: float, *, weight_fraction: _Number
) -> _Number:
    """Return the mass in kg at which the strength indicator takes the given value."""
    return _PER_GPA * modulus_over_arm_mm2 / (weight_fraction * indicator_per_gpa * _gravity())


def _gravity() -> float:
    return constant("standard gravity")
