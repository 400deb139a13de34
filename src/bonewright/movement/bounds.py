"""The range of indicators that counts as 'like the animals compared'."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
from scipy.special import ndtr, stdtrit

__all__ = ["BoundsRule", "comparison_bounds"]

BoundsRule = Literal["range", "t-interval", "kernel density"]
_ROUNDS = 60


def comparison_bounds(indicators: Sequence[float], rule: BoundsRule) -> tuple[float, float]:
    """Return the least and greatest indicator of an animal like those compared.

    Parameters
    ----------
    indicators : sequence of float
        Of the animals compared, GPa^-1; at least two.
    rule : {"range", "t-interval", "kernel density"}
        ``range``: the least and greatest measured. ``t-interval``: where one more such animal
        would lie 19 times in 20, if logarithms are normal. ``kernel density``: the middle
        95 % of a Gaussian kernel density of the logarithms [Silverman1986]_.

    Notes
    -----
    A range widens with every animal added and has no share of animals attached to it; the
    other two settle down as animals are added, and are wider than the range of few.
    """
    values = np.log(np.asarray(indicators, dtype=np.float64))
    if rule == "range":
        return float(np.exp(values.min())), float(np.exp(values.max()))
    n_animals = len(values)
    sd = float(values.std(ddof=1))
    if rule == "t-interval":
        half = float(stdtrit(n_animals - 1, 0.975)) * sd * np.sqrt(1 + 1 / n_animals)
        return float(np.exp(values.mean() - half)), float(np.exp(values.mean() + half))
    quartiles = np.quantile(values, [0.25, 0.75])
    spread = min(sd, float(quartiles[1] - quartiles[0]) / 1.349) or sd
    width = 0.9 * max(spread, 1e-9) * n_animals**-0.2
    return _quantile_of_kernels(values, width, 0.025), _quantile_of_kernels(values, width, 0.975)


def _quantile_of_kernels(values: np.ndarray, width: float, share: float) -> float:
    low, high = values.min() - 10 * width, values.max() + 10 * width
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        if np.mean(ndtr((middle - values) / width)) < share:
            low = middle
        else:
            high = middle
    return float(np.exp((low + high) / 2))
