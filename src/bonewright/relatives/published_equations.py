"""Published equations of body mass on a bone, applied beside the fitted lines."""

import numpy as np

from bonewright.quantity import Draws
from bonewright.study.model import MassEquation

__all__ = ["equation_mass_kg", "outside_range_percent"]


def equation_mass_kg(
    equation: MassEquation, bone_mm: Draws, *, rng: np.random.Generator | None = None
) -> Draws:
    """Return the mass (kg) that the equation gives for each draw of the bone (mm).

    With ``rng``, and where the standard error of estimate is published, animals scatter about
    the line as it says; otherwise the draws hold the uncertainty of the bone alone.
    """
    mass_ln = equation.intercept_ln + equation.slope * np.log(equation.factor * bone_mm)
    if rng is not None and equation.standard_error_ln is not None:
        mass_ln = mass_ln + equation.standard_error_ln * rng.standard_normal(len(bone_mm))
    return np.asarray(np.exp(mass_ln))


def outside_range_percent(equation: MassEquation, bone_mm: float) -> float | None:
    """Return how far the bone lies beyond the published range: 0 within, None if not known.

    In percent of the nearer end; below 0 if the bone is smaller than the smallest.
    """
    low, high = equation.range_low_mm, equation.range_high_mm
    if high is not None and bone_mm > high:
        return 100 * (bone_mm / high - 1)
    if low is not None and bone_mm < low:
        return 100 * (bone_mm / low - 1)
    return None if low is None or high is None else 0.0
