"""Means over individuals, with draws in which bones of the same individuals move together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from bonewright.quantity import Draws, rank_matched
from bonewright.skeleton.reduction import IndividualValue
from bonewright.skeleton.variation import PooledVariation

__all__ = ["FEW_INDIVIDUALS", "MeanOverIndividuals", "means_over_individuals"]

FEW_INDIVIDUALS = 3
"""Up to this many individuals the variation is borrowed from all measurements together."""

_WORLDS_AT_A_TIME = 20_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeanOverIndividuals:
    """A mean (mm), the standard deviation between individuals (mm), and draws of the mean."""

    mean_mm: float
    between_sd_mm: float
    draws_mm: Draws


def means_over_individuals(
    groups: Sequence[Sequence[IndividualValue]],
    *,
    variation: PooledVariation,
    rng: np.random.Generator,
    n_draws: int,
) -> tuple[MeanOverIndividuals, ...]:
    """Average each group (one element and code) over its individuals.

    Parameters
    ----------
    groups : sequence of sequences
        For each measurement the individuals that have it, one entry an individual.
    variation : PooledVariation
        Used for groups of at most :data:`FEW_INDIVIDUALS`.
    rng, n_draws
        Source and number of draws.

    Notes
    -----
    Each marginal is the t distribution of a mean (the posterior under the usual reference
    prior), by equal-probability points, cut off at half and at twice the mean, which with
    four individuals or more touches fewer than one draw in ten thousand. The order of the
    draws follows the Bayesian bootstrap [Rubin1981]_ with one weight an individual over
    all measurements. Assumes that individuals are a random sample of one kind of
    animal, and that which bones an individual lacks has nothing to do with its size.
    """
    patterns = _shared_patterns(groups, rng=rng, n_draws=n_draws)
    probability = (np.arange(n_draws) + 0.5) / n_draws
    spreads: dict[int, Draws] = {}
    results = []
    for column, group in enumerate(groups):
        values = np.array([value.value_mm for value in group])
        n = len(values)
        mean = float(np.mean(values))
        if n > FEW_INDIVIDUALS:
            between_sd, degrees = float(np.std(values, ddof=1)), n - 1
        else:
            between_sd = variation.coefficient * mean
            degrees = variation.degrees_of_freedom
        if degrees not in spreads:
            spreads[degrees] = np.asarray(stdtrit(float(degrees), probability))
        target = np.clip(mean + between_sd / np.sqrt(n) * spreads[degrees], mean / 2, mean * 2)
        results.append(
            MeanOverIndividuals(
                mean_mm=mean,
                between_sd_mm=between_sd,
                draws_mm=rank_matched(patterns[:, column], target),
            )
        )
    return tuple(results)


def _shared_patterns(
    groups: Sequence[Sequence[IndividualValue]], *, rng: np.random.Generator, n_draws: int
) -> NDArray[np.float64]:
    """Return weighted means (n_draws, n_groups) with one random weight an individual.

    A group of one individual (or of equal values) has the same weighted mean in every world;
    its pattern is a normal variate of its first individual, so that all measurements known
    from that individual alone move together.
    """
    individuals = sorted({value.individual for group in groups for value in group})
    place = {individual: row for row, individual in enumerate(individuals)}
    present = np.zeros((len(individuals), len(groups)))
    deviation = np.zeros_like(present)
    for column, group in enumerate(groups):
        mean = float(np.mean([value.value_mm for value in group]))
        for value in group:
            present[place[value.individual], column] = 1.0
            deviation[place[value.individual], column] = value.value_mm / mean - 1
    patterns = np.empty((n_draws, len(groups)))
    for start in range(0, n_draws, _WORLDS_AT_A_TIME):
        stop = min(start + _WORLDS_AT_A_TIME, n_draws)
        # Exponential weights are a flat Dirichlet vector up to their sum, which cancels.
        weights = rng.standard_exponential((stop - start, len(individuals)))
        patterns[start:stop] = (weights @ deviation) / (weights @ present)
    alone = {
        column: group[0].individual
        for column, group in enumerate(groups)
        if not np.any(deviation[:, column])
    }
    sizes = {name: rng.standard_normal(n_draws) for name in sorted(set(alone.values()))}
    for column, individual in alone.items():
        patterns[:, column] = sizes[individual]
    return patterns
