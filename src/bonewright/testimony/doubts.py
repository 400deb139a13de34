"""Pictures, scores, accounts, claims and measures of the mount that are probably mistakes."""

from collections.abc import Mapping, Sequence

import numpy as np

from bonewright.findings import Doubt
from bonewright.quantity import Draws
from bonewright.study.model import (
    Account,
    Claim,
    MountMeasurement,
    Picture,
    PictureMark,
)
from bonewright.testimony.decisions import Decisions
from bonewright.testimony.pictures import scores_by_scorer

__all__ = [
    "doubt_claims",
    "doubt_copies",
    "doubt_dates",
    "doubt_mount",
    "doubt_scores",
]

_SCORES_APART = 2.5
_CLAIM_FACTOR = 5.0
_MOUNT_FACTOR = 5.0
_LENGTHS = {"GL", "GLl", "La", "Lm", "L", "LM", "dL", "LC", "LS", "LV", "CBL", "LP", "LI"}


def doubt_dates(
    witnesses: Sequence[Picture | Account],
    witness_years: tuple[float, float] | None,
    decisions: Decisions,
) -> list[Doubt]:
    """Doubt witnesses dated wholly outside the years between which witnesses can lie."""
    if witness_years is None:
        return []
    earliest, latest = witness_years
    return [
        decisions.doubt(
            witness.ref,
            column="eventDate",
            kind="date outside the witness years",
            found=witness.date.text,
            expected=f"within {earliest:.0f} to {latest:.0f}",
            mend="Mend the date, or the witness years in study.toml.",
            grave=True,
        )
        for witness in witnesses
        if not (isinstance(witness, Picture) and witness.shows_mount)
        and (witness.date.latest < earliest or witness.date.earliest > latest)
    ]


def doubt_copies(witnesses: Sequence[Picture | Account], decisions: Decisions) -> list[Doubt]:
    """Doubt copies dated before their originals (both rows), or said not to be copies."""
    by_id = {_name(witness): witness for witness in witnesses}
    doubts = []
    for copy in witnesses:
        original = by_id.get(copy.copy_of or "")
        if original is None:
            continue
        if copy.date.latest < original.date.earliest:
            for one, other, place in ((copy, original, "after"), (original, copy, "before")):
                doubts.append(
                    decisions.doubt(
                        one.ref,
                        column="eventDate",
                        kind="copy older than its original",
                        found=one.date.text,
                        expected=f"a date {place} {_name(other)} ({other.date.text})",
                        mend="One of the two dates or the copyOf entry must be wrong.",
                    )
                )
        column, said = (
            ("drawnFrom", copy.drawn_from)
            if isinstance(copy, Picture)
            else ("standing", copy.standing)
        )
        if said in {"life", "dead specimen", "eyewitness"}:
            doubts.append(
                decisions.doubt(
                    copy.ref,
                    column=column,
                    kind="copy said to be first-hand",
                    found=f"{said}, with copyOf {copy.copy_of}",
                    expected="either first-hand or a copy",
                    mend="It is treated as a copy. Mend one of the two entries.",
                )
            )
    return doubts


def doubt_scores(marks: Sequence[PictureMark], decisions: Decisions) -> list[Doubt]:
    """Doubt scores more than 2.5 points from the mean of the picture's other scorers."""
    used = [mark for mark in marks if decisions.of(mark.ref) != "set aside"]
    scores = {
        kind: scores_by_scorer([mark for mark in used if mark.kind == kind])
        for kind in {mark.kind for mark in used}
    }
    doubts = []
    for mark in used:
        of_picture = scores[mark.kind][mark.picture_id]
        others = [score for scorer, score in of_picture.items() if scorer != mark.scorer]
        if others and abs(mark.score - np.mean(others)) > _SCORES_APART:
            doubts.append(
                decisions.doubt(
                    mark.ref,
                    column="measurementValue",
                    kind="scorers far apart",
                    found=f"{mark.score:g}",
                    expected=f"nearer to the others' {np.mean(others):.2g}",
                    mend="Score the picture again, without seeing the other scores.",
                )
            )
    return doubts


def doubt_claims(claims: Sequence[Claim], decisions: Decisions) -> list[Doubt]:
    """Doubt claims of a number beyond five times, or below a fifth of, the others' median."""
    doubts = []
    used = [claim for claim in claims if decisions.of(claim.ref) != "set aside"]
    for claim in used:
        others = [
            other.value
            for other in used
            if other is not claim and other.kind == claim.kind and other.value is not None
        ]
        if claim.value is None or len(others) < 2:
            continue
        ratio = claim.value / float(np.median(others))
        if max(ratio, 1 / ratio) > _CLAIM_FACTOR:
            unit = "kg" if claim.kind == "weight" else "m"
            doubts.append(
                decisions.doubt(
                    claim.ref,
                    column="measurementValue",
                    kind="claim far from the others",
                    found=f"{claim.value:.3g} {unit}",
                    expected=f"the order of {np.median(others):.2g} {unit}, as the other accounts"
                    " have",
                    mend="Look at the unit and how an old measure was converted.",
                )
            )
    return doubts


def doubt_mount(
    measures: Sequence[MountMeasurement],
    means_mm: Mapping[tuple[str, str], Draws],
    decisions: Decisions,
) -> list[Doubt]:
    """Doubt measures no mount can have, and allowances larger than half a bone's length."""
    doubts = []
    for measure in measures:
        draws = means_mm.get((measure.element, measure.code))
        if draws is None:
            continue
        bone = float(np.median(draws))
        allowed = bone + (measure.allowance_low_mm + measure.allowance_high_mm) / 2
        ratio = measure.value_mm / allowed
        if max(ratio, 1 / ratio) > _MOUNT_FACTOR:
            tens = abs(np.log10(ratio))
            doubts.append(
                decisions.doubt(
                    measure.ref,
                    column="measurementValue",
                    kind="factor of ten" if abs(tens - round(tens)) < 0.15 else "out of line",
                    found=f"{measure.value_mm:.4g} mm",
                    expected=f"about {allowed:.3g} mm",
                    mend="Look at the decimal point and the unit, or keep it by decision.",
                    grave=True,
                )
            )
        elif measure.code in _LENGTHS and measure.allowance_high_mm > bone / 2:
            doubts.append(
                decisions.doubt(
                    measure.ref,
                    column="allowanceHigh",
                    kind="soft tissue longer than half the bone",
                    found=f"{measure.allowance_high_mm:.3g} mm on a bone of {bone:.3g} mm",
                    expected="less than half the bone's length",
                    mend="Look at the decimal point: a wide allowance lets a wrong mount pass.",
                )
            )
    return doubts


def _name(witness: Picture | Account) -> str:
    return witness.picture_id if isinstance(witness, Picture) else witness.account_id
