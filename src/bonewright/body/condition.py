"""Condition over the year: what the fat of the fat state would have bought."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.quantity import Draws

__all__ = ["FASTING_RATES", "Fasting", "FastingRate", "fasting_days"]

_KJ_PER_KCAL = 4.184
_HOURS_PER_DAY = 24.0
_FAT_KJ_PER_KG = (39.3e3, 39.7e3)


@dataclass(frozen=True, slots=True, kw_only=True)
class FastingRate:
    """A published law of basal metabolic rate: ``kj_per_day * mass_kg ^ exponent``."""

    source: str
    words: str
    kj_per_day: float
    exponent: float

    def basal_kj_per_day(self, mass_kg: Draws) -> Draws:
        """Return the basal rate at a mass, kJ a day."""
        return np.asarray(self.kj_per_day * mass_kg**self.exponent)


# Lasiewski & Dawson: 78.3 W^0.723 kcal a day, non-passerine birds. Aschoff & Pohl: 73.5 W^0.734
# kcal a day, non-passerine birds at rest. McNab: 0.145 m^0.652 kJ an hour, m in g.
FASTING_RATES: Final[tuple[FastingRate, ...]] = (
    FastingRate(
        source="LasiewskiDawson1967",
        words="non-passerine birds",
        kj_per_day=78.3 * _KJ_PER_KCAL,
        exponent=0.723,
    ),
    FastingRate(
        source="AschoffPohl1970",
        words="non-passerine birds, phase of rest",
        kj_per_day=73.5 * _KJ_PER_KCAL,
        exponent=0.734,
    ),
    FastingRate(
        source="McNab2009",
        words="all birds",
        kj_per_day=0.145 * _HOURS_PER_DAY * 1000**0.652,
        exponent=0.652,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fasting:
    """Days of fasting between the fat and the lean state, and what it starts from."""

    days: Draws
    fat_spent_kg: Draws


def fasting_days(body: GrownBody, *, rate_over_basal: Draws, rng: np.random.Generator) -> Fasting:
    """How long the fat animal could fast until it is lean.

    Parameters
    ----------
    rate_over_basal : (n_draws,) float
        What a fasting animal spends over its basal rate.

    Notes
    -----
    The mass falls as fat is spent, and the rate with it: the days are the integral of
    ``energy of fat / (rate x k m^b)`` over mass from lean to fat, that is
    ``e (m_fat^(1-b) - m_lean^(1-b)) / (k (1 - b) rate)``. Each draw takes one of the published
    laws, so that their disagreement is in the interval. Water and protein spent with the fat
    are left out.
    """
    lean, fat = body.states["lean"].mass_draws_kg, body.states["fat"].mass_draws_kg
    n_draws = len(lean)
    law = rng.integers(len(FASTING_RATES), size=n_draws)
    factor = np.array([rate.kj_per_day for rate in FASTING_RATES])[law]
    exponent = np.array([rate.exponent for rate in FASTING_RATES])[law]
    energy = rng.uniform(*_FAT_KJ_PER_KG, size=n_draws)
    power = 1 - exponent
    days = energy * (fat**power - lean**power) / (factor * power * rate_over_basal)
    return Fasting(days=np.asarray(days), fat_spent_kg=np.asarray(fat - lean))
