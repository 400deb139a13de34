"""The size-and-bone factor model sampled, so that what is not known about it counts.

A fitted covariance is too sure of itself when a bone is known from three pieces. Here
every parameter is drawn in turn given the others (Gibbs sampling): size of each
individual, deviation of each bone, means and loadings, residual variances, and also how
strongly loadings and variances are pulled to their target, so that the strength of the
shrinkage is learned and its doubt is carried on.

Two moves that change many parameters at once (all sizes against all means) keep the chain
from creeping. If the sexes differ in size and were not collected evenly, size has two
centres, one for each sex, and the mean is that of the middle between them. The sweeps
themselves are compiled (:mod:`bonewright.skeleton.factor_kernels`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.factor_scores import (
    FactorParameters,
    cells_of,
    chain_from,
    prior_of,
    size_posterior,
)
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.shrinkage import Pull, ShrinkageTarget, alike_in_all_parts

__all__ = ["SampledStates", "sample_states"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SampledStates:
    """Drawn sets of parameters, s of them, with what each implies for the means.

    ``loading``, ``bone_loading`` and ``residual_variance`` are (s, p); ``size_variance`` (s,)
    is within one sex where ``sex_gap_ln`` (s,), the larger sex's size less the smaller's, is
    not 0. Given the rest the means are normal about ``mean_ln`` (s, p): a draw is ``mean_ln +
    standard normals @ mean_half``, of ``mean_half`` (s, p, p). ``along_size`` (s,) is the
    information on a shift of all means in proportion to their size loadings. ``element`` (p,)
    numbers the element of each code.
    """

    loading: Array
    bone_loading: Array
    residual_variance: Array
    size_variance: Array
    sex_gap_ln: Array
    mean_ln: Array
    mean_half: Array
    along_size: Array
    element: NDArray[np.intp]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.loading)

    def sizes_variance(self) -> Array:
        """Variance of size over both sexes, (s,)."""
        return np.asarray(self.size_variance + self.sex_gap_ln**2 / 4)

    def spreads_ln(self) -> Array:
        """Covariance between individuals of both sexes, (s, p, p), without measuring error."""
        scaled = self.loading * self.sizes_variance()[:, None]
        spreads = scaled[:, :, None] * self.loading[:, None, :]
        same_bone = self.element[:, None] == self.element[None, :]
        spreads += same_bone * self.bone_loading[:, :, None] * self.bone_loading[:, None, :]
        spreads += self.residual_variance[:, :, None] * np.eye(len(self.element))
        return np.asarray(spreads)

    def mean_spread_ln(self) -> Array:
        """Return the average of :meth:`spreads_ln`, (p, p)."""
        scaled = self.loading * self.sizes_variance()[:, None]
        same_bone = self.element[:, None] == self.element[None, :]
        summed = scaled.T @ self.loading + same_bone * (self.bone_loading.T @ self.bone_loading)
        return np.asarray(summed / len(self) + np.diag(self.residual_variance.mean(axis=0)))

    def slopes_of(
        self, wanted: int, known: NDArray[np.intp], *, error_sd_ln: Array
    ) -> tuple[Array, Array]:
        """Say how an individual's wanted ln length follows from those of it that are known.

        ``known`` (m,) are their codes, ``error_sd_ln`` (m,) how well they were measured.
        Returns slopes (s, m) on what each exceeds its mean by, and the standard deviation
        (s,) of what is left: the regression that :meth:`spreads_ln` implies, without solving
        for a matrix.
        """
        weight = 1 / (self.residual_variance[:, known] + error_sd_ln**2)
        loading, bone = self.loading[:, known], self.bone_loading[:, known]
        columns = np.eye(int(self.element.max()) + 1)[self.element[known]]
        by_bone, by_size = weight * bone, weight * loading
        variance = 1 / (1 + (by_bone * bone) @ columns)
        tie = (by_bone * loading) @ columns
        precision = 1 / self.sizes_variance() + np.sum(by_size * loading, axis=1)
        size_variance = 1 / (precision - np.sum(variance * tie**2, axis=1))
        # How the expected size follows each known length, and then the bone's deviation.
        of_size = by_size - (variance * tie)[:, self.element[known]] * by_bone
        of_size *= size_variance[:, None]
        element = self.element[wanted]
        own_variance, own_tie = variance[:, element], variance[:, element] * tie[:, element]
        own_loading, own_bone = self.loading[:, wanted], self.bone_loading[:, wanted]
        of_bone = own_variance[:, None] * by_bone * (self.element[known] == element)
        steepness = own_loading - own_bone * own_tie
        left = steepness**2 * size_variance + own_bone**2 * own_variance
        left += self.residual_variance[:, wanted]
        return steepness[:, None] * of_size + own_bone[:, None] * of_bone, np.sqrt(left)


def sample_states(
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None = None,
    pull: Pull | None = None,
    start: FactorParameters | None = None,
    known_larger: NDArray[np.float64] | None = None,
    two_sizes: bool = False,
    rng: np.random.Generator,
    n_states: int = 200,
    burn_in: int = 60,
    thin: int = 2,
) -> SampledStates:
    """Draw parameter states from their posterior.

    Parameters
    ----------
    matrix : LnMatrix
        Every code needs at least one value, every row too (see ``known_part``).
    target, pull
        Target of the covariance; ``pull`` gives the scales of the vague priors.
    start : FactorParameters
        Where the chain begins; the fitted mode if not given.
    known_larger : (n_rows,) float
        With ``two_sizes``: 1 for the larger sex, 0 for the smaller, NaN if unknown.
    two_sizes : bool
        Whether size has two centres; the means are then those of the middle.
    rng, n_states, burn_in, thin
        Source, number of states kept, states passed over first, and states a kept one.
    """
    from bonewright.skeleton import factor_kernels as kernels

    pull = pull or Pull()
    target = target or alike_in_all_parts(len(matrix.codes))
    start = start or fit_factors(matrix, target=target, pull=pull)
    labels = np.full(len(matrix.rows), np.nan) if known_larger is None else known_larger
    chain = chain_from(start, len(matrix.rows), pull=pull)
    if two_sizes:
        size, _ = size_posterior(start, matrix)
        chain.single[kernels.GAP] = 2 * float(np.std(size))
        chain.single[kernels.SIZE_VARIANCE] /= 2
        chain.larger[:] = np.where(np.isnan(labels), size > 0, labels)
    lines, single, means, halves, along_size = kernels.draw_states(
        cells_of(matrix),
        chain,
        prior_of(target, pull),
        labels,
        two_sizes,
        rng,
        n_states,
        burn_in,
        thin,
    )
    return SampledStates(
        loading=lines[:, 0],
        bone_loading=lines[:, 1],
        residual_variance=lines[:, 2],
        size_variance=single[:, kernels.SIZE_VARIANCE],
        sex_gap_ln=single[:, kernels.GAP],
        mean_ln=means,
        mean_half=halves,
        along_size=along_size,
        element=matrix.element_of_code,
    )
