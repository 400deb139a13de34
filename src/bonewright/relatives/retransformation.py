"""From the middle of a mass to its mean: corrections for lines on logarithms.

All take residuals in natural logarithms; base-10 residuals give a wrong answer without
warning.
"""

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError, NotEnoughEvidence

__all__ = [
    "CORRECTIONS",
    "correction_factor",
    "lognormal_factor",
    "mass_kg_of",
    "ratio_factor",
    "smearing_factor",
]

Array = NDArray[np.float64]

CORRECTIONS = {
    "lognormal": ("exp(s²/2), residuals taken for normal", ("Baskerville1972", "Sprugel1983")),
    "smearing": ("mean of the back-transformed residuals", ("Duan1983",)),
    "ratio": ("mean mass over mean back-transformed prediction", ("Smith1993",)),
    "none": ("no correction: the middle, not the mean", ()),
}
"""Each correction by its name in study.toml: what it is, and its publications."""

# exp(30) kg is beyond any animal; only lines through a handful of species reach it.
_BEYOND_ANY_MASS_LN = 30.0


def mass_kg_of(mass_ln: Array) -> Array:
    """Return the masses of logarithms (kg), cut where no animal is: at exp(30) kg either way."""
    return np.asarray(np.exp(np.clip(mass_ln, -_BEYOND_ANY_MASS_LN, _BEYOND_ANY_MASS_LN)))


def lognormal_factor(residual_sd_ln: float) -> float:
    """Return exp(s²/2), the mean over the median of a lognormal distribution.

    Source: [Baskerville1972]_, [Sprugel1983]_. Too large where a few odd points swell s.
    """
    return float(np.exp(residual_sd_ln**2 / 2))


def smearing_factor(residual_ln: Array) -> float:
    """Return the mean of the back-transformed residuals, whatever their distribution.

    Parameters
    ----------
    residual_ln : (n,) float
        Residuals of a regression on natural logarithms.

    Raises
    ------
    NotEnoughEvidence
        With fewer than two residuals.

    Notes
    -----
    Source: [Duan1983]_. Assumes residuals alike over the whole range of the predictor.
    """
    if len(residual_ln) < 2:
        raise NotEnoughEvidence(
            "The smearing correction could not be computed.",
            needed="at least two residuals",
            found=str(len(residual_ln)),
            would_help="more relatives",
        )
    return float(np.mean(np.exp(residual_ln)))


def ratio_factor(observed: Array, predicted: Array) -> float:
    """Return the mean of the observed over the mean of the back-transformed predictions.

    Source: [Smith1993]_. The largest species decide it, nearly alone.
    """
    return float(np.mean(observed) / np.mean(predicted))


def correction_factor(name: str, *, observed_ln: Array, residual_ln: Array, sd_ln: float) -> float:
    """Return the factor of the named correction (a key of :data:`CORRECTIONS`)."""
    if name == "lognormal":
        return lognormal_factor(sd_ln)
    if name == "smearing":
        return smearing_factor(residual_ln)
    if name == "ratio":
        return ratio_factor(np.exp(observed_ln), np.exp(observed_ln - residual_ln))
    if name == "none":
        return 1.0
    raise BonewrightError(
        f"There is no retransformation correction called {name!r}.",
        remedy=f"Choose one of {', '.join(CORRECTIONS)} in study.toml.",
    )
