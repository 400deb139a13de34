"""The joint model laid on a study's individuals: which rows, which sexes, which average."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.quantity import Draws
from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.joint_model import (
    JointModel,
    animals_worth,
    fit_joint_model,
    target_from_relatives,
)
from bonewright.skeleton.ln_matrix import Code, Entry, LnMatrix, ln_matrix
from bonewright.skeleton.measuring_error import MeasuringError
from bonewright.skeleton.reduction import IndividualValue
from bonewright.skeleton.sexes import SizeComparison, compare_one_and_two_sizes, size_scores

__all__ = ["NOT_JOINT", "AverageChoice", "JointAverage", "joint_average"]

NOT_JOINT = frozenset({"phalanx"})
"""The tables do not say which toe bone each is, so that no model can join them."""

OF_ONE_SEX = frozenset({"larger sex", "smaller sex", "female", "male"})
_SIMULATED = 199


@dataclass(frozen=True, slots=True, kw_only=True)
class AverageChoice:
    """Which average is wanted, as in study.toml.

    ``kind`` is arithmetic, geometric, median, percentile, larger sex, smaller sex, female
    or male; ``both_sexes_alike`` asks for the middle between the sexes, however many of
    each were collected.
    """

    kind: str = "arithmetic"
    percentile: float = 50.0
    both_sexes_alike: bool = False

    @property
    def needs_two_sizes(self) -> bool:
        """Whether the two sexes have to be told apart."""
        return self.both_sexes_alike or self.kind in OF_ONE_SEX


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointAverage:
    """The model, the table it was fitted to, draws (n_draws, p) in mm, and the sexes.

    ``mean_ln_worlds`` (n_states, p, draws of a state) are the mean logarithms they came from.
    ``sexes`` is None with too few individuals; ``sex_of_row`` holds the known sexes;
    ``larger_sex`` is the one that the known sexes show as larger, or None.
    """

    matrix: LnMatrix
    model: JointModel
    mean_ln_worlds: NDArray[np.float64]
    draws_mm: Draws
    relatives: LnMatrix | None
    sexes: SizeComparison | None
    sex_of_row: Mapping[str, str]
    larger_sex: str | None

    def column(self, code: Code) -> Draws:
        """Return the draws of one code, (n_draws,), mm."""
        return self.draws_mm[:, self.model.column(code)]

    def between_sd_ln(self, code: Code) -> float:
        """Return the standard deviation between individuals, ln."""
        place = self.model.column(code)
        return float(np.sqrt(self.model.covariance_ln[place, place]))


def joint_average(
    values: Sequence[IndividualValue],
    *,
    measuring: MeasuringError,
    relatives: LnMatrix | None,
    choice: AverageChoice,
    minimum_individuals: int,
    rng: np.random.Generator,
    n_draws: int,
) -> JointAverage | None:
    """Fit the joint model and draw the average that is wanted; None without a usable row.

    Parameters
    ----------
    values : sequence of IndividualValue
        Toe bones are passed over.
    measuring : MeasuringError
        Its error is carried into every draw.
    relatives : LnMatrix, optional
        Living species; the covariance is pulled to their pattern.
    choice : AverageChoice
    minimum_individuals : int
        By the count of bones; named individuals may be more.
    rng, n_draws
        Source and number of draws.

    Raises
    ------
    NotEnoughEvidence
        If one sex is asked for and no bone's sex is known.
    """
    used = [value for value in values if value.element not in NOT_JOINT]
    if not used:
        return None
    matrix = ln_matrix(
        Entry(
            row=value.individual,
            code=(value.element, value.code),
            value_mm=bone.value_mm,
            relative_error=measuring.relative_error(bone),
        )
        for value in used
        for bone in value.bones
    )
    target = None if relatives is None else target_from_relatives(relatives, codes=matrix.codes)
    sex_of_row = _sexes(used)
    scores = size_scores(fit_factors(matrix, target=target, max_rounds=60, tolerance=0.01), matrix)
    female = np.array(
        [{"female": 1.0, "male": 0.0}.get(sex_of_row.get(row, ""), np.nan) for row in scores.rows]
    )
    labelled = {1.0, 0.0} <= set(female[~np.isnan(female)].tolist())
    try:
        sexes = compare_one_and_two_sizes(
            scores,
            known_larger=female if labelled else None,
            rng=rng.spawn(1)[0],
            n_simulated=_SIMULATED,
        )
    except NotEnoughEvidence:
        sexes = None
    larger = None
    if sexes is not None and labelled:
        larger = "female" if sexes.gap_ln > 0 else "male"
    named = len({value.individual for value in used if not value.loose})
    loose = len({value.individual for value in used if value.loose})
    model = fit_joint_model(
        matrix,
        target=target,
        two_sizes=choice.needs_two_sizes,
        larger_sex={row: sex == larger for row, sex in sex_of_row.items()}
        if choice.needs_two_sizes and larger is not None
        else None,
        animals=animals_worth(fewest=max(minimum_individuals, named), n_named=named, n_loose=loose),
        rng=rng,
    )
    average = _average_of(choice, larger)
    worlds = model.mean_ln_worlds(rng=rng, n_draws=n_draws)
    return JointAverage(
        matrix=matrix.known_part(),
        model=model,
        mean_ln_worlds=worlds,
        draws_mm=model.length_draws(
            worlds, average=average, percentile=choice.percentile, n_draws=n_draws
        ),
        relatives=relatives,
        sexes=sexes,
        sex_of_row=sex_of_row,
        larger_sex=larger,
    )


def _sexes(values: Sequence[IndividualValue]) -> dict[str, str]:
    """Return the sex of each individual of which it is known and told alike by all bones."""
    told: dict[str, set[str]] = {}
    for value in values:
        for bone in value.bones:
            sex = bone.bone.specimen.sex
            if sex in ("female", "male"):
                told.setdefault(value.individual, set()).add(sex)
    return {row: next(iter(sexes)) for row, sexes in told.items() if len(sexes) == 1}


def _average_of(choice: AverageChoice, larger: str | None) -> str:
    if choice.kind not in ("female", "male"):
        return choice.kind
    if larger is None:
        raise NotEnoughEvidence(
            f"The average {choice.kind} could not be computed.",
            needed="bones of known sex of both sexes",
            found="none, or of one sex only",
            would_help="sexes in specimens.csv; or choose average = 'larger sex' in study.toml",
        )
    return "larger sex" if choice.kind == larger else "smaller sex"
