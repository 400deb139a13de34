"""Pictures and accounts in order of date, and whether they change."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Caveat, Doubt, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Draws, Quantity
from bonewright.study.model import Account, Claim, MountMeasurement, Picture, PictureMark
from bonewright.testimony.change_point import ChangePoint, find_change
from bonewright.testimony.claims import WeighedClaim, claim_findings, order_claims
from bonewright.testimony.doubts import (
    Decisions,
    doubt_claims,
    doubt_copies,
    doubt_dates,
    doubt_mount,
    doubt_scores,
)
from bonewright.testimony.mount import (
    MountCheck,
    check_measure,
    expected_draws_mm,
    mount_findings,
    mount_without_bone,
)
from bonewright.testimony.pictures import (
    ScoredPicture,
    is_copy,
    score_pictures,
    scorer_agreement,
)
from bonewright.testimony.wording import agreement_findings, change_findings, no_change_finding

__all__ = [
    "ChangePoint",
    "MountCheck",
    "ScoredPicture",
    "TestimonyResult",
    "WeighedClaim",
    "hear_witnesses",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TestimonyResult:
    """What pictures, accounts and the old mount say."""

    __test__ = False

    pictures: tuple[ScoredPicture, ...]
    change_points: tuple[ChangePoint, ...]
    claims: tuple[WeighedClaim, ...]
    mount: tuple[MountCheck, ...]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def hear_witnesses(
    *,
    pictures: tuple[Picture, ...],
    marks: tuple[PictureMark, ...],
    accounts: tuple[Account, ...],
    claims: tuple[Claim, ...],
    mount: tuple[MountMeasurement, ...],
    bone_mean_draws_mm: Mapping[tuple[str, str], Draws],
    bone_between_sd_mm: Mapping[tuple[str, str], float],
    witness_years: tuple[float, float] | None,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
) -> TestimonyResult:
    """Order the witnesses, test for change with and without copies, audit the mount.

    Parameters
    ----------
    pictures, marks, accounts, claims, mount
        Rows of the study's tables.
    bone_mean_draws_mm, bone_between_sd_mm
        Mean of each (element, code) of the average skeleton, draws of shape (n_draws,), and
        the standard deviation between individuals.
    witness_years : (earliest, latest) decimal years, optional
        Between which witnesses can lie.

    Raises
    ------
    NotEnoughEvidence
        If there is no picture, account or measure of a mount at all.
    """
    decisions = Decisions(kept=kept, set_aside=set_aside)
    doubts = (
        *doubt_dates((*pictures, *accounts), witness_years, decisions),
        *doubt_copies(pictures, decisions),
        *doubt_copies(accounts, decisions),
        *doubt_scores(marks, decisions),
        *doubt_claims(claims, decisions),
        *doubt_mount(mount, bone_mean_draws_mm, decisions),
    )
    held_out = {doubt.ref for doubt in doubts if doubt.held_out}

    def used(ref: RowRef) -> bool:
        return ref not in held_out and decisions.of(ref) != "set aside"

    heard = tuple(picture for picture in pictures if used(picture.ref))
    names = {picture.picture_id for picture in heard}
    scores = tuple(mark for mark in marks if used(mark.ref) and mark.picture_id in names)
    told = tuple(account for account in accounts if used(account.ref))
    measures = tuple(measure for measure in mount if used(measure.ref))
    if not (heard or told or measures):
        raise NotEnoughEvidence(
            "There are no witnesses to hear.",
            needed="a picture, an account or a measure of an earlier mount",
            found=", ".join(sorted(f"doubtful {ref.words()}" for ref in held_out)) or "none",
            would_help="rows in the tables of pictures, accounts or the old mount",
        )
    # Pictures and mount have their own streams, so that neither moves the other's numbers.
    of_pictures, of_mount = rng.spawn(2)
    changes, change_results = _changes(heard, scores, doubts, of_pictures)
    claimed = order_claims(tuple(claim for claim in claims if used(claim.ref)), told)
    checks, mount_results = _audit_mount(
        measures, bone_mean_draws_mm, between_sd_mm=bone_between_sd_mm, rng=of_mount
    )
    return TestimonyResult(
        pictures=score_pictures(heard, scores),
        change_points=changes,
        claims=claimed,
        mount=checks,
        doubts=doubts,
        findings=(
            _witnesses(heard, told),
            *change_results,
            *agreement_findings(scorer_agreement(scores), rows=tuple(m.ref for m in scores)),
            *claim_findings(claimed, claims),
            *mount_results,
        ),
    )


def _witnesses(pictures: Sequence[Picture], accounts: Sequence[Account]) -> Finding:
    witnesses: tuple[Picture | Account, ...] = (*pictures, *accounts)
    copies = sum(map(is_copy, pictures))
    text = f"{len(pictures)} pictures ({copies} known copies) and {len(accounts)} accounts"
    if witnesses:
        first = min(witness.date.earliest for witness in witnesses)
        last = max(witness.date.latest for witness in witnesses)
        text += f", from {int(first)} to {int(np.ceil(last)) - 1}"
    return Finding(
        key="testimony.witnesses",
        step="testimony",
        title="Witnesses heard",
        value=Statement(text=text + "."),
        how=HowGot(formula="a count", rows=tuple(witness.ref for witness in witnesses)),
        n=len(witnesses),
        n_of="pictures and accounts",
    )


def _changes(
    pictures: Sequence[Picture],
    marks: Sequence[PictureMark],
    doubts: Sequence[Doubt],
    rng: np.random.Generator,
) -> tuple[tuple[ChangePoint, ...], tuple[Finding, ...]]:
    """Test for change with all pictures and without copies; pictures of no score are left out."""
    caveats = _doubtful_pictures(doubts)
    results: dict[bool, ChangePoint] = {}
    findings: dict[bool, tuple[Finding, ...]] = {}
    n_copies = sum(map(is_copy, pictures))
    # All pictures first: the sentence without copies compares with them.
    for with_copies, stream in zip((True, False), rng.spawn(2), strict=True):
        chosen = [picture for picture in pictures if with_copies or not is_copy(picture)]
        scored = [one for one in score_pictures(chosen, marks) if one.score is not None]
        rows = {picture.picture_id: picture.ref for picture in chosen}
        try:
            change = find_change(
                np.array([one.score for one in scored], dtype=np.float64),
                tuple(one.date for one in scored),
                with_copies=with_copies,
                rng=stream,
            )
        except NotEnoughEvidence as too_few:
            findings[with_copies] = (
                no_change_finding(with_copies=with_copies, reason=str(too_few), caveats=caveats),
            )
            continue
        results[with_copies] = change
        findings[with_copies] = change_findings(
            change,
            n_copies=n_copies if with_copies else 0,
            other=None if with_copies else results.get(True),
            rows=tuple(rows[one.picture_id] for one in scored),
            caveats=caveats,
        )
    return tuple(results.values()), (*findings[False], *findings[True])


def _doubtful_pictures(doubts: Sequence[Doubt]) -> tuple[Caveat, ...]:
    refs = tuple(
        dict.fromkeys(
            doubt.ref
            for doubt in doubts
            if doubt.ref.table in {"pictures", "picture_marks"} and doubt.decided is None
        )
    )
    if not refs:
        return ()
    return (
        Caveat(
            code="doubtful pictures",
            text="Doubtful rows bear on this: " + "; ".join(ref.words() for ref in refs) + ".",
            rows=refs,
        ),
    )


def _audit_mount(
    measures: Sequence[MountMeasurement],
    means_mm: Mapping[tuple[str, str], Draws],
    *,
    between_sd_mm: Mapping[tuple[str, str], float],
    rng: np.random.Generator,
) -> tuple[tuple[MountCheck, ...], tuple[Finding, ...]]:
    checks: list[MountCheck] = []
    findings: list[Finding] = []
    for measure in measures:
        place = (measure.element, measure.code)
        if place not in means_mm or place not in between_sd_mm:
            findings.append(mount_without_bone(measure))
            continue
        expected = expected_draws_mm(
            measure, mean_draws_mm=means_mm[place], between_sd_mm=between_sd_mm[place], rng=rng
        )
        check = check_measure(measure, expected)
        checks.append(check)
        findings += mount_findings(check, measure, Quantity(draws=expected, unit="mm"))
    return tuple(checks), tuple(findings)
