"""All measurements of the skeleton at once, from individuals that each lack most of them.

Bones of one individual say something about each other: a bird with a long femur had a
long tarsometatarsus. So a mean need not rest only on the individuals that have that bone.
The model holds that on a logarithmic scale each individual has a size, each of its bones
a deviation of its own, and each measurement a residual; what is missing simply does not
speak. A bone known from a single piece then has an interval as wide as such bones vary,
narrowed by what the rest of that individual says of its size.

The result is draws in which all bones move together, and a covariance that tells what an
unmeasured bone would measure.

What goes wrong silently: if bones are missing *because* of their size (only large femora
were picked up, while skulls of all sizes were), the model takes the picked ones for fair.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.quantity import Draws
from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.factor_sampling import SampledState, sample_states
from bonewright.skeleton.ln_matrix import Code, LnMatrix
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES, Pull, ShrinkageTarget

__all__ = ["JointModel", "animals_worth", "fit_joint_model", "target_from_relatives"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointModel:
    """Mean and covariance of ln measurements, and what is not known about them.

    ``mean_ln`` (p,) and ``covariance_ln`` (p, p, between individuals, without measuring
    error) are averages over ``states``; ``mean_covariance_ln`` (p, p) says how well the
    means are known. ``two_sizes`` says that the mean is the middle between two sexes;
    ``animals`` how many evenly measured animals a mean size is worth at most.
    """

    codes: tuple[Code, ...]
    mean_ln: NDArray[np.float64]
    covariance_ln: NDArray[np.float64]
    mean_covariance_ln: NDArray[np.float64]
    states: tuple[SampledState, ...]
    two_sizes: bool
    animals: float

    def column(self, code: Code) -> int:
        """Return the place of a code.

        Raises
        ------
        NotEnoughEvidence
            If the model does not hold the code.
        """
        if code not in self.codes:
            raise NotEnoughEvidence(
                f"The skeleton has no {' '.join(code)}.",
                needed="at least one measurement of it",
                found="none",
                would_help="a measurement of that bone, or living relatives that have it",
            )
        return self.codes.index(code)

    def mean_ln_draws(self, *, rng: np.random.Generator, n_draws: int) -> Draws:
        """Draw the means of the logarithms, (n_draws, p): bones move together."""
        drawn = np.empty((n_draws, len(self.codes)))
        n_states = len(self.states)
        for number, state in enumerate(self.states):
            part = drawn[number::n_states]
            part[:] = rng.standard_normal(part.shape) @ state.mean_half.T + state.mean_ln
            lacking = _lacking_ln(state, self.animals)
            part += rng.standard_normal((len(part), 1)) * lacking
        return drawn

    def length_draws(
        self,
        *,
        average: str = "arithmetic",
        percentile: float = 50.0,
        rng: np.random.Generator,
        n_draws: int,
    ) -> Draws:
        """Draw the average skeleton, (n_draws, p), mm.

        Parameters
        ----------
        average : str
            ``arithmetic``: the mean length. ``geometric``: the exponent of the mean
            logarithm. ``median``: the individual of middle size, which in this model is
            the geometric mean. ``percentile``: the individual larger than ``percentile``
            percent of its kind, in average proportions. ``larger sex`` and
            ``smaller sex``: the geometric mean of one, where the model has two.
        percentile : float
            Between 0 and 100, both excluded.
        rng, n_draws
            Source and number of draws.

        Raises
        ------
        OutsideRange
            If the kind of average is unknown, the percentile is not between 0 and 100, or
            a sex is asked for where the model has one size only.
        """
        draws = self.mean_ln_draws(rng=rng, n_draws=n_draws)
        if average in {"geometric", "median"}:
            return np.exp(draws)
        for number, state in enumerate(self.states):
            draws[number :: len(self.states)] += self._step_ln(state, average, percentile)
        return np.exp(draws)

    def _step_ln(self, state: SampledState, average: str, percentile: float) -> NDArray[np.float64]:
        """Return by how much ln lengths of the kind of average exceed the mean ln, (p,)."""
        parameters = state.parameters
        if average == "arithmetic":
            variance = np.diag(parameters.covariance_ln())
            return variance / 2 + np.log(np.cosh(parameters.loading[:, 0] * state.sex_gap_ln / 2))
        if average == "percentile":
            if not 0 < percentile < 100:
                raise OutsideRange(
                    f"There is no individual larger than {percentile} % of its kind.",
                    remedy="Choose a percentile between 0 and 100.",
                )
            return parameters.loading[:, 0] * _size_at(state, percentile / 100)
        if average in {"larger sex", "smaller sex"} and self.two_sizes:
            sign = 1 if average == "larger sex" else -1
            return sign * parameters.loading[:, 0] * state.sex_gap_ln / 2
        raise OutsideRange(
            f"There is no average called {average} here.",
            remedy="Choose arithmetic, geometric, median or percentile; a sex needs two sizes.",
        )


def fit_joint_model(
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None = None,
    pull: Pull | None = None,
    larger_sex: Mapping[str, bool] | None = None,
    two_sizes: bool = False,
    animals: float | None = None,
    rng: np.random.Generator,
    n_states: int = 200,
) -> JointModel:
    """Fit the joint model to a table with gaps.

    Parameters
    ----------
    matrix : LnMatrix
        Rows are individuals. Gross mistakes must be out (see
        :func:`bonewright.skeleton.fit_of_bone.doubtful_cells`).
    target : ShrinkageTarget
        From :func:`target_from_relatives`, or proportional growth if not given.
    pull : Pull
        Scales of the vague priors.
    larger_sex : mapping
        With ``two_sizes``: row to whether it is of the larger sex, where known.
    two_sizes : bool
        Whether to estimate the middle between two sexes instead of the mean of those
        collected. See :func:`bonewright.skeleton.sexes.compare_one_and_two_sizes`.
    animals : float
        How many animals the rows are worth, where loose bones may be of one animal (see
        :func:`animals_worth`). The mean size is then not held better known than so many
        animals allow. All rows are taken for different animals if it is not given.
    rng : numpy.random.Generator
    n_states : int
        How many parameter states stand for what is not known.

    Raises
    ------
    NotEnoughEvidence
        If a code has no value.
    """
    known = matrix.known_part()
    labels = np.full(len(known.rows), np.nan)
    if larger_sex:
        for place, row in enumerate(known.rows):
            if row in larger_sex:
                labels[place] = float(larger_sex[row])
    start = fit_factors(known, target=target, pull=pull, max_rounds=60, tolerance=0.01)
    states = sample_states(
        known,
        target=target,
        pull=pull,
        start=start,
        known_larger=labels,
        two_sizes=two_sizes,
        rng=rng,
        n_states=n_states,
    )
    means = np.stack([state.mean_ln for state in states])
    mean = means.mean(axis=0)
    animals = min(animals or len(known.rows), len(known.rows))
    within = np.mean([state.mean_half @ state.mean_half.T for state in states], axis=0)
    lacking = [_lacking_ln(state, animals) for state in states]
    within += np.mean([np.outer(part, part) for part in lacking], axis=0)
    return JointModel(
        codes=known.codes,
        mean_ln=mean,
        covariance_ln=np.mean([state.spread_ln() for state in states], axis=0),
        mean_covariance_ln=within + (means - mean).T @ (means - mean) / len(states),
        states=states,
        two_sizes=two_sizes,
        animals=animals,
    )


def target_from_relatives(relatives: LnMatrix, *, codes: tuple[Code, ...]) -> ShrinkageTarget:
    """Return the pattern in which living relatives' measurements move together.

    Parameters
    ----------
    relatives : LnMatrix
        Rows are species.
    codes : tuple of codes
        Those of the lost animal; a code that no relative has follows size one to one.

    Raises
    ------
    NotEnoughEvidence
        If fewer than four species are given.
    """
    if len(relatives.rows) < 4:
        raise NotEnoughEvidence(
            "The relatives' pattern of variation cannot be learned.",
            needed="four species or more",
            found=f"{len(relatives.rows)}",
            would_help="more rows in relative_measurements",
        )
    fitted = fit_factors(relatives, pull=BETWEEN_SPECIES)
    place = {code: number for number, code in enumerate(relatives.codes)}
    size, bone, residual = np.ones(len(codes)), np.zeros(len(codes)), np.ones(len(codes))
    shared = [number for number, code in enumerate(codes) if code in place]
    if not shared:
        return ShrinkageTarget(size_loading=size, bone_loading=bone, residual_variance=residual)
    theirs = [place[codes[number]] for number in shared]
    loading = fitted.loading[theirs, 0]
    size[shared] = loading / np.mean(loading)
    bone[shared] = fitted.bone_loading[theirs]
    variance = fitted.residual_variance[theirs]
    residual[shared] = variance / np.exp(np.mean(np.log(variance)))
    return ShrinkageTarget(size_loading=size, bone_loading=bone, residual_variance=residual)


def animals_worth(*, fewest: int, n_named: int, n_loose: int) -> float:
    """Return how many evenly measured animals a mean size of these rows is worth.

    Parameters
    ----------
    fewest : int
        How many animals the rows stand for at least.
    n_named, n_loose : int
        Rows of named individuals, and of bones nobody has joined to others.

    Notes
    -----
    Named individuals have a row each; loose bones fall on the animals as they come. An
    animal that left six of them counts six times in the mean. The mean of ``fewest`` animals
    weighted so unevenly is known as well as that of ``fewest`` / (1 + squared coefficient of
    variation of the weights) alike ones ([Kish1965]_).
    """
    if not n_loose or not fewest:
        return float(fewest)
    named = min(n_named / fewest, 1.0)
    weight, variance = (n_named + n_loose) / fewest, named * (1 - named) + n_loose / fewest
    return fewest / (1 + variance / weight**2)


def _lacking_ln(state: SampledState, animals: float) -> NDArray[np.float64]:
    """Return what the doubt of each mean lacks of that of so many animals' size, (p,), ln.

    A loose femur and a loose skull of one bird come out large together, which rows taken
    for different animals do not show. The share of the means' doubt that moves all of them
    with size is 1 / (loading' precision loading); what is added brings it up to the variance
    of size over the number of animals.
    """
    parameters = state.parameters
    loading = parameters.loading[:, 0]
    size_variance = parameters.factor_variance[0] + state.sex_gap_ln**2 / 4
    common = 1 / float(np.sum(np.linalg.solve(state.mean_half, loading) ** 2))
    return np.asarray(np.sqrt(max(size_variance / animals - common, 0.0)) * loading)


def _size_at(state: SampledState, share: float) -> float:
    """Return ln size below which ``share`` of individuals fall, both sexes alike in number."""
    spread = float(np.sqrt(state.parameters.factor_variance[0]))
    if state.sex_gap_ln == 0:
        return spread * float(ndtri(share))
    half = abs(state.sex_gap_ln) / 2
    edge = 12 * spread + half

    def excess(size: float) -> float:
        return float((ndtr((size - half) / spread) + ndtr((size + half) / spread)) / 2 - share)

    from scipy.optimize import brentq

    return float(brentq(excess, -edge, edge))
