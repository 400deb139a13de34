"""Casts that look like a bone in the table but are not said to be of it.

A cast that goes round collections under its own number counts its animal twice. Where its
measurements are those of another bone of the same element and side, as closely as two
measurings of one bone and nearer than two animals would be, it is named.
"""

from collections.abc import Iterable, Mapping
from math import fsum, log, pi

from bonewright.findings import Doubt
from bonewright.skeleton.bones import Bone
from bonewright.skeleton.doubts import Decisions
from bonewright.skeleton.measuring_error import MeasuringError
from bonewright.skeleton.reduction import BoneValue
from bonewright.skeleton.reference import Usual

__all__ = ["cast_doubts"]

FEWEST_CODES = 3
SHRINKAGE_SD_LN = 0.005
"""Casts come out smaller, commonly by less than one percent: common practice."""

LEAST_ERROR_LN = 0.003
NEEDED_LN_ODDS = 4.6
"""A hundred to one, after allowing for the number of bones it could be like."""


def cast_doubts(
    values: Iterable[BoneValue],
    *,
    error: MeasuringError,
    usual: Mapping[tuple[str, str], Usual],
    decisions: Decisions,
) -> tuple[Doubt, ...]:
    """Name the casts of unknown original that match a bone; they are held out.

    ``error`` is that of measuring the same values.
    """
    by_bone: dict[str, dict[str, BoneValue]] = {}
    for value in values:
        by_bone.setdefault(value.bone.specimen.specimen_id, {})[value.code] = value
    doubts = []
    for of_cast in by_bone.values():
        cast = next(iter(of_cast.values())).bone
        if not cast.only_a_cast:
            continue
        likeness = []
        for of_bone in by_bone.values():
            bone = next(iter(of_bone.values())).bone
            if bone.only_a_cast or not _could_be_one(cast, bone):
                continue
            shared = sorted(set(of_cast) & set(of_bone))
            if len(shared) >= FEWEST_CODES:
                pairs = [(of_cast[code], of_bone[code]) for code in shared]
                noise = max(
                    LEAST_ERROR_LN,
                    *(error.relative_error(value) for pair in pairs for value in pair),
                )
                likeness.append((_ln_odds(pairs, usual, noise=noise), bone, len(shared)))
        if not likeness:
            continue
        odds, bone, n_shared = max(likeness, key=lambda entry: entry[0])
        if odds < NEEDED_LN_ODDS + log(len(likeness)):
            continue
        doubts.append(
            Doubt(
                ref=cast.specimen.ref,
                column="castOf",
                kind="cast of a bone in the table",
                found=f"{n_shared} measurements within a hair of those of"
                f" {bone.specimen.specimen_id}",
                expected="sizes of another animal, or the name of the original",
                mend=f"Is it a cast of {bone.specimen.specimen_id}? Enter that in castOf, or keep"
                " the row.",
                held_out=True,
                decided=decisions.on(cast.specimen.ref),
            )
        )
    return tuple(doubts)


def _could_be_one(cast: Bone, bone: Bone) -> bool:
    a, b = cast.specimen, bone.specimen
    if a.element != b.element or (a.side != b.side and "unknown" not in (a.side, b.side)):
        return False
    return cast.loose or bone.loose or cast.individual == bone.individual


def _ln_odds(
    pairs: list[tuple[BoneValue, BoneValue]],
    usual: Mapping[tuple[str, str], Usual],
    *,
    noise: float,
) -> float:
    """Return ln odds of one bone measured twice against two animals' bones."""
    off = [log(cast.value_mm / bone.value_mm) for cast, bone in pairs]
    n, mean = len(off), fsum(off) / len(off)
    spread2 = fsum((entry - mean) ** 2 for entry in off)
    entries = [
        usual[key] for _, bone in pairs if (key := (bone.bone.specimen.element, bone.code)) in usual
    ]
    if not entries:
        return 0.0
    size2 = fsum(entry.spread_ln**2 for entry in entries) / len(entries)
    shape2 = fsum(entry.shape_ln**2 for entry in entries) / len(entries)
    odds = 0.0
    for sign, between2, within2 in (
        (1, 2 * SHRINKAGE_SD_LN**2, 2 * noise**2),
        (-1, 2 * size2, 2 * shape2),
    ):
        # The mean difference varies by size and shape, the rest by shape alone.
        of_mean2 = between2 + within2 / n
        odds += sign * -0.5 * (mean**2 / of_mean2 + log(2 * pi * of_mean2))
        odds += sign * -0.5 * (spread2 / within2 + (n - 1) * log(2 * pi * within2))
    return odds
