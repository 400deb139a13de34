"""Other methods beside the joint model, each foretelling the study's own relatives.

This is the slow proof: every method is fitted anew without each species, each family and the
heaviest fifth, covariances and all, and is asked for what it did not see. It shows what kinship,
several bones and the question of giants are worth on the relatives at hand.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from bonewright.errors import BonewrightError
from bonewright.relatives.inverse_calibration import calibrate_tip
from bonewright.relatives.kin_and_size import BonesAndMass, Recipe, fit_kin_and_size
from bonewright.relatives.many_traits import fit_many_traits
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.phylogenetic_prediction import predictions_at_tips
from bonewright.relatives.tree_algebra import Model

__all__ = ["MethodScore", "compare_methods"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.int64]

# From a table, who is known and who is asked to low, middle and high of ln mass, (n_asked, 3).
Method = Callable[[BonesAndMass, Flags, Rows], Array]

_INTERVAL = np.array([0.025, 0.5, 0.975])
_HEAVIEST_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodScore:
    """How one method did in one test; the measures are those of ``ProofScore``.

    ``width`` is half the 95 % interval as a factor (its geometric mean). ``why_not`` says why
    a method has no answer, and the numbers then mean nothing.
    """

    method: str
    test: str
    n: int
    error_percent: float
    mean_ratio: float
    coverage_percent: float
    width: float
    why_not: str = ""


def compare_methods(table: BonesAndMass, *, families: Sequence[str]) -> tuple[MethodScore, ...]:
    """Let every method foretell the relatives of a table, refitted for each fold.

    Parameters
    ----------
    table : BonesAndMass
        The bones of the joint model, groups left out.
    families : sequence of str
        Each species' family, in the table's order; empty where unknown.
    """
    scores = []
    for test, folds in _tests(table, np.array(families)).items():
        for name, method in _METHODS.items():
            try:
                told = [method(table, ~fold, np.flatnonzero(fold)) for fold in folds]
            except BonewrightError as error:
                scores.append(_without_answer(name, test, str(error)))
                continue
            known = np.concatenate([table.mass_ln[fold] for fold in folds])
            scores.append(_score(name, test, np.vstack(told), known))
    return tuple(scores)


def _tests(table: BonesAndMass, families: NDArray[np.str_]) -> dict[str, list[Flags]]:
    n = len(table.mass_ln)
    tests = {"each left out": list(np.eye(n, dtype=bool))}
    by_family = [
        families == family
        for family in np.unique(families)
        if family != "" and np.mean(families == family) <= 0.5
    ]
    if len(by_family) > 1:
        tests["each family out"] = by_family
    count = max(2, round(_HEAVIEST_SHARE * n))
    tests["heaviest fifth out"] = [np.isin(np.arange(n), np.argsort(-table.mass_ln)[:count])]
    return tests


def _score(name: str, test: str, told: Array, known_ln: Array) -> MethodScore:
    low, middle, high = told.T
    return MethodScore(
        method=name,
        test=test,
        n=len(known_ln),
        error_percent=100 * float(np.median(np.abs(np.expm1(middle - known_ln)))),
        mean_ratio=float(np.exp(np.mean(middle - known_ln))),
        coverage_percent=100 * float(np.mean((low <= known_ln) & (known_ln <= high))),
        width=float(np.exp(np.mean(high - low) / 2)),
    )


def _without_answer(name: str, test: str, why_not: str) -> MethodScore:
    return MethodScore(
        method=name,
        test=test,
        n=0,
        error_percent=0.0,
        mean_ratio=0.0,
        coverage_percent=0.0,
        width=0.0,
        why_not=why_not,
    )


def _regression(shrunken: bool) -> Method:
    """Multiple regression of ln mass on all ln bones, species taken for independent."""

    def answer(table: BonesAndMass, seen: Flags, asked: Rows) -> Array:
        bones, mass_ln = table.bones_ln[seen], table.mass_ln[seen]
        centre, spread = bones.mean(axis=0), bones.std(axis=0)
        left, right, axes = np.linalg.svd((bones - centre) / spread, full_matrices=False)
        toward = left.T @ (mass_ln - mass_ln.mean())
        penalty = _best_penalty(left, right, mass_ln) if shrunken else 0.0
        shrink = right**2 / (right**2 + penalty)
        fitted = mass_ln.mean() + left @ (shrink * toward)
        freedom = len(mass_ln) - 1 - float(np.sum(shrink))
        variance = float(np.sum((mass_ln - fitted) ** 2)) / freedom
        at = ((table.bones_ln[asked] - centre) / spread) @ axes.T
        middle = mass_ln.mean() + at @ (shrink * toward / right)
        lever = 1 / len(mass_ln) + np.sum((at * shrink / right) ** 2, axis=1)
        reach = float(stdtrit(freedom, 0.975)) * np.sqrt(variance * (1 + lever))
        return np.column_stack([middle - reach, middle, middle + reach])

    return answer


def _best_penalty(left: Array, right: Array, mass_ln: Array) -> float:
    """Return the ridge penalty with the least leave-one-out error, which needs no refits."""
    centred = mass_ln - mass_ln.mean()
    toward = left.T @ centred
    errors = {}
    for penalty in np.geomspace(1e-4, 1e2, 49) * float(np.mean(right**2)):
        shrink = right**2 / (right**2 + penalty)
        lever = 1 / len(mass_ln) + (left**2) @ shrink
        errors[float(penalty)] = float(
            np.sum(((centred - left @ (shrink * toward)) / (1 - lever)) ** 2)
        )
    return min(errors, key=errors.__getitem__)


def _on_tree(model: Model) -> Method:
    """Phylogenetic least squares of ln mass on all ln bones, read at the species' place."""

    def answer(table: BonesAndMass, seen: Flags, asked: Rows) -> Array:
        fit = fit_on_tree(
            table.traversal, table.bones_ln, table.mass_ln, model=model, observed=seen
        )
        told = predictions_at_tips(fit, asked, predictors=table.bones_ln[asked])
        low, high = told.interval()
        return np.column_stack([low, told.mean, high])

    return answer


def _calibration(table: BonesAndMass, seen: Flags, asked: Rows) -> Array:
    """Bones on mass with one lambda and one covariance, read back with a flat prior."""
    fit = fit_many_traits(
        table.traversal, table.mass_ln[:, None], table.bones_ln, method="reml", observed=seen
    )
    told = [
        calibrate_tip(fit, int(row), responses=table.bones_ln[[row]]).quantiles(_INTERVAL)
        for row in asked
    ]
    return np.vstack(told)


def _joint(recipe: Recipe) -> Method:
    def answer(table: BonesAndMass, seen: Flags, asked: Rows) -> Array:
        fit = fit_kin_and_size(table, observed=seen, recipe=recipe)
        return fit.of_left_out(asked).quantiles_ln(_INTERVAL)

    return answer


_METHODS: Mapping[str, Method] = {
    "least squares": _regression(shrunken=False),
    "shrunken least squares": _regression(shrunken=True),
    "on the tree, Brownian": _on_tree("brownian"),
    "on the tree, lambda": _on_tree("lambda"),
    "on the tree, Ornstein-Uhlenbeck": _on_tree("ornstein-uhlenbeck"),
    "bones on mass, one lambda": _calibration,
    "kin model alone": _joint(Recipe(heavy_share=1.0)),
    "size model alone": _joint(Recipe(heavy_share=0.0)),
    "both (enters)": _joint(Recipe()),
}
