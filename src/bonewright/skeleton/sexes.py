"""One size or two? Whether the two sexes stand apart, and who is of which.

Where males and females differ in size and more of one was collected, the mean of the
bones is not the mean of the kind. This compares one bell curve of sizes with two of equal
width. The usual tables for such a test do not hold (a second curve that is not there
leaves its place undefined), so that the difference is judged against studies simulated
from one curve (parametric bootstrap, [McLachlan1987]_). Known sexes are used as labels.

With a gap below about twice the spread within a sex, unlabelled bones seldom tell; that
no gap was found does not mean that there is none.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.factor_scores import FactorParameters, size_posterior
from bonewright.skeleton.ln_matrix import LnMatrix

__all__ = ["SizeComparison", "SizeScores", "compare_one_and_two_sizes", "size_scores"]

Array = NDArray[np.float64]
FEWEST = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeScores:
    """Size of each individual as its bones alone tell it: ln size (n,) and its error (n,)."""

    rows: tuple[str, ...]
    size_ln: Array
    error_ln: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeComparison:
    """One bell curve of ln sizes against two.

    ``gap_ln`` is the distance of the two centres, ``share_larger`` the share of the larger
    among those collected, ``within_sd_ln`` the spread about either centre, ``chance_larger``
    (n,) each individual's chance of being of the larger. ``ln_ratio`` is the gain in ln
    likelihood, ``p_value`` the share of simulated one-curve studies that gained as much.
    """

    gap_ln: float
    share_larger: float
    within_sd_ln: float
    chance_larger: Array
    ln_ratio: float
    p_value: float
    n_simulated: int


def size_scores(parameters: FactorParameters, matrix: LnMatrix) -> SizeScores:
    """Return the size of every row by weighted least squares on its own measurements.

    ``parameters`` come from :func:`bonewright.skeleton.factor_em.fit_factors` on the same
    matrix; empty rows are left out.
    """
    matrix = matrix.known_part()
    mean, total = size_posterior(parameters, matrix)
    own = total - 1 / parameters.size_variance
    # The posterior mean is drawn towards 0 by the spread of sizes; here the bones alone speak.
    return SizeScores(
        rows=matrix.rows,
        size_ln=mean * total / own,
        error_ln=1 / np.sqrt(own),
    )


def compare_one_and_two_sizes(
    scores: SizeScores,
    *,
    known_larger: Array | None = None,
    rng: np.random.Generator,
    n_simulated: int = 499,
) -> SizeComparison:
    """Compare one bell curve of sizes with two of equal width.

    Parameters
    ----------
    scores : SizeScores
    known_larger : (n,) float
        1 and 0 for individuals of the two sexes, NaN where unknown. If given, 1 marks the
        sex thought larger: a negative ``gap_ln`` says it is the smaller.
    rng, n_simulated
        Source and number of simulated studies.

    Raises
    ------
    NotEnoughEvidence
        If there are fewer than six individuals.
    """
    n = len(scores.rows)
    if n < FEWEST:
        raise NotEnoughEvidence(
            "One size cannot be told from two.",
            needed=f"{FEWEST} individuals",
            found=str(n),
            would_help="more individuals with measured bones",
        )
    labels = np.full(n, np.nan) if known_larger is None else known_larger
    error2 = scores.error_ln**2
    one = _fit_one(scores.size_ln[None], error2)
    two = _fit_two(scores.size_ln[None], error2, labels)
    found = float(two.ln_likelihood[0] - one.ln_likelihood[0])
    spread = np.sqrt(one.variance[0] + error2)
    simulated = rng.standard_normal((n_simulated, n)) * spread
    gains = _fit_two(simulated, error2, labels).ln_likelihood
    gains -= _fit_one(simulated, error2).ln_likelihood
    return SizeComparison(
        gap_ln=float(two.gap[0]),
        share_larger=float(two.share[0]),
        within_sd_ln=float(np.sqrt(two.variance[0])),
        chance_larger=two.larger[0],
        ln_ratio=found,
        p_value=float((1 + np.sum(gains >= found)) / (1 + n_simulated)),
        n_simulated=n_simulated,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    ln_likelihood: Array
    variance: Array
    gap: Array
    share: Array
    larger: Array


def _fit_one(sizes: Array, error2: Array, rounds: int = 60) -> _Fit:
    """Fit one centre and spread to each of the (b, n) studies."""
    variance = np.maximum(np.var(sizes, axis=1) - error2.mean(), 1e-6)
    for _ in range(rounds):
        total = variance[:, None] + error2
        centre = _weighted_mean(sizes, 1 / total)
        variance = _refined_variance(sizes - centre[:, None], variance, error2)
    total = variance[:, None] + error2
    centre = _weighted_mean(sizes, 1 / total)
    nothing = np.zeros(len(sizes))
    return _Fit(
        ln_likelihood=_ln_normal(sizes - centre[:, None], total).sum(axis=1),
        variance=variance,
        gap=nothing,
        share=nothing,
        larger=np.zeros_like(sizes),
    )


def _fit_two(sizes: Array, error2: Array, labels: Array, rounds: int = 150) -> _Fit:
    """Fit two centres with one spread to each of the (b, n) studies."""
    known = ~np.isnan(labels)
    middle = np.median(sizes, axis=1, keepdims=True)
    larger = np.where(known, np.nan_to_num(labels), (sizes > middle).astype(float))
    variance = np.maximum((np.var(sizes, axis=1) - error2.mean()) / 3, 1e-6)
    share = np.full(len(sizes), 0.5)
    for _ in range(rounds):
        total = variance[:, None] + error2
        high = _weighted_mean(sizes, larger / total)
        low = _weighted_mean(sizes, (1 - larger) / total)
        own = larger * (sizes - high[:, None]) ** 2 + (1 - larger) * (sizes - low[:, None]) ** 2
        part = variance[:, None] / total
        variance = np.maximum(np.mean(part**2 * own + part * error2, axis=1), 1e-7)
        # One pseudo-individual of each keeps either curve from vanishing.
        share = (1 + larger.sum(axis=1)) / (2 + sizes.shape[1])
        total = variance[:, None] + error2
        ln_high = _ln_normal(sizes - high[:, None], total)
        ln_low = _ln_normal(sizes - low[:, None], total)
        ln_odds = np.log(share / (1 - share))[:, None]
        larger = np.where(known, np.nan_to_num(labels), expit(ln_odds + ln_high - ln_low))
    ln_share, ln_rest = np.log(share)[:, None], np.log1p(-share)[:, None]
    mixed = np.logaddexp(ln_share + ln_high, ln_rest + ln_low)
    labelled = np.where(labels == 1, ln_high, ln_low)
    return _Fit(
        ln_likelihood=np.where(known, labelled, mixed).sum(axis=1),
        variance=variance,
        gap=high - low,
        share=share,
        larger=larger,
    )


def _weighted_mean(sizes: Array, weight: Array) -> Array:
    return np.asarray((sizes * weight).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-300))


def _refined_variance(off: Array, variance: Array, error2: Array) -> Array:
    """Return the spread's variance after one round, known errors taken out."""
    part = variance[:, None] / (variance[:, None] + error2)
    return np.asarray(np.maximum(np.mean(part**2 * off**2 + part * error2, axis=1), 1e-7))


def _ln_normal(off: Array, variance: Array) -> Array:
    return np.asarray(-0.5 * (off**2 / variance + np.log(2 * np.pi * variance)))
