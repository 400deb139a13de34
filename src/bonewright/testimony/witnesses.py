"""Pictures, accounts and the old mount heard as witnesses."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Caveat, Doubt, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Draws, Quantity
from bonewright.remembering import recalled
from bonewright.study.model import (
    Account,
    Claim,
    Landmark,
    MountMeasurement,
    Picture,
    PictureMark,
)
from bonewright.study.schemas import SCORES
from bonewright.testimony.agreement import Agreement, scorer_agreement
from bonewright.testimony.change_point import ChangePoint
from bonewright.testimony.change_probability import ChangeProbability
from bonewright.testimony.claims import WeighedClaim, claim_findings, order_claims
from bonewright.testimony.copies import Copying, doubt_likeness, find_copies
from bonewright.testimony.decisions import Decisions
from bonewright.testimony.doubts import (
    doubt_claims,
    doubt_copies,
    doubt_dates,
    doubt_mount,
    doubt_scores,
)
from bonewright.testimony.marks import MarkedPicture, doubt_marks, mark_pictures
from bonewright.testimony.measures import PictureRatio, measure_pictures
from bonewright.testimony.mount import (
    MountCheck,
    check_measure,
    expected_draws_mm,
    mount_findings,
    mount_without_bone,
)
from bonewright.testimony.over_time import fatness_over_time
from bonewright.testimony.picture_audit import allowances_of, audit_pictures
from bonewright.testimony.picture_wording import (
    copying_findings,
    picture_audit_findings,
    ratio_findings,
)
from bonewright.testimony.pictures import ScoredPicture, is_copy, score_pictures
from bonewright.testimony.season import Season
from bonewright.testimony.trend import Trend
from bonewright.testimony.wording import agreement_findings

__all__ = [
    "ChangePoint",
    "MountCheck",
    "ScoredPicture",
    "TestimonyResult",
    "WeighedClaim",
    "hear_witnesses",
]

_FEWEST_DRAWS = 2_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TestimonyResult:
    """What pictures, accounts and the old mount say.

    ``picture_checks`` maps a marked picture or photograph to its lengths held against the
    bones; ``photographs`` are the marked ones of a mount.
    """

    __test__ = False

    pictures: tuple[ScoredPicture, ...]
    change_points: tuple[ChangePoint, ...]
    claims: tuple[WeighedClaim, ...]
    mount: tuple[MountCheck, ...]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]
    copying: Copying | None = None
    trends: tuple[Trend, ...] = ()
    change_probabilities: tuple[ChangeProbability, ...] = ()
    seasons: tuple[Season, ...] = ()
    agreements: tuple[Agreement, ...] = ()
    marked: tuple[MarkedPicture, ...] = ()
    ratios: tuple[PictureRatio, ...] = ()
    picture_checks: Mapping[str, tuple[MountCheck, ...]] = field(default_factory=dict)


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
    landmarks: tuple[Landmark, ...] = (),
) -> TestimonyResult:
    """Hear the witnesses: copies found, change tested, claims listed, mount audited.

    Parameters
    ----------
    pictures, marks, accounts, claims, mount, landmarks
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
    doubts: tuple[Doubt, ...] = (
        *doubt_dates((*pictures, *accounts), witness_years, decisions),
        *doubt_copies(pictures, decisions),
        *doubt_copies(accounts, decisions),
        *doubt_scores(marks, decisions),
        *recalled(doubt_marks, pictures, landmarks, decisions),
        *doubt_claims(claims, decisions),
        *doubt_mount(mount, bone_mean_draws_mm, decisions),
    )
    held_out = {doubt.ref for doubt in doubts if doubt.held_out}

    def used(ref: RowRef) -> bool:
        return ref not in held_out and decisions.of(ref) != "set aside"

    shown = tuple(picture for picture in pictures if used(picture.ref))
    heard = tuple(picture for picture in shown if not picture.shows_mount)
    names = {picture.picture_id for picture in heard}
    scores = tuple(mark for mark in marks if used(mark.ref) and mark.picture_id in names)
    told = tuple(account for account in accounts if used(account.ref))
    measures = tuple(measure for measure in mount if used(measure.ref))
    if not (shown or told or measures):
        raise NotEnoughEvidence(
            "There are no witnesses to hear.",
            needed="a picture, an account or a measure of an earlier mount",
            found=", ".join(sorted(f"doubtful {ref.words()}" for ref in held_out)) or "none",
            would_help="rows in the tables of pictures, accounts or the old mount",
            doubts=doubts,
        )
    # Each part has its own stream, so that none moves another's numbers.
    of_pictures, of_mount, of_claims, of_audit = rng.spawn(4)
    marked = mark_pictures(shown, tuple(mark for mark in landmarks if used(mark.ref)))
    copying = find_copies(heard, marked, kept=kept)
    doubts = (*doubts, *doubt_likeness(heard, copying, decisions))
    fatness = tuple(mark for mark in scores if mark.kind == "fatness")
    over_time = recalled(
        fatness_over_time,
        heard,
        fatness,
        independent=copying.independent,
        caveats=_doubtful_pictures(doubts),
        rng=of_pictures,
    )
    agreements = tuple(
        agreement for kind in SCORES if (agreement := scorer_agreement(scores, kind)) is not None
    )
    ratios = measure_pictures(marked)
    claimed = order_claims(tuple(claim for claim in claims if used(claim.ref)), told)
    checks, mount_results = _audit_mount(
        measures, bone_mean_draws_mm, between_sd_mm=bone_between_sd_mm, rng=of_mount
    )
    picture_checks = recalled(
        audit_pictures,
        marked,
        allowances_mm=allowances_of(measures),
        mean_draws_mm=bone_mean_draws_mm,
        between_sd_mm=bone_between_sd_mm,
        rng=of_audit,
    )
    return TestimonyResult(
        pictures=score_pictures(heard, fatness),
        change_points=over_time.changes,
        claims=claimed,
        mount=checks,
        doubts=doubts,
        findings=(
            _witnesses(heard, told, copying),
            *copying_findings(copying, tuple(picture.ref for picture in heard)),
            *over_time.findings,
            *(
                finding
                for agreement in agreements
                for finding in agreement_findings(
                    agreement, rows=tuple(m.ref for m in scores if m.kind == agreement.kind)
                )
            ),
            *ratio_findings(ratios, marked, copying.independent),
            *claim_findings(
                claimed,
                claims,
                rng=of_claims,
                n_draws=max(map(len, bone_mean_draws_mm.values()), default=_FEWEST_DRAWS),
            ),
            *mount_results,
            *(
                finding
                for one in marked
                for finding in picture_audit_findings(one, picture_checks[one.picture.picture_id])
            ),
        ),
        copying=copying,
        trends=over_time.trends,
        change_probabilities=over_time.probabilities,
        seasons=over_time.seasons,
        agreements=agreements,
        marked=marked,
        ratios=ratios,
        picture_checks=picture_checks,
    )


def _witnesses(
    pictures: Sequence[Picture], accounts: Sequence[Account], copying: Copying
) -> Finding:
    witnesses: tuple[Picture | Account, ...] = (*pictures, *accounts)
    copies = sum(map(is_copy, pictures))
    seen = sum(len(group.seen) for group in copying.groups)
    known = f"{copies} known copies" + (f", {seen} more by shape" if seen else "")
    text = f"{len(pictures)} pictures ({known}) and {len(accounts)} accounts"
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


def _doubtful_pictures(doubts: Sequence[Doubt]) -> tuple[Caveat, ...]:
    refs = tuple(
        dict.fromkeys(
            doubt.ref
            for doubt in doubts
            if doubt.ref.table in {"pictures", "picture_marks", "landmarks"}
            and doubt.decided is None
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
