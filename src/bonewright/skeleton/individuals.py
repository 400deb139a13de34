"""How many animals, which bones go together: pairs and counts by element, side and size.

Loose left and right bones that are of one size may be of one animal. They are not joined
here, since only a look at both bones can tell; but each likely pair is listed with its
probability, and the count of animals allows for it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from bonewright.skeleton.bones import Bone
from bonewright.skeleton.joint_average import NOT_JOINT, JointAverage
from bonewright.skeleton.ln_matrix import Code
from bonewright.skeleton.measuring_error import MeasuringError
from bonewright.skeleton.pairing import (
    Pairing,
    SideCount,
    minimum_individuals_by_element,
    pair_left_and_right,
)
from bonewright.skeleton.reduction import BoneValue
from bonewright.skeleton.sex_findings import TOLD_APART
from bonewright.study.schemas import ELEMENTS

__all__ = ["ElementCount", "Individuals", "LikelyPair", "count_individuals"]

LIKELY = 0.5
SURE_OF_CLASS = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelyPair:
    """A left and a right that are probably of one animal, not said to be so in the tables."""

    element: str
    left: Bone
    right: Bone
    ln_odds: float
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementCount:
    """Grown bones of one element (and size class, or all) and the animals they need at least.

    ``n_other`` are bones without sides or of unknown side; ``n_known_pairs`` are pairs of
    named individuals, ``n_likely_pairs`` those told by size.
    """

    element: str
    size_class: str
    n_left: int
    n_right: int
    n_other: int
    n_known_pairs: int
    n_likely_pairs: int
    minimum: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Individuals:
    """Counts by element (all, then by size class), likely pairs, and how many are named.

    ``n_associated`` counts the named individuals with bones of two elements or more.
    """

    counts: tuple[ElementCount, ...]
    pairs: tuple[LikelyPair, ...]
    n_named: int
    n_associated: int


def count_individuals(
    bones: Mapping[str, Bone],
    values: Sequence[BoneValue],
    *,
    joint: JointAverage | None,
    measuring: MeasuringError,
    rng: np.random.Generator,
) -> Individuals:
    """Pair loose bones by size and count animals by element, side and size class.

    Parameters
    ----------
    bones : mapping
        Bones of grown animals in use, by specimen id.
    values : sequence of BoneValue
        Their measurements.
    joint : JointAverage, optional
        Its covariance tells how much animals differ; without it nothing is paired.
    measuring : MeasuringError
    rng : numpy.random.Generator
        For elements with many bones, whose pairings are sampled.
    """
    by_bone: dict[str, dict[Code, BoneValue]] = {}
    for value in values:
        key = (value.bone.specimen.element, value.code)
        by_bone.setdefault(value.bone.specimen.specimen_id, {})[key] = value
    classes = _size_classes(joint)
    counts: list[ElementCount] = []
    pairs: list[LikelyPair] = []
    for element in ELEMENTS:
        members = [bone for bone in bones.values() if bone.specimen.element == element]
        if not members or element in NOT_JOINT:
            continue
        known = _known_pairs(members)
        taken = {bone.specimen.specimen_id for pair in known for bone in pair}
        free = [bone for bone in members if bone.specimen.specimen_id not in taken]
        lefts = [bone for bone in free if bone.specimen.side == "left"]
        rights = [bone for bone in free if bone.specimen.side == "right"]
        pairing = _paired(
            lefts, rights, by_bone, joint=joint, measuring=measuring, element=element, rng=rng
        )
        of_free = minimum_individuals_by_element(
            element,
            pairing,
            left_class=tuple(classes.get(bone.individual, "unclear") for bone in lefts),
            right_class=tuple(classes.get(bone.individual, "unclear") for bone in rights),
        )
        for name in ("", *(("larger", "smaller", "unclear") if classes else ())):
            count = next((one for one in of_free if one.size_class == name), None)
            counts.append(_element_count(element, name, members, known, count, classes))
        pairs += [
            LikelyPair(
                element=element,
                left=lefts[pair.left],
                right=rights[pair.right],
                ln_odds=pair.ln_odds,
                probability=pair.probability,
            )
            for pair in pairing.pairs
            if pair.probability >= LIKELY
        ]
    named: dict[str, set[str]] = {}
    for bone in bones.values():
        if not bone.loose:
            named.setdefault(bone.individual, set()).add(bone.specimen.element)
    return Individuals(
        counts=tuple(count for count in counts if count.n_left + count.n_right + count.n_other),
        pairs=tuple(sorted(pairs, key=lambda pair: -pair.probability)),
        n_named=len(named),
        n_associated=sum(len(elements) > 1 for elements in named.values()),
    )


def _known_pairs(members: Sequence[Bone]) -> list[tuple[Bone, Bone]]:
    """Return the lefts and rights that the tables give to one individual."""
    right_of = {
        bone.individual: bone
        for bone in members
        if bone.specimen.side == "right" and not bone.loose
    }
    return [
        (bone, right_of[bone.individual])
        for bone in {b.individual: b for b in members if b.specimen.side == "left"}.values()
        if bone.individual in right_of
    ]


def _element_count(
    element: str,
    size_class: str,
    members: Sequence[Bone],
    known: Sequence[tuple[Bone, Bone]],
    of_free: SideCount | None,
    classes: Mapping[str, str],
) -> ElementCount:
    def belongs(bone: Bone) -> bool:
        return size_class in ("", classes.get(bone.individual, "unclear"))

    sides = [bone.specimen.side for bone in members if belongs(bone)]
    n_known = sum(belongs(left) for left, _ in known)
    n_other = len(sides) - sides.count("left") - sides.count("right")
    # A bone of unknown side may pair with any; bones without sides are an animal each.
    paired = n_known + (0 if of_free is None else of_free.minimum_individuals)
    minimum = sides.count("midline") or max(paired, ceil(len(sides) / 2))
    return ElementCount(
        element=element,
        size_class=size_class,
        n_left=sides.count("left"),
        n_right=sides.count("right"),
        n_other=n_other,
        n_known_pairs=n_known,
        n_likely_pairs=0 if of_free is None else of_free.n_pairs,
        minimum=minimum,
    )


def _size_classes(joint: JointAverage | None) -> dict[str, str]:
    """Return 'larger', 'smaller' or 'unclear' by individual, where two sizes show."""
    if joint is None or joint.sexes is None or joint.sexes.p_value >= TOLD_APART:
        return {}
    chance = joint.sexes.chance_larger
    if joint.sexes.gap_ln < 0:
        chance = 1 - chance
    return {
        row: "larger"
        if share >= SURE_OF_CLASS
        else "smaller"
        if share <= 1 - SURE_OF_CLASS
        else "unclear"
        for row, share in zip(joint.matrix.rows, chance, strict=True)
    }


def _paired(
    lefts: Sequence[Bone],
    rights: Sequence[Bone],
    by_bone: Mapping[str, Mapping[Code, BoneValue]],
    *,
    joint: JointAverage | None,
    measuring: MeasuringError,
    element: str,
    rng: np.random.Generator,
) -> Pairing:
    codes = [] if joint is None else [code for code in joint.model.codes if code[0] == element]
    if joint is None or not codes:
        return Pairing(pairs=(), probability=np.ones((len(lefts), len(rights))))
    columns = [joint.model.column(code) for code in codes]
    sizes, present, errors = [], [], []
    for side in (lefts, rights):
        table = [
            [by_bone.get(bone.specimen.specimen_id, {}).get(code) for code in codes]
            for bone in side
        ]
        present.append(np.array([[v is not None for v in row] for row in table], dtype=np.bool_))
        sizes.append(np.array([[np.log(v.value_mm) if v else 0.0 for v in row] for row in table]))
        errors += [measuring.relative_error(v) for row in table for v in row if v is not None]
    shape = (-1, len(codes))
    pairing = pair_left_and_right(
        sizes[0].reshape(shape),
        sizes[1].reshape(shape),
        left_present=present[0].reshape(shape),
        right_present=present[1].reshape(shape),
        covariance_ln=joint.model.covariance_ln[np.ix_(columns, columns)],
        error_sd_ln=float(np.median(errors)) if errors else 0.0,
        rng=rng,
    )
    # Bones of two named individuals are no pair, however alike they are.
    apart = np.array(
        [[not left.loose and not right.loose for right in rights] for left in lefts],
        dtype=np.bool_,
    ).reshape(pairing.probability.shape)
    return Pairing(
        pairs=tuple(pair for pair in pairing.pairs if not apart[pair.left, pair.right]),
        probability=np.where(apart, 0.0, pairing.probability),
    )
