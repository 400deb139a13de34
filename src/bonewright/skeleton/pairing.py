"""Which left goes with which right, and how many animals there were at least.

The two sides of one animal differ by a hair (asymmetry and measuring), those of two
animals by as much as animals differ. So the sizes of a left and a right bone give odds
that they are a pair. One best pairing is found for all bones of an element together, and
beside it each pair's probability over *all* pairings: in a drawer of many alike bones a
perfect match means little, and the probability says so.

The pairs lower the count: lefts and rights that are surely of one animal count once.
Bones of clearly different size cannot be a pair, so that pairing by size may also raise
the minimum number above the larger side's count.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from bonewright.errors import OutsideRange

__all__ = [
    "Pair",
    "Pairing",
    "SideCount",
    "minimum_individuals_by_element",
    "pair_left_and_right",
]

Array = NDArray[np.float64]

ASYMMETRY_SD = 0.006
"""Standard deviation of one side about the animal's mean, ln: common practice."""

EXACT_UP_TO = 12
"""Up to this many bones of the rarer side all pairings are summed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A left and a right bone of the best pairing.

    ``ln_odds`` compares one animal with two, by size alone; ``probability`` is that over
    all pairings of this element's bones.
    """

    left: int
    right: int
    ln_odds: float
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairing:
    """The best pairing of one element and the probability of every possible pair (l, r)."""

    pairs: tuple[Pair, ...]
    probability: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class SideCount:
    """Bones of one element and the animals they need at least.

    ``n_pairs`` are accepted pairs; ``size_class`` names a size class or is empty.
    """

    element: str
    size_class: str
    n_left: int
    n_right: int
    n_pairs: int
    minimum_individuals: int


def pair_left_and_right(
    left_ln: Array,
    right_ln: Array,
    *,
    left_present: NDArray[np.bool_],
    right_present: NDArray[np.bool_],
    covariance_ln: Array,
    error_sd_ln: float = 0.0,
    asymmetry_sd_ln: float = ASYMMETRY_SD,
    share_paired: float = 0.5,
    rng: np.random.Generator,
) -> Pairing:
    """Pair the left and right bones of one element by size.

    Probabilities are exact where the rarer side has at most twelve bones, and otherwise
    sampled, good to a few hundredths.

    Parameters
    ----------
    left_ln, right_ln : (n_left, c), (n_right, c) float
        ln lengths by code.
    left_present, right_present : bool
        Which of them are known.
    covariance_ln : (c, c) float
        Between individuals, as of :class:`bonewright.skeleton.joint_model.JointModel`.
    error_sd_ln, asymmetry_sd_ln : float
        Technical error of measurement and asymmetry of one side, as shares.
    share_paired : float
        Share of the bones of the rarer side whose partner is thought to be here, 0 to 1.
    rng : numpy.random.Generator

    Raises
    ------
    OutsideRange
        If ``share_paired`` is not between 0 and 1, or asymmetry and error are both 0.
    """
    if not 0 < share_paired < 1:
        raise OutsideRange(
            f"The share of paired bones is {share_paired}.", remedy="Give a share above 0, below 1."
        )
    if asymmetry_sd_ln <= 0 and error_sd_ln <= 0:
        raise OutsideRange(
            "Without asymmetry or measuring error no two bones could be a pair.",
            remedy="Give the technical error of measurement.",
        )
    ln_odds = _ln_size_odds(
        left_ln,
        right_ln,
        shared=left_present[:, None, :] & right_present[None, :, :],
        covariance_ln=covariance_ln,
        side_variance=error_sd_ln**2 + asymmetry_sd_ln**2,
    )
    if ln_odds.size == 0:
        return Pairing(pairs=(), probability=np.zeros(ln_odds.shape))
    ln_weight = ln_odds + _ln_prior(ln_odds.shape, share_paired)
    probability = _pair_probabilities(ln_weight, rng)
    # Each bone may also stay alone: a pair must be worth more than that.
    gain = np.maximum(ln_weight, 0.0)
    rows, columns = linear_sum_assignment(gain, maximize=True)
    pairs = tuple(
        Pair(
            left=int(row),
            right=int(column),
            ln_odds=float(ln_odds[row, column]),
            probability=float(probability[row, column]),
        )
        for row, column in zip(rows, columns, strict=True)
        if ln_weight[row, column] > 0
    )
    return Pairing(pairs=pairs, probability=probability)


def minimum_individuals_by_element(
    element: str,
    pairing: Pairing,
    *,
    left_class: tuple[str, ...] = (),
    right_class: tuple[str, ...] = (),
    least_probability: float = 0.5,
) -> tuple[SideCount, ...]:
    """Count the animals that one element's bones need at least, all and by size class.

    Notes
    -----
    The larger side's count is the old measure [White1953]_. Here a left and a right that
    can be no pair (probability below 0.01 with every other) are two animals as well, so
    that the count is the larger of that measure and lefts + rights - possible pairs.
    ``n_pairs`` are those of the best pairing with at least ``least_probability``. With
    size classes each class is counted apart and their sum may exceed the whole.
    """
    n_left, n_right = pairing.probability.shape
    counts = [_count(element, "", pairing, np.arange(n_left), np.arange(n_right), least_probability)]
    for size_class in sorted({*left_class, *right_class}):
        lefts = np.array([n for n, c in enumerate(left_class) if c == size_class], dtype=np.intp)
        rights = np.array([n for n, c in enumerate(right_class) if c == size_class], dtype=np.intp)
        counts.append(_count(element, size_class, pairing, lefts, rights, least_probability))
    return tuple(counts)


def _count(
    element: str,
    size_class: str,
    pairing: Pairing,
    lefts: NDArray[np.intp],
    rights: NDArray[np.intp],
    least_probability: float,
) -> SideCount:
    possible = pairing.probability[np.ix_(lefts, rights)] > 0.01
    rows, columns = linear_sum_assignment(possible.astype(np.float64), maximize=True)
    most_pairs = int(possible[rows, columns].sum())
    accepted = [
        pair
        for pair in pairing.pairs
        if pair.left in lefts and pair.right in rights and pair.probability >= least_probability
    ]
    return SideCount(
        element=element,
        size_class=size_class,
        n_left=len(lefts),
        n_right=len(rights),
        n_pairs=len(accepted),
        minimum_individuals=len(lefts) + len(rights) - most_pairs,
    )


def _ln_size_odds(
    left_ln: Array,
    right_ln: Array,
    *,
    shared: NDArray[np.bool_],
    covariance_ln: Array,
    side_variance: float,
) -> Array:
    """Return ln odds of one animal against two for each left and right, (l, r)."""
    odds = np.zeros(shared.shape[:2])
    patterns = np.unique(shared.reshape(-1, shared.shape[2]), axis=0) if shared.size else []
    for pattern in patterns:
        c = int(np.sum(pattern))
        if c == 0:
            continue  # nothing in common to compare: odds of one
        here = np.all(shared == pattern, axis=2)
        difference = (left_ln[:, None, :] - right_ln[None, :, :])[here][:, pattern]
        same = 2 * side_variance * np.eye(c)
        apart = same + 2 * covariance_ln[np.ix_(pattern, pattern)]
        odds[here] = _ln_density(difference, same) - _ln_density(difference, apart)
    return odds


def _ln_density(difference: Array, covariance: Array) -> Array:
    lower = np.linalg.cholesky(covariance)
    white = np.linalg.solve(lower, difference.T)
    return np.asarray(-0.5 * (white**2).sum(axis=0) - np.log(np.diag(lower)).sum())


def _ln_prior(shape: tuple[int, int], share_paired: float) -> float:
    """Return the ln weight of a pair such that the share of the rarer side pairs up.

    With n and m bones and no sizes known, each further pair multiplies the number of
    pairings by about (n - k)(m - k) / k; the weight cancels that at the expected number.
    """
    fewer, more = min(shape), max(shape)
    expected = share_paired * fewer
    return float(np.log(expected / ((fewer - expected) * max(more - expected, 0.5))))


def _pair_probabilities(ln_weight: Array, rng: np.random.Generator) -> Array:
    """Return the probability of every pair over all pairings in which each bone pairs once."""
    if ln_weight.shape[0] < ln_weight.shape[1]:
        return _pair_probabilities(ln_weight.T, rng).T
    if ln_weight.shape[1] <= EXACT_UP_TO:
        return _exact_probabilities(ln_weight)
    return _sampled_probabilities(ln_weight, rng)


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


def _sampled_probabilities(
    ln_weight: Array, rng: np.random.Generator, *, chains: int = 200, sweeps: int = 120
) -> Array:
    """Sample pairings (Metropolis): propose to join a random left and a random right.

    Partners they had are joined to each other if both had one, else left alone; every such
    step can be taken back in as many ways, so that the weights' ratio decides alone.
    """
    n, m = ln_weight.shape
    # An extra row and column of weight 1 stand for 'alone', so that no case is special.
    weight = np.zeros((n + 1, m + 1))
    weight[:n, :m] = ln_weight
    rows, columns = linear_sum_assignment(np.maximum(ln_weight, 0.0), maximize=True)
    taken = ln_weight[rows, columns] > 0
    of_left = np.full((chains, n + 1), m)
    of_right = np.full((chains, m + 1), n)
    of_left[:, rows[taken]] = columns[taken]
    of_right[:, columns[taken]] = rows[taken]
    chain = np.arange(chains)
    count = np.zeros((n, m + 1))
    steps, burn_in = sweeps * max(n, m), sweeps * max(n, m) // 4
    for step in range(steps):
        left, right = rng.integers(n, size=chains), rng.integers(m, size=chains)
        old_right, old_left = of_left[chain, left], of_right[chain, right]
        parted = old_right == right  # they are a pair: propose to part them
        gain = weight[left, right] + weight[old_left, old_right]
        gain -= weight[left, old_right] + weight[old_left, right]
        gain = np.where(parted, -weight[left, right], gain)
        go = np.log(rng.random(chains)) < gain
        apart, join = go & parted, go & ~parted
        of_left[chain[apart], left[apart]] = m
        of_right[chain[apart], right[apart]] = n
        of_left[chain[join], old_left[join]] = old_right[join]
        of_right[chain[join], old_right[join]] = old_left[join]
        of_left[chain[join], left[join]] = right[join]
        of_right[chain[join], right[join]] = left[join]
        of_left[:, n], of_right[:, m] = m, n
        if step >= burn_in and step % max(n, m) == 0:
            np.add.at(count, (np.broadcast_to(np.arange(n), (chains, n)), of_left[:, :n]), 1.0)
    return np.asarray(count[:, :m] / count.sum(axis=1, keepdims=True))
