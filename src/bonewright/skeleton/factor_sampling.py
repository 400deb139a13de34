"""The size-and-bone factor model sampled, so that what is not known about it counts.

A fitted covariance is too sure of itself when a bone is known from three pieces. Here
every parameter is drawn in turn given the others (Gibbs sampling): size of each
individual, deviation of each bone, means and loadings, residual variances, and also how
strongly loadings and variances are pulled to their target, so that the strength of the
shrinkage is learned and its doubt is carried on.

Two moves that change many parameters at once (all sizes against all means) keep the chain
from creeping. If the sexes differ in size and were not collected evenly, size has two
centres, one for each sex, and the mean is that of the middle between them.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, gammaln

from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.factor_scores import (
    FactorParameters,
    element_columns,
    factor_posterior,
    precision_of_means,
)
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.shrinkage import Pull, ShrinkageTarget, alike_in_all_parts

__all__ = ["SampledState", "sample_states"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SampledState:
    """One drawn set of parameters with what it implies for the means.

    ``mean_ln`` (p,) and ``mean_half`` (p, p) describe the normal distribution of the means
    given the rest: a draw is ``mean_ln + mean_half @ standard normals``.
    ``parameters.factor_variance`` is within one sex where ``sex_gap_ln`` is not 0;
    ``sex_gap_ln`` is the larger sex's size less the smaller's, in ln size.
    """

    parameters: FactorParameters
    mean_ln: Array
    mean_half: Array
    sex_gap_ln: float

    def spread_ln(self) -> Array:
        """Covariance between individuals of both sexes, (p, p), without measuring error."""
        loading = self.parameters.loading[:, 0]
        between_sexes = self.sex_gap_ln**2 / 4
        return self.parameters.covariance_ln() + between_sexes * np.outer(loading, loading)


@dataclass(slots=True)
class _Chain:
    mean: Array
    loading: Array
    bone_loading: Array
    residual: Array
    size_variance: float
    loading_spread2: float
    bone_spread2: float
    bone_scale: float
    residual_scale: float
    residual_weight: float
    gap: float
    larger: Array
    share: float


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
) -> tuple[SampledState, ...]:
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
    pull = pull or Pull()
    target = target or alike_in_all_parts(len(matrix.codes))
    start = start or fit_factors(matrix, target=target, pull=pull)
    labels = np.full(len(matrix.rows), np.nan) if known_larger is None else known_larger
    chain = _Chain(
        mean=start.mean_ln.copy(),
        loading=start.loading[:, 0].copy(),
        bone_loading=start.bone_loading.copy(),
        residual=start.residual_variance.copy(),
        size_variance=float(start.factor_variance[0]),
        loading_spread2=pull.loading_spread**2,
        bone_spread2=pull.bone_spread**2,
        bone_scale=0.0,
        residual_scale=pull.residual_sd**2,
        residual_weight=pull.residual_weight,
        gap=0.0,
        larger=np.full(len(matrix.rows), 0.5),
        share=0.5,
    )
    if two_sizes:
        size = factor_posterior(start, matrix).mean[:, 0]
        chain.gap = 2 * float(np.std(size))
        chain.larger = np.where(np.isnan(labels), (size > 0).astype(float), labels)
        chain.size_variance /= 2
    setting = _Setting(matrix, target=target, pull=pull, labels=labels, two_sizes=two_sizes)
    states = []
    for sweep in range(burn_in + n_states * thin):
        setting.sweep(chain, rng)
        if sweep >= burn_in and (sweep - burn_in) % thin == thin - 1:
            states.append(setting.state(chain))
    return tuple(states)


class _Setting:
    """What stays the same from sweep to sweep."""

    def __init__(
        self,
        matrix: LnMatrix,
        *,
        target: ShrinkageTarget,
        pull: Pull,
        labels: Array,
        two_sizes: bool,
    ) -> None:
        self.matrix, self.target, self.pull = matrix, target, pull
        self.labels, self.two_sizes = labels, two_sizes
        self.element = matrix.element_of_code
        self.columns = element_columns(self.element)
        self.several = np.bincount(self.element)[self.element] > 1
        self.present = matrix.present.astype(np.float64)
        self.error2 = matrix.error_sd_ln**2
        self.has_error = bool(np.any(self.error2 > 0))
        self.has_bone = matrix.present @ self.columns > 0
        self.n_bones = self.has_bone.sum(axis=0)
        self.counts = matrix.present.sum(axis=0)

    def parameters(self, chain: _Chain) -> FactorParameters:
        return FactorParameters(
            mean_ln=chain.mean,
            loading=chain.loading[:, None],
            factor_variance=np.array([chain.size_variance]),
            bone_loading=chain.bone_loading,
            residual_variance=chain.residual,
            element=self.element,
        )

    def sweep(self, chain: _Chain, rng: np.random.Generator) -> None:
        """Draw every parameter once."""
        size, bone, weight = self._draw_factors(chain, rng)
        if self.two_sizes:
            self._draw_sexes(chain, size, rng)
        self._draw_lines(chain, size, bone, weight, rng)
        self._draw_variances(chain, size, bone, rng)
        self._draw_pull(chain, rng)

    def state(self, chain: _Chain) -> SampledState:
        """Return the chain's state with the means' distribution given the rest."""
        parameters = self.parameters(chain)
        # The means are linear in the data: find them from a start of zero by one solve.
        offset = chain.gap * (chain.larger - 0.5)[:, None]
        shifted = replace(parameters, mean_ln=np.zeros_like(chain.mean))
        posterior = factor_posterior(shifted, self.matrix, expected=offset)
        information = precision_of_means(shifted, posterior)
        size = posterior.mean
        bone = posterior.bone_variance * (
            posterior.bone_pull - np.einsum("nef,nf->ne", posterior.bone_tie, size)
        )
        fitted = size @ parameters.loading.T + bone[:, self.element] * chain.bone_loading
        right = (posterior.weight * (self.matrix.values_ln - fitted)).sum(axis=0)
        lower = np.linalg.cholesky(information)
        half = np.linalg.inv(lower).T
        return SampledState(
            parameters=parameters,
            mean_ln=half @ (half.T @ right),
            mean_half=half,
            sex_gap_ln=chain.gap,
        )

    def _draw_factors(self, chain: _Chain, rng: np.random.Generator) -> tuple[Array, Array, Array]:
        n = len(self.matrix.rows)
        centre = chain.gap * (chain.larger - 0.5)
        posterior = factor_posterior(self.parameters(chain), self.matrix, expected=centre[:, None])
        size = posterior.mean[:, 0] + rng.standard_normal(n) / np.sqrt(posterior.precision[:, 0, 0])
        bone_mean = posterior.bone_pull - posterior.bone_tie[:, :, 0] * size[:, None]
        bone = posterior.bone_variance * bone_mean
        bone += np.sqrt(posterior.bone_variance) * rng.standard_normal(bone.shape)
        # All sizes against all means, and all deviations of one element against its means.
        shift = np.mean(size - centre) + rng.standard_normal() * np.sqrt(chain.size_variance / n)
        size -= shift
        bone_shift = (bone * self.has_bone).sum(axis=0) / self.n_bones
        bone_shift += rng.standard_normal(len(self.n_bones)) / np.sqrt(self.n_bones)
        bone -= bone_shift
        chain.mean = chain.mean + chain.loading * shift
        chain.mean += chain.bone_loading * bone_shift[self.element]
        return size, bone, posterior.weight

    def _draw_sexes(self, chain: _Chain, size: Array, rng: np.random.Generator) -> None:
        """Draw who is of the larger sex, how many are, and how far the sexes stand apart."""
        odds = chain.gap * size / chain.size_variance + np.log(chain.share / (1 - chain.share))
        drawn = (rng.random(len(size)) < expit(odds)).astype(float)
        chain.larger = np.where(np.isnan(self.labels), drawn, self.labels)
        n_larger = float(chain.larger.sum())
        chain.share = float(rng.beta(1 + n_larger, 1 + len(size) - n_larger))
        side = chain.larger - 0.5
        # A normal prior of 20 % keeps the gap in hand where the sexes hardly differ.
        precision = float(side @ side) / chain.size_variance + 1 / 0.2**2
        centre = float(side @ size) / chain.size_variance / precision
        drawn_gap = rng.normal(centre, 1 / np.sqrt(precision))
        chain.gap = float(abs(drawn_gap) if np.all(np.isnan(self.labels)) else drawn_gap)

    def _draw_lines(
        self, chain: _Chain, size: Array, bone: Array, weight: Array, rng: np.random.Generator
    ) -> None:
        """Draw mean, size loading and bone loading of every code together."""
        values = self.matrix.values_ln - chain.mean
        weighted = weight * values
        spread = bone[:, self.element]
        weighted_size = weight * size[:, None]
        weighted_bone = weight * spread
        normal = np.empty((len(self.element), 3, 3))
        normal[:, 0, 0] = weight.sum(axis=0)
        normal[:, 0, 1] = normal[:, 1, 0] = weighted_size.sum(axis=0)
        normal[:, 0, 2] = normal[:, 2, 0] = weighted_bone.sum(axis=0)
        normal[:, 1, 1] = (weighted_size * size[:, None]).sum(axis=0) + 1 / chain.loading_spread2
        normal[:, 1, 2] = normal[:, 2, 1] = (weighted_size * spread).sum(axis=0)
        normal[:, 2, 2] = (weighted_bone * spread).sum(axis=0) + 1 / chain.bone_spread2
        right = np.empty((len(self.element), 3))
        right[:, 0] = weighted.sum(axis=0)
        right[:, 1] = size @ weighted + self.target.size_loading / chain.loading_spread2
        right[:, 2] = (weighted * spread).sum(axis=0)
        right[:, 2] += chain.bone_scale * self.target.bone_loading / chain.bone_spread2
        alone = ~self.several
        normal[alone, :, 2] = 0.0
        normal[alone, 2, :] = 0.0
        normal[alone, 2, 2] = 1.0
        right[alone, 2] = 0.0
        half = np.linalg.inv(np.linalg.cholesky(normal))
        drawn = np.einsum("pba,pb->pa", half, np.einsum("pab,pb->pa", half, right))
        drawn += np.einsum("pba,pb->pa", half, rng.standard_normal(right.shape))
        chain.mean = chain.mean + drawn[:, 0]
        chain.loading = drawn[:, 1]
        chain.bone_loading = np.where(self.several, drawn[:, 2], 0.0)

    def _draw_variances(
        self, chain: _Chain, size: Array, bone: Array, rng: np.random.Generator
    ) -> None:
        residual = self.matrix.values_ln - chain.mean - size[:, None] * chain.loading
        residual -= bone[:, self.element] * chain.bone_loading
        if self.has_error:  # split each deviation into the bone's own and the measuring
            share = chain.residual / (chain.residual + self.error2)
            noise = np.zeros_like(residual)
            noise[self.matrix.present] = rng.standard_normal(int(self.counts.sum()))
            residual = share * residual + np.sqrt(share * self.error2) * noise
        squares = (self.present * residual**2).sum(axis=0)
        aimed = chain.residual_weight * chain.residual_scale * self.target.residual_variance
        chain.residual = (aimed + squares / 2) / rng.standard_gamma(
            chain.residual_weight + self.counts / 2
        )
        centred = size - chain.gap * (chain.larger - 0.5)
        imagined = self.pull.size_weight
        squares = imagined * self.pull.size_sd**2 + centred @ centred
        chain.size_variance = float(squares / 2 / rng.standard_gamma((imagined + len(size)) / 2))

    def _draw_pull(self, chain: _Chain, rng: np.random.Generator) -> None:
        """Draw how strongly loadings and variances are pulled to their target."""
        p = len(self.element)
        off = chain.loading - self.target.size_loading
        chain.loading_spread2 = float(
            (4 * self.pull.loading_spread**2 + off @ off) / 2 / rng.standard_gamma((4 + p) / 2)
        )
        some = self.several
        pattern = self.target.bone_loading[some]
        if np.any(pattern):
            squares = pattern @ pattern
            chain.bone_scale = float(
                rng.normal(
                    pattern @ chain.bone_loading[some] / squares,
                    np.sqrt(chain.bone_spread2 / squares),
                )
            )
        off = chain.bone_loading[some] - chain.bone_scale * pattern
        chain.bone_spread2 = float(
            (4 * self.pull.bone_spread**2 + off @ off)
            / 2
            / rng.standard_gamma((4 + int(some.sum())) / 2)
        )
        inverse = self.target.residual_variance / chain.residual
        weight = chain.residual_weight
        chain.residual_scale = float(
            rng.standard_gamma(weight * p + 1)
            / (weight * inverse.sum() + 1 / self.pull.residual_sd**2)
        )
        choices = np.array(self.pull.weight_choices)
        ln_aimed = np.log(choices[:, None] * chain.residual_scale * self.target.residual_variance)
        ln_density = p * -gammaln(choices)
        ln_density += (choices[:, None] * (ln_aimed - np.log(chain.residual))).sum(axis=1)
        ln_density -= choices * chain.residual_scale * inverse.sum()
        odds = np.exp(ln_density - ln_density.max())
        chain.residual_weight = float(rng.choice(choices, p=odds / odds.sum()))
