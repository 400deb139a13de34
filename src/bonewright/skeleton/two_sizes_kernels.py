"""Compiled fits of one and of two bell curves to sizes: the inside of the look for two sexes.

Only arrays and numbers here; nothing checks its input. Expectation and maximisation, study by
study, each until it stands still: the studies simulated for comparison are many.
"""

from math import exp, log, log1p, pi, sqrt

import numpy as np

from bonewright.compiling import Floats, compiled, compiled_inside

__all__ = ["gains_of_two", "one_curve", "two_curves"]


LEAST_VARIANCE = 1e-7
STILL = 1e-5
"""Change of the spread (and of the gap, over it) in a round at which a fit ends."""


@compiled_inside
def _variance_beyond(sizes: Floats, error2: Floats) -> float:
    """Return the variance of sizes less what errors add to it on average."""
    mean = 0.0
    for one in range(sizes.size):
        mean += sizes[one] / sizes.size
    variance = 0.0
    for one in range(sizes.size):
        variance += ((sizes[one] - mean) ** 2 - error2[one]) / sizes.size
    return variance


@compiled
def one_curve(sizes: Floats, error2: Floats) -> tuple[float, float]:
    """Fit one centre and spread; return ln likelihood and the spread's variance."""
    n = sizes.size
    variance = max(_variance_beyond(sizes, error2), 1e-6)
    centre = 0.0
    for _ in range(200):
        before = variance
        total = 0.0
        centre = 0.0
        for one in range(n):
            total += 1.0 / (variance + error2[one])
            centre += sizes[one] / (variance + error2[one])
        centre /= total
        expected = 0.0
        for one in range(n):
            part = variance / (variance + error2[one])
            expected += part**2 * (sizes[one] - centre) ** 2 + part * error2[one]
        variance = max(expected / n, LEAST_VARIANCE)
        if abs(variance - before) < STILL * before:
            break
    likelihood = 0.0
    for one in range(n):
        total = variance + error2[one]
        likelihood -= 0.5 * ((sizes[one] - centre) ** 2 / total + log(2.0 * pi * total))
    return likelihood, variance


@compiled
def two_curves(
    sizes: Floats, error2: Floats, labels: Floats, middle: float, larger: Floats
) -> tuple[float, float, float, float]:
    """Fit two centres with one spread.

    ``labels`` (n,) are 1, 0, or NaN where unknown: those begin as larger above the ``middle``.
    Writes each one's chance of being ``larger`` (n,). Returns ln likelihood, the spread's
    variance, the gap and the share of the larger.
    """
    n = sizes.size
    weight = np.empty(n)
    variance = max(_variance_beyond(sizes, error2) / 3.0, 1e-6)
    for one in range(n):
        weight[one] = 1.0 / (variance + error2[one])
        larger[one] = labels[one]
        if np.isnan(labels[one]):
            larger[one] = 1.0 if sizes[one] > middle else 0.0
    share = 0.5
    high = middle
    low = middle
    for _ in range(150):
        before = variance
        gap = high - low
        of_high = 1e-300
        of_low = 1e-300
        high = 0.0
        low = 0.0
        n_larger = 0.0
        for one in range(n):
            part = larger[one] * weight[one]
            of_high += part
            high += part * sizes[one]
            of_low += weight[one] - part
            low += (weight[one] - part) * sizes[one]
            n_larger += larger[one]
        high /= of_high
        low /= of_low
        expected = 0.0
        for one in range(n):
            part = variance * weight[one]
            own = larger[one] * (sizes[one] - high) ** 2
            own += (1.0 - larger[one]) * (sizes[one] - low) ** 2
            expected += part**2 * own + part * error2[one]
        variance = max(expected / n, LEAST_VARIANCE)
        # One pseudo-individual of each keeps either curve from vanishing.
        share = (1.0 + n_larger) / (2.0 + n)
        even = log(share / (1.0 - share))
        for one in range(n):
            weight[one] = 1.0 / (variance + error2[one])
            if np.isnan(labels[one]):
                between = (high - low) * (sizes[one] - (high + low) / 2.0)
                larger[one] = 1.0 / (1.0 + exp(-even - between * weight[one]))
        moved = abs(sqrt(variance) - sqrt(before)) + abs(high - low - gap)
        if moved < STILL * sqrt(variance):
            break
    likelihood = 0.0
    for one in range(n):
        total = variance + error2[one]
        of_high = -0.5 * ((sizes[one] - high) ** 2 / total + log(2.0 * pi * total))
        of_low = -0.5 * ((sizes[one] - low) ** 2 / total + log(2.0 * pi * total))
        if np.isnan(labels[one]):
            of_high += log(share)
            of_low += log(1.0 - share)
            likelihood += max(of_high, of_low) + log1p(exp(-abs(of_high - of_low)))
        else:
            likelihood += of_high if labels[one] == 1.0 else of_low
    return likelihood, variance, high - low, share


@compiled
def gains_of_two(sizes: Floats, error2: Floats, labels: Floats, middles: Floats) -> Floats:
    """Return by how much two curves fit better than one, ln likelihood, for studies (b, n).

    ``middles`` (b,) are the medians of their sizes.
    """
    larger = np.empty(sizes.shape[1])
    gains = np.empty(sizes.shape[0])
    for study in range(gains.size):
        two, _, _, _ = two_curves(sizes[study], error2, labels, middles[study], larger)
        one, _ = one_curve(sizes[study], error2)
        gains[study] = two - one
    return gains
