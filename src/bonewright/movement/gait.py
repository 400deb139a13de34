"""Hip height, speeds and Froude numbers: how the animal would have gone about."""

import numpy as np

from bonewright.literature import constant
from bonewright.quantity import Draws

__all__ = [
    "froude_number",
    "hip_height_m",
    "speed_at_froude",
    "speed_from_stride",
    "stride_from_speed",
]


def hip_height_m(lengths_mm: dict[str, Draws], angles_rad: dict[str, Draws]) -> Draws:
    """Return the height of the hip over the toes' joint: leg bones stood at their angles.

    ``lengths_mm`` and ``angles_rad`` (from the vertical) are by leg bone, (n_draws,).
    Cartilage and the pad of the foot are left out, a few percent.
    """
    heights = [lengths_mm[name] * np.cos(angles_rad[name]) for name in sorted(lengths_mm)]
    return np.asarray(np.sum(heights, axis=0) / 1000)


def speed_from_stride(stride_m: Draws, hip_m: Draws) -> Draws:
    """Return the speed, m/s, of an animal from its stride (two steps) and hip height.

    Notes
    -----
    Source: [Alexander1976]_, u = 0.25 g^0.5 L^1.67 h^-1.17, fitted over animals from mice to
    horses; single animals depart by a third either way.

    Examples
    --------
    >>> import numpy as np
    >>> round(float(speed_from_stride(np.array([2.8]), np.array([1.4]))[0]), 2)
    2.95
    """
    return np.asarray(0.25 * constant("standard gravity") ** 0.5 * stride_m**1.67 * hip_m**-1.17)


def stride_from_speed(speed_m_per_s: Draws, hip_m: Draws) -> Draws:
    """Return the stride, m, at a speed: :func:`speed_from_stride` turned round."""
    gravity = constant("standard gravity")
    return np.asarray((speed_m_per_s / (0.25 * gravity**0.5 * hip_m**-1.17)) ** (1 / 1.67))


def froude_number(speed_m_per_s: Draws, hip_m: Draws) -> Draws:
    """Return u^2 / (g h): animals of all sizes move alike at equal Froude numbers."""
    return np.asarray(speed_m_per_s**2 / (constant("standard gravity") * hip_m))


def speed_at_froude(froude: float, hip_m: Draws) -> Draws:
    """Return the speed, m/s, at a Froude number."""
    return np.asarray(np.sqrt(froude * constant("standard gravity") * hip_m))
