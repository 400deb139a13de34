"""Which bones, and which groups of species, the joint model rests on: chosen by proof.

Every candidate foretells relatives whose masses are known: each one from all others, each
family from the rest, and the heaviest fifth from the lighter. What counts is the mean log
density that the predictions gave to the true masses, over the three tests alike: it rewards
being near and knowing how near, and one odd species does not decide it as it does a median.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError, NotEnoughEvidence
from bonewright.relatives.kin_and_size import BonesAndMass, KinAndSize, fit_kin_and_size
from bonewright.relatives.mass_posterior import MassPosterior
from bonewright.relatives.results import Foretold, JointTrial, ProofScore

__all__ = ["BoneSet", "GroupTerm", "Proved", "bone_sets", "prove", "proved_best"]

Array = NDArray[np.float64]
Key = tuple[str, str]

_INTERVAL = np.array([0.025, 0.5, 0.975])
_MOST_BONES = 6
_SPECIES_PER_BONE = 5
_LEAST_IN_GROUP = 3
_HEAVIEST_SHARE = 0.2

_SETS = (
    ("least circumferences", ("CD",)),
    ("lengths", ("GL",)),
    ("least shaft breadths", ("SC",)),
    ("breadths of the ends", ("Bp", "Bd")),
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
    for key in keys:
        found.setdefault((key,), f"{key[0]} {key[1]} alone") if not found else None
    most = max((n_species(chosen) for chosen in found), default=0)
    return [
        BoneSet(name=name, keys=chosen)
        for chosen, name in found.items()
        if n_species(chosen) >= max(_SPECIES_PER_BONE * len(chosen) + 3, most / 2)
    ]


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
    everyone = np.arange(len(table.mass_ln))
    left_out = fit.of_each_left_out()
    scores = [_score("each left out", left_out, table.mass_ln)]
    scores += _families_out(fit, table, np.array(families))
    heaviest: tuple[Foretold, ...] = ()
    count = max(2, round(_HEAVIEST_SHARE * len(everyone)))
    heavy = np.isin(everyone, np.argsort(-table.mass_ln)[:count])
    try:
        lighter = fit_kin_and_size(table, observed=~heavy, start=fit)
        giants = lighter.of_left_out(everyone[heavy])
        scores.append(_score("heaviest fifth out", giants, table.mass_ln[heavy]))
        heaviest = _foretold(giants, table, everyone[heavy])
    except BonewrightError:
        pass  # too few for this test: the others decide
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
        each=_foretold(left_out, table, everyone),
        heaviest=heaviest,
    )


def _families_out(
    fit: KinAndSize, table: BonesAndMass, families: NDArray[np.str_]
) -> list[ProofScore]:
    """Foretell each family from the rest, covariances kept from all."""
    groups = [
        families == family
        for family in np.unique(families)
        if family != "" and np.mean(families == family) <= 0.5
    ]
    if len(groups) < 2:
        return []
    rows, told = fit.of_groups_left_out(groups)
    return [_score("each family out", told, table.mass_ln[rows])]


def _score(name: str, told: MassPosterior, mass_ln: Array) -> ProofScore:
    low, middle, high = told.quantiles_ln(_INTERVAL).T
    return ProofScore(
        name=name,
        n=len(mass_ln),
        error_percent=100 * float(np.median(np.abs(np.expm1(middle - mass_ln)))),
        mean_ratio=float(np.exp(np.mean(middle - mass_ln))),
        coverage_percent=100 * float(np.mean((low <= mass_ln) & (mass_ln <= high))),
        log_score=float(np.mean(told.log_score(mass_ln))),
    )


def _foretold(
    told: MassPosterior, table: BonesAndMass, rows: NDArray[np.int64]
) -> tuple[Foretold, ...]:
    names = table.traversal.tip_names
    return tuple(
        Foretold(
            species=names[row],
            known_kg=float(np.exp(table.mass_ln[row])),
            low_kg=float(low),
            middle_kg=float(middle),
            high_kg=float(high),
        )
        for row, (low, middle, high) in zip(rows, np.exp(told.quantiles_ln(_INTERVAL)), strict=True)
    )


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
    NotEnoughEvidence
        If none can be fitted.
    """
    best: Proved | None = None
    trials: list[JointTrial] = []
    why = "no set of bones that enough relatives and the lost animal share"
    for bones in candidates:
        try:
            table, families = table_of(bones)
            proved = prove(table, bones=bones, group=None, families=families)
        except BonewrightError as error:
            why = str(error)
            continue
        trials.append(proved.trial)
        if best is None or proved.trial.score > best.trial.score:
            best = proved
    if best is None:
        raise NotEnoughEvidence(
            "Several leg bones together could not tell the mass.",
            needed="at least eight relatives with the same bones as the lost animal",
            found=why,
            would_help="more relatives in relative_measurements.csv",
        )
    table, families = table_of(best.bones)
    plain = best
    helped: set[str] = set()
    for group in groups(table.traversal.tip_names):
        # A slope of its own is tried only for a group whose own height helped.
        if not group.separates() or (group.slope and group.of not in helped):
            continue
        grouped = replace(table, groups=group.members[:, None], interaction=group.slope)
        try:
            proved = prove(grouped, bones=plain.bones, group=group, families=families)
        except BonewrightError:
            continue
        trials.append(proved.trial)
        if proved.trial.score > plain.trial.score:
            helped.add(group.of)
        if proved.trial.score > best.trial.score:
            best = proved
    return best, tuple(trials)
