"""The probability of each pair over all ways of pairing two heaps of bones."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import min_weight_full_bipartite_matching

__all__ = ["best_pairing", "pair_probabilities", "sampled_probabilities"]

Array = NDArray[np.float64]

EXACT_UP_TO = 12
"""Up to this many bones of the rarer side all pairings are summed."""


def best_pairing(worth: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of the pairing worth most, every row or every column paired.

    ``worth`` (n_left, n_right). The matching in sparse graphs loads in a quarter of the time
    that the general optimisers take.
    """
    # A matrix of a graph holds no entry of 0; the same more for every pair changes no choice.
    cost = worth.max(initial=0.0) - worth + 1.0
    rows, columns = min_weight_full_bipartite_matching(csr_array(cost))
    return rows.astype(np.intp), columns.astype(np.intp)


def pair_probabilities(ln_weight: Array, rng: np.random.Generator) -> Array:
    """Return the probability of every pair over all pairings in which each bone pairs once.

    ``ln_weight`` (n_left, n_right) is the ln odds of each pair against two lone bones.
    Exact up to :data:`EXACT_UP_TO` bones of the rarer side, else sampled with ``rng``.
    """
    if ln_weight.shape[0] < ln_weight.shape[1]:
        return pair_probabilities(ln_weight.T, rng).T
    if ln_weight.shape[1] <= EXACT_UP_TO:
        return _exact_probabilities(ln_weight)
    return sampled_probabilities(ln_weight, rng)


def _exact_probabilities(ln_weight: Array) -> Array:
    """Sum over all pairings, one row after another, keeping which columns are taken."""
    n, m = ln_weight.shape
    # Scaling a row's alternatives by its largest weight keeps sums finite.
    scale = np.maximum(ln_weight.max(axis=1), 0.0)
    weight, alone = np.exp(ln_weight - scale[:, None]), np.exp(-scale)
    taken = np.arange(2**m)
    free = [(taken >> column) & 1 == 0 for column in range(m)]
    before = np.zeros((n + 1, 2**m))
    before[0, 0] = 1.0
    for row in range(n):
        step = before[row] * alone[row]
        for column in range(m):
            step[taken[free[column]] | 1 << column] += (
                before[row][free[column]] * weight[row, column]
            )
        before[row + 1] = step / step.max()
    after = np.ones(2**m)
    probability = np.zeros((n, m))
    for row in reversed(range(n)):
        lone = float(before[row] @ after) * alone[row]
        step = after * alone[row]
        for column in range(m):
            with_column = after[taken[free[column]] | 1 << column]
            share = float(before[row][free[column]] @ with_column)
            probability[row, column] = weight[row, column] * share
            step[free[column]] += with_column * weight[row, column]
        probability[row] /= probability[row].sum() + lone
        after = step / step.max()
    return probability


def sampled_probabilities(
    ln_weight: Array, rng: np.random.Generator, *, chains: int = 200, sweeps: int = 120
) -> Array:
    """Sample pairings (Metropolis): propose to join a random left and a random right.

    Partners they had are joined to each other if both had one, else left alone; every such
    step can be taken back in as many ways, so that the weights' ratio decides alone.
    """
    from bonewright.skeleton.pairing_kernels import count_pairings

    n, m = ln_weight.shape
    # An extra row and column of weight 1 stand for 'alone', so that no case is special.
    weight = np.zeros((n + 1, m + 1))
    weight[:n, :m] = ln_weight
    rows, columns = best_pairing(np.maximum(ln_weight, 0.0))
    taken = ln_weight[rows, columns] > 0
    first = np.full(n, m)
    first[rows[taken]] = columns[taken]
    count = count_pairings(weight, first, rng, chains, sweeps)
    return np.asarray(count[:, :m] / count.sum(axis=1, keepdims=True))
