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
from bonewright.remembering import recalled
from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.factor_sampling import SampledStates, sample_states
from bonewright.skeleton.ln_matrix import Code, LnMatrix
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES, Pull, ShrinkageTarget

__all__ = [
    "JointModel",
    "animals_worth",
    "fit_joint_model",
    "in_turn",
    "noise_of_worlds",
    "target_from_relatives",
]


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
    states: SampledStates
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

    def mean_ln_worlds(self, *, rng: np.random.Generator, n_draws: int) -> NDArray[np.float64]:
        """Draw the means of the logarithms state by state, (n_states, p, draws of a state).

        Bones move together. As many of each state as ``n_draws`` need (see :func:`in_turn`).
        """
        states = self.states
        n_states, p = states.mean_ln.shape
        half = np.empty((n_states, p + 1, p))
        half[:, :p] = states.mean_half
        half[:, p] = _lacking_ln(states, self.animals)
        noise = recalled(
            noise_of_worlds, rng.spawn(1)[0], (n_states, p + 1, -(-n_draws // n_states))
        )
        worlds = np.matmul(half.transpose(0, 2, 1), noise)
        worlds += states.mean_ln[:, :, None]
        return np.asarray(worlds)

    def mean_ln_draws(self, *, rng: np.random.Generator, n_draws: int) -> Draws:
        """Draw the means of the logarithms, (n_draws, p): bones move together."""
        return in_turn(self.mean_ln_worlds(rng=rng, n_draws=n_draws), n_draws)

    def length_draws(
        self,
        worlds: NDArray[np.float64],
        *,
        average: str = "arithmetic",
        percentile: float = 50.0,
        n_draws: int,
    ) -> Draws:
        """Return the average skeleton, (n_draws, p), mm.

        Parameters
        ----------
        worlds : (n_states, p, draws of a state) float
            From :meth:`mean_ln_worlds`.
        average : str
            ``arithmetic``: the mean length. ``geometric``: the exponent of the mean
            logarithm. ``median``: the individual of middle size, which in this model is
            the geometric mean. ``percentile``: the individual larger than ``percentile``
            percent of its kind, in average proportions. ``larger sex`` and
            ``smaller sex``: the geometric mean of one, where the model has two.
        percentile : float
            Between 0 and 100, both excluded.
        n_draws : int

        Raises
        ------
        OutsideRange
            If the kind of average is unknown, the percentile is not between 0 and 100, or
            a sex is asked for where the model has one size only.
        """
        if average in {"geometric", "median"}:
            return in_turn(np.exp(worlds), n_draws)
        lengths = worlds + self._steps_ln(average, percentile)[:, :, None]
        return in_turn(np.exp(lengths, out=lengths), n_draws)

    def _steps_ln(self, average: str, percentile: float) -> NDArray[np.float64]:
        """Return by how much ln lengths of the kind of average exceed the mean ln, (s, p)."""
        states = self.states
        half_gap = states.loading * states.sex_gap_ln[:, None] / 2
        if average == "arithmetic":
            variance = states.loading**2 * states.size_variance[:, None]
            variance += states.bone_loading**2 + states.residual_variance
            return np.asarray(variance / 2 + np.log(np.cosh(half_gap)))
        if average == "percentile":
            if not 0 < percentile < 100:
                raise OutsideRange(
                    f"There is no individual larger than {percentile} % of its kind.",
                    remedy="Choose a percentile between 0 and 100.",
                )
            sizes = zip(np.sqrt(states.size_variance), states.sex_gap_ln, strict=True)
            at = [_size_at(float(spread), float(gap), percentile / 100) for spread, gap in sizes]
            return np.asarray(states.loading * np.array(at)[:, None])
        if average in {"larger sex", "smaller sex"} and self.two_sizes:
            return np.asarray(half_gap if average == "larger sex" else -half_gap)
        raise OutsideRange(
            f"There is no average called {average} here.",
            remedy="Choose arithmetic, geometric, median or percentile; a sex needs two sizes.",
        )


def noise_of_worlds(rng: np.random.Generator, shape: tuple[int, int, int]) -> Draws:
    """Draw standard normals that nobody changes: alike however the measurements are edited."""
    noise = rng.standard_normal(shape)
    noise.flags.writeable = False
    return noise


def in_turn(worlds: NDArray[np.float64], n_draws: int) -> Draws:
    """Let the states take turns: (n_states, p, draws of a state) becomes (n_draws, p).

    Draw i is of state i modulo the number of states, so that the first draws are of many
    states. Each column lies in one piece in memory.
    """
    n_states, p, each = worlds.shape
    return np.asarray(worlds.transpose(1, 2, 0).reshape(p, each * n_states)[:, :n_draws].T)


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
    mean = states.mean_ln.mean(axis=0)
    animals = min(animals or len(known.rows), len(known.rows))
    # Doubt within each state, what it lacks, and the states' differences, one under another.
    doubts = (
        states.mean_half.reshape(-1, len(mean)),
        _lacking_ln(states, animals),
        states.mean_ln - mean,
    )
    return JointModel(
        codes=known.codes,
        mean_ln=mean,
        covariance_ln=states.mean_spread_ln(),
        mean_covariance_ln=np.sum([doubt.T @ doubt for doubt in doubts], axis=0) / len(states),
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
    loading = fitted.loading[theirs]
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


def _lacking_ln(states: SampledStates, animals: float) -> NDArray[np.float64]:
    """Return what the doubt of each mean lacks of that of so many animals' size, (s, p), ln.

    A loose femur and a loose skull of one bird come out large together, which rows taken
    for different animals do not show. The share of the means' doubt that moves all of them
    with size is 1 / (loading' precision loading); what is added brings it up to the variance
    of size over the number of animals.
    """
    lacking = states.sizes_variance() / animals - 1 / states.along_size
    return np.asarray(np.sqrt(np.maximum(lacking, 0.0))[:, None] * states.loading)


def _size_at(spread: float, gap: float, share: float) -> float:
    """Return ln size below which ``share`` of individuals fall, both sexes alike in number."""
    if gap == 0:
        return spread * float(ndtri(share))
    half = abs(gap) / 2
    edge = 12 * spread + half

    def excess(size: float) -> float:
        return float((ndtr((size - half) / spread) + ndtr((size + half) / spread)) / 2 - share)

    from scipy.optimize import brentq

    return float(brentq(excess, -edge, edge))
