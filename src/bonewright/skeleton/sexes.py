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
    from bonewright.skeleton.two_sizes_kernels import gains_of_two, one_curve, two_curves

    n = len(scores.rows)
    if n < FEWEST:
        raise NotEnoughEvidence(
            "One size cannot be told from two.",
            needed=f"{FEWEST} individuals",
            found=str(n),
            would_help="more individuals with measured bones",
        )
    labels = np.full(n, np.nan) if known_larger is None else known_larger
    sizes, error2 = scores.size_ln, scores.error_ln**2
    of_one, variance = one_curve(sizes, error2)
    larger = np.empty(n)
    of_two, within, gap, share = two_curves(sizes, error2, labels, float(np.median(sizes)), larger)
    simulated = rng.standard_normal((n_simulated, n)) * np.sqrt(variance + error2)
    gains = gains_of_two(simulated, error2, labels, np.median(simulated, axis=1))
    return SizeComparison(
        gap_ln=gap,
        share_larger=share,
        within_sd_ln=float(np.sqrt(within)),
        chance_larger=larger,
        ln_ratio=of_two - of_one,
        p_value=float((1 + np.sum(gains >= of_two - of_one)) / (1 + n_simulated)),
        n_simulated=n_simulated,
    )
