"""Which bones, and which groups of species, the joint model rests on: chosen by proof.

Every candidate foretells relatives whose masses are known, each time with everything refitted:
a quarter of them from the rest, families from other families, and the heaviest fifth from the
lighter. (Leaving single species out and keeping the covariances of all would be quicker, and
flatters: intervals of 40 species that hold 98 % so may hold 85 % in truth.) What counts is the
mean log density that the predictions gave to the true masses, over the three tests alike: it
rewards being near and knowing how near, and one odd species does not decide it as it does a
median.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError, NotEnoughEvidence
from bonewright.relatives.kin_and_size import BonesAndMass, KinAndSize, fit_kin_and_size
from bonewright.relatives.results import Foretold, JointTrial, ProofScore
from bonewright.remembering import recalled, tell_progress

__all__ = ["BoneSet", "GroupTerm", "Proved", "bone_sets", "needed_species", "prove", "proved_best"]

Array = NDArray[np.float64]
Key = tuple[str, str]

_INTERVAL = np.array([0.025, 0.5, 0.975])
_MOST_BONES = 6
_SPECIES_PER_BONE = 8
_SPECIES_BESIDES = 3
_LEAST_IN_GROUP = 3
_HEAVIEST_SHARE = 0.2
_FOLDS = 4
_LEAST_GAIN = 0.05  # of a group that would have lines of its own, for its further unknowns

_SETS = (
    ("least circumferences", ("CD",)),
    ("lengths", ("GL",)),
    ("least shaft breadths", ("SC",)),
    ("breadths of the ends", ("Bp", "Bd")),
    ("breadths of the lower ends", ("Bd",)),
    ("circumferences and lengths", ("CD", "GL")),
    ("circumferences and lower ends", ("CD", "Bd")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneSet:
    """Some measurements that go into the joint model together."""

    name: str
    keys: tuple[Key, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupTerm:
    """A group of species that may have lines of its own; ``members`` (n_species,) of 0 and 1.

    ``of_lost`` is the lost animal's; ``slope`` whether the group's slope may differ too.
    """

    of: str
    members: Array
    of_lost: float
    slope: bool

    @property
    def name(self) -> str:
        """What the group is called among candidates."""
        return f"{self.of}, own slope" if self.slope else self.of

    def separates(self) -> bool:
        """Say whether both sides have enough species to be told apart."""
        count = float(np.sum(self.members))
        return min(count, len(self.members) - count) >= _LEAST_IN_GROUP


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proved:
    """A candidate with its fit and how it did."""

    bones: BoneSet
    group: GroupTerm | None
    fit: KinAndSize
    trial: JointTrial
    each: tuple[Foretold, ...]
    heaviest: tuple[Foretold, ...]


def bone_sets(keys: Sequence[Key], *, n_species: Callable[[tuple[Key, ...]], int]) -> list[BoneSet]:
    """List the sets to be tried: those of enough species for so many bones.

    ``n_species`` counts the species that have all of a set. A set may miss a bone, where no
    relative or no lost animal has it.
    """
    found: dict[tuple[Key, ...], str] = {}
    for name, codes in _SETS:
        if codes == ("SC",) and any(key[1] == "CD" for key in keys):
            continue  # a breadth of the shaft says less of the same than its circumference
        chosen = tuple(key for key in keys if key[1] in codes)[:_MOST_BONES]
        if chosen and {key[1] for key in chosen} == set(codes):
            found.setdefault(chosen, name)
    if not found:
        found = {(key,): f"{key[0]} {key[1]} alone" for key in keys}
    most = max((n_species(chosen) for chosen in found), default=0)
    return [
        BoneSet(name=name, keys=chosen)
        for chosen, name in found.items()
        if n_species(chosen) >= max(_SPECIES_PER_BONE * len(chosen) + _SPECIES_BESIDES, most / 2)
    ]


def needed_species() -> str:
    """Say how many relatives a set of bones needs."""
    return (
        f"at least {_SPECIES_PER_BONE + _SPECIES_BESIDES} relatives with a bone of the lost animal,"
        f" {_SPECIES_PER_BONE} more for each further bone"
    )


def prove(
    table: BonesAndMass, *, bones: BoneSet, group: GroupTerm | None, families: Sequence[str]
) -> Proved:
    """Fit one candidate and let it foretell its own relatives.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        If it cannot be fitted.
    """
    fit = fit_kin_and_size(table)
    n = len(table.mass_ln)
    by_mass = np.argsort(np.argsort(-table.mass_ln))
    quarters = [by_mass % _FOLDS == fold for fold in range(_FOLDS)]
    count = max(2, round(_HEAVIEST_SHARE * n))
    tests = {
        "a quarter left out in turn": quarters,
        "families left out": _family_folds(np.array(families)),
        "heaviest fifth left out": [by_mass < count],
    }
    foretold: dict[str, tuple[Foretold, ...]] = {}
    scores = []
    for name, folds in tests.items():
        try:
            score, each = _test(name, table, folds, start=fit)
        except BonewrightError:
            continue  # too few are left for this test: the others decide
        scores.append(score)
        foretold[name] = each
    if not scores:
        raise NotEnoughEvidence(
            "Leg bones together could not be tried on relatives.",
            needed="enough relatives to leave a quarter of them out",
            found=str(n),
            would_help="more relatives with the same bones",
        )
    trial = JointTrial(
        name=bones.name,
        bones=bones.keys,
        group="" if group is None else group.name,
        tests=tuple(scores),
        score=float(np.mean([score.log_score for score in scores])),
    )
    return Proved(
        bones=bones,
        group=group,
        fit=fit,
        trial=trial,
        each=foretold.get("a quarter left out in turn", ()),
        heaviest=foretold.get("heaviest fifth left out", ()),
    )


def _family_folds(families: NDArray[np.str_]) -> list[NDArray[np.bool_]]:
    """Allot whole families to four folds of like size; families unknown stay in."""
    names, counts = np.unique(families[families != ""], return_counts=True)
    folds: list[list[str]] = [[] for _ in range(_FOLDS)]
    sizes = [0] * _FOLDS
    for place in np.argsort(-counts, kind="stable"):
        smallest = int(np.argmin(sizes))
        folds[smallest].append(str(names[place]))
        sizes[smallest] += int(counts[place])
    found = [np.isin(families, fold) for fold in folds if fold]
    whole = len(names) >= _FOLDS and max(sizes) <= 0.5 * len(families)
    return found if whole else []


def _test(
    name: str, table: BonesAndMass, folds: Sequence[NDArray[np.bool_]], *, start: KinAndSize
) -> tuple[ProofScore, tuple[Foretold, ...]]:
    """Leave each fold out, refit everything, and foretell it."""
    if not folds:
        raise NotEnoughEvidence(
            "This test could not be made.",
            needed="groups of relatives to leave out",
            found="none",
            would_help="families in relatives.csv",
        )
    rows, quantiles, densities = [], [], []
    for fold in folds:
        left_out = np.flatnonzero(fold)
        told = fit_kin_and_size(table, observed=~fold, start=start).of_left_out(left_out)
        rows.append(left_out)
        quantiles.append(told.quantiles_ln(_INTERVAL))
        densities.append(told.log_score(table.mass_ln[left_out]))
    row, known = np.concatenate(rows), table.mass_ln[np.concatenate(rows)]
    low, middle, high = np.vstack(quantiles).T
    score = ProofScore(
        name=name,
        n=len(known),
        error_percent=100 * float(np.median(np.abs(np.expm1(middle - known)))),
        mean_ratio=float(np.exp(np.mean(middle - known))),
        coverage_percent=100 * float(np.mean((low <= known) & (known <= high))),
        log_score=float(np.mean(np.concatenate(densities))),
    )
    names = table.traversal.tip_names
    each = tuple(
        Foretold(
            species=names[place],
            known_kg=float(np.exp(table.mass_ln[place])),
            low_kg=float(np.exp(one)),
            middle_kg=float(np.exp(two)),
            high_kg=float(np.exp(three)),
        )
        for place, one, two, three in zip(row, low, middle, high, strict=True)
    )
    return score, each


def proved_best(
    candidates: Sequence[BoneSet],
    groups: Callable[[tuple[str, ...]], Sequence[GroupTerm]],
    *,
    table_of: Callable[[BoneSet], tuple[BonesAndMass, Sequence[str]]],
) -> tuple[Proved, tuple[JointTrial, ...]]:
    """Choose the bones without groups, then the group with those bones.

    Parameters
    ----------
    candidates : sequence of BoneSet
    groups : callable
        From species names to the groups that may be tried.
    table_of : callable
        From a set to its table, without groups, and each species' family.

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        If none can be fitted; why the last could not.
    """
    best: Proved | None = None
    trials: list[JointTrial] = []
    failure: BonewrightError = NotEnoughEvidence(
        "Several leg bones together could not tell the mass.",
        needed=needed_species(),
        found="no set of bones that enough relatives and the lost animal share",
        would_help="more relatives in relative_measurements.csv",
    )
    for number, bones in enumerate(candidates):
        tell_progress(number, len(candidates))
        try:
            table, families = table_of(bones)
            proved = recalled(prove, table, bones=bones, group=None, families=families)
        except BonewrightError as error:
            failure = error
            continue
        trials.append(proved.trial)
        if best is None or proved.trial.score > best.trial.score:
            best = proved
    if best is None:
        raise failure
    table, families = table_of(best.bones)
    plain = best
    helped: set[str] = set()
    for group in groups(table.traversal.tip_names):
        # A slope of its own is tried only for a group whose own height helped.
        if not group.separates() or (group.slope and group.of not in helped):
            continue
        grouped = replace(table, groups=group.members[:, None], interaction=group.slope)
        try:
            proved = recalled(prove, grouped, bones=plain.bones, group=group, families=families)
        except BonewrightError:
            continue
        trials.append(proved.trial)
        if proved.trial.score > plain.trial.score:
            helped.add(group.of)
        if proved.trial.score > max(best.trial.score, plain.trial.score + _LEAST_GAIN):
            best = proved
    return best, tuple(trials)
