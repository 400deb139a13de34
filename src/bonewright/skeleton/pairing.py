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

from bonewright.errors import OutsideRange
from bonewright.skeleton.pair_probability import best_pairing, pair_probabilities

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
    probability = pair_probabilities(ln_weight, rng)
    # Each bone may also stay alone: a pair must be worth more than that.
    gain = np.maximum(ln_weight, 0.0)
    rows, columns = best_pairing(gain)
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
    counts = [
        _count(element, "", pairing, np.arange(n_left), np.arange(n_right), least_probability)
    ]
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
    most_pairs = int(possible.sum())
    if np.any(possible.sum(axis=0) > 1) or np.any(possible.sum(axis=1) > 1):
        rows, columns = best_pairing(possible.astype(np.float64))
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
    if shared.size == 0:
        return odds
    for pattern in np.unique(shared.reshape(-1, shared.shape[2]), axis=0):
        c = int(np.sum(pattern))
        if c == 0:
            continue  # nothing in common to compare: odds of one
        here = np.all(shared == pattern, axis=2)
        difference = (left_ln[:, None, :] - right_ln[None, :, :])[here][:, pattern]
        apart = 2 * side_variance * np.eye(c) + 2 * covariance_ln[np.ix_(pattern, pattern)]
        same = -(difference**2).sum(axis=1) / side_variance / 4 - c * np.log(2 * side_variance) / 2
        odds[here] = same - _ln_density(difference, apart)
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
