"""How far scorers agree beyond chance: weighted kappa and Krippendorff's alpha."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from bonewright.study.model import PictureMark
from bonewright.testimony.pictures import scores_by_scorer

__all__ = ["Agreement", "scorer_agreement", "weighted_kappa"]

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Agreement of scorers on one kind of score.

    ``within_one_percent`` is the share of pairs of scores of one picture no more than one
    point apart; ``kappa`` the mean over pairs of scorers, weighted by the pictures both
    scored; both measures of chance are None where all scores are the same.
    """

    kind: str
    n_pictures: int
    n_scorers: int
    n_pairs: int
    within_one_percent: float
    mean_difference: float
    kappa: float | None
    alpha: float | None


def weighted_kappa(first: _Array, second: _Array) -> float | None:
    """Return Cohen's kappa of two scorers with squared weights; None if nothing varies.

    Parameters
    ----------
    first, second : (n,) float
        Scores of the same pictures.

    Notes
    -----
    Source: [Cohen1968]_. With squared weights the disagreement expected by chance needs the
    means and variances only, so half points need no table of categories.
    """
    by_chance = float(np.var(first) + np.var(second) + (first.mean() - second.mean()) ** 2)
    if by_chance == 0:
        return None
    return 1.0 - float(np.mean((first - second) ** 2)) / by_chance


def scorer_agreement(marks: Sequence[PictureMark], kind: str) -> Agreement | None:
    """Compare scorers on the pictures that several of them scored; None if there are none."""
    scores = {
        picture: of_picture
        for picture, of_picture in scores_by_scorer([m for m in marks if m.kind == kind]).items()
        if len(of_picture) > 1
    }
    differences = [
        abs(first - second)
        for of_picture in scores.values()
        for first, second in combinations(of_picture.values(), 2)
    ]
    if not differences:
        return None
    scorers = sorted({scorer for of_picture in scores.values() for scorer in of_picture})
    table = np.array(
        [[of_picture.get(scorer, np.nan) for of_picture in scores.values()] for scorer in scorers]
    )
    return Agreement(
        kind=kind,
        n_pictures=len(scores),
        n_scorers=len(scorers),
        n_pairs=len(differences),
        within_one_percent=float(100 * np.mean(np.array(differences) <= 1)),
        mean_difference=float(np.mean(differences)),
        kappa=_mean_kappa(table),
        alpha=_alpha(table),
    )


def _mean_kappa(table: _Array) -> float | None:
    kappas, weights = [], []
    for first, second in combinations(table, 2):
        both = np.isfinite(first) & np.isfinite(second)
        kappa = weighted_kappa(first[both], second[both]) if both.sum() > 1 else None
        if kappa is not None:
            kappas.append(kappa)
            weights.append(float(both.sum()))
    return float(np.average(kappas, weights=weights)) if kappas else None


def _alpha(table: _Array) -> float | None:
    if len(np.unique(table[np.isfinite(table)])) < 2:
        return None
    import krippendorff

    return float(krippendorff.alpha(reliability_data=table, level_of_measurement="ordinal"))
