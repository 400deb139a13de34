"""Choices given as a best value with a range, turned into draws."""

import numpy as np

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.study.settings import RangeChoice

__all__ = ["density_kg_m3", "draws_of_range", "respread", "spread_over"]

# The normal distribution holds 95 % within 1.96 standard deviations.
_HALF_WIDTH_SD = 1.959963984540054

_PER_KG_M3 = {"kg/L": 1000.0, "kg/l": 1000.0, "g/mL": 1000.0, "g/ml": 1000.0, "g/cm3": 1000.0}
_PER_KG_M3 |= {"kg/m3": 1.0, "kg/m^3": 1.0}
_DENSITY_LIMITS_KG_M3 = (300.0, 1500.0)


def draws_of_range(choice: RangeChoice, *, rng: np.random.Generator, n_draws: int) -> Draws:
    """Draw a choice, shape (n_draws,), in its own unit.

    Half of the draws lie on either side of the best value; 2.5 % lie below the low and
    2.5 % above the high end. A range that reaches as far to both sides is a normal
    distribution; a lopsided one joins two half-normals; a range of no width is a constant.
    """
    variate = rng.standard_normal(n_draws)
    return spread_over(choice.value, choice.low, choice.high, variate=variate)


def spread_over(value: float, low: float, high: float, *, variate: Draws) -> Draws:
    """Spread standard normal numbers, shape (n_draws,), over a range as above.

    One set of numbers spread over several ranges makes draws that move together.
    """
    part = variate / _HALF_WIDTH_SD
    width = np.where(part < 0, value - low, high - value)
    return np.asarray(value + part * width, dtype=np.float64)


def respread(draws: Draws, *, before: RangeChoice, after: RangeChoice) -> Draws:
    """Turn draws of one range, shape (n_draws,), into what the same world draws of another.

    Both in one unit. A range of no width says nothing of where in another a world lies: its
    draws become the best value.

    Examples
    --------
    >>> import numpy as np
    >>> was = RangeChoice(value=1.0, low=0.8, high=1.4, unit="1", reason="-")
    >>> now = RangeChoice(value=2.0, low=1.9, high=2.2, unit="1", reason="-")
    >>> respread(np.array([0.8, 1.0, 1.4]), before=was, after=now)
    array([1.9, 2. , 2.2])
    """
    away = draws - before.value
    width = np.where(away < 0, before.value - before.low, before.high - before.value)
    part = np.divide(away, width, out=np.zeros_like(away), where=width > 0)
    return spread_over(after.value, after.low, after.high, variate=part * _HALF_WIDTH_SD)


def density_kg_m3(choice: RangeChoice) -> RangeChoice:
    """Bring a density to kg/m3.

    Raises
    ------
    OutsideRange
        If the unit is not one of kg/L, g/mL, g/cm3, kg/m3, or no living body has such a
        density.
    """
    factor = _PER_KG_M3.get(choice.unit.strip().replace("³", "3"))
    if factor is None:
        raise OutsideRange(
            f"The body density in study.toml is in {choice.unit}, which is no unit of density"
            " known here.",
            remedy="Give body_density in kg/L or kg/m3.",
        )
    low, high = _DENSITY_LIMITS_KG_M3
    if not (low <= choice.low * factor and choice.high * factor <= high):
        raise OutsideRange(
            f"The body density in study.toml, {choice.value:g} ({choice.low:g} to"
            f" {choice.high:g}) {choice.unit}, is that of no living body.",
            remedy=f"Give body_density between {low / 1000:g} and {high / 1000:g} kg/L.",
        )
    return choice.model_copy(
        update={
            "value": choice.value * factor,
            "low": choice.low * factor,
            "high": choice.high * factor,
            "unit": "kg/m3",
        }
    )
