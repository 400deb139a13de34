"""Tables of pictures, accounts and the earlier mount."""

from typing import TYPE_CHECKING

from bonewright.report.blocks import TableBlock, TableColumn
from bonewright.report.wording import year_words

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.testimony.witnesses import WeighedClaim

__all__ = [
    "audit_of_mount",
    "claims_of_accounts",
    "likelihoods_entered",
    "pictures_against_bones",
    "register_of_pictures",
]


def register_of_pictures(run: "Run") -> TableBlock | None:
    """Set the register of pictures out in order of date."""
    testimony = run.testimony
    if testimony is None or not testimony.pictures:
        return None
    rows = {picture.picture_id: picture for picture in run.study.pictures}
    groups = () if testimony.copying is None else testimony.copying.groups
    by_shape = {name: group.original for group in groups for name in group.seen}
    ratios = {(ratio.picture_id, ratio.key): ratio.value for ratio in testimony.ratios}

    def ratio(name: str, key: str) -> str:
        value = ratios.get((name, key))
        return "" if value is None else f"{value:.2f}"

    def copy_of(name: str) -> str:
        if name in by_shape:
            return f"{by_shape[name]} (shape)"
        return rows[name].copy_of or (
            "unknown" if rows[name].drawn_from == "another picture" else ""
        )

    return TableBlock(
        caption="The pictures in order of date.",
        columns=(
            TableColumn(head="Picture", share=2.6),
            TableColumn(head="Date", share=1.0),
            TableColumn(head="Drawn from", share=1.1),
            TableColumn(head="Copy of", share=1.0),
            TableColumn(head="Trust", share=0.6),
            TableColumn(head="Fatness", share=0.7, align="right"),
            TableColumn(head="Body", share=0.6, align="right"),
            TableColumn(head="Head", share=0.6, align="right"),
        ),
        rows=tuple(
            (
                f"{one.title} ({one.picture_id})",
                one.date.text or year_words(one.date.middle),
                rows[one.picture_id].drawn_from,
                copy_of(one.picture_id),
                rows[one.picture_id].reliability or "",
                "" if one.score is None else f"{one.score:.1f}",
                ratio(one.picture_id, "body_depth"),
                ratio(one.picture_id, "head_depth"),
            )
            for one in testimony.pictures
            if one.picture_id in rows
        ),
        notes=(
            "Dates as entered (~ about, ? doubtful, / from and to). Fatness: mean score, 1 to 5."
            " Body: body depth to shank length; head: head depth to bill length, as marked.",
        ),
    )


def claims_of_accounts(run: "Run") -> TableBlock | None:
    """Set out what the accounts claim."""
    if run.testimony is None or not run.testimony.claims:
        return None
    units = {"weight": "kg", "height": "m", "length": "m"}

    def amount(claim: "WeighedClaim") -> str:
        if claim.value is None:
            return claim.statement
        span = "" if claim.low is None else f", {claim.low:.3g} to {claim.high:.3g}"
        return f"{claim.statement} ({claim.value:.3g} {units.get(claim.kind, '')}{span})"

    return TableBlock(
        caption="What the accounts claim, in order of date. A range is that of the old unit; a"
        " claim has no interval of its own.",
        columns=(
            TableColumn(head="Account", share=1.9),
            TableColumn(head="Date", share=0.9),
            TableColumn(head="Standing", share=1.0),
            TableColumn(head="About", share=0.9),
            TableColumn(head="Claim", share=2.5),
        ),
        rows=tuple(
            (
                claim.account_title,
                claim.date.text or year_words(claim.date.middle),
                "copy" if claim.is_copy else claim.standing,
                claim.kind,
                amount(claim),
            )
            for claim in sorted(
                run.testimony.claims, key=lambda c: (c.date.middle, c.account_id, c.claim_id)
            )
        ),
    )


def likelihoods_entered(run: "Run") -> TableBlock | None:
    """Set out the person's own likelihood ratios."""
    claims = () if run.testimony is None else run.testimony.claims
    rated = [claim for claim in claims if claim.likelihood_ratio is not None]
    if not rated:
        return None
    return TableBlock(
        caption="What you hold some claims to be worth. These numbers are yours: they were entered,"
        " not computed. They enter the odds of a rival hypothesis that they name, and no other"
        " result.",
        columns=(
            TableColumn(head="Claim", share=2.4),
            TableColumn(head="Account", share=2.0),
            TableColumn(head="Where", share=1.0),
            TableColumn(head="Times likelier", share=0.8, align="right"),
            TableColumn(head="If it is true that", share=1.5),
        ),
        rows=tuple(
            (
                claim.statement,
                claim.account_title + (" (a copy)" if claim.is_copy else ""),
                claim.location or "",
                f"{claim.likelihood_ratio:g}",
                claim.likelihood_ratio_for or "",
            )
            for claim in rated
        ),
    )


def audit_of_mount(run: "Run") -> TableBlock | None:
    """Set out the audit of the earlier mount."""
    if run.testimony is None or not run.testimony.mount:
        return None
    return TableBlock(
        caption="The earlier mount, measure by measure.",
        columns=(
            TableColumn(head="Measure", share=1.8),
            TableColumn(head="Answers to", share=1.2),
            TableColumn(head="Found (mm)", share=0.8, align="right"),
            TableColumn(head="Expected (mm)", share=1.0, align="right"),
            TableColumn(head="Wrong?", share=0.6),
            TableColumn(head="In words", share=2.4),
        ),
        rows=tuple(
            (
                f"{check.title} ({check.measurement_id})",
                f"{check.element} {check.code}",
                f"{check.found_mm:.0f}",
                f"{check.expected_mm[0]:.0f} to {check.expected_mm[1]:.0f}",
                "wrong" if check.wrong else "no",
                check.words,
            )
            for check in run.testimony.mount
        ),
        notes=(
            "Expected: 95 % range of one individual's bone plus what skin and flesh may add"
            " between their limits.",
        ),
    )


def pictures_against_bones(run: "Run") -> TableBlock | None:
    """Set out where marked pictures contradict the bones."""
    testimony = run.testimony
    if testimony is None:
        return None
    titles = {picture.picture_id: picture.title for picture in run.study.pictures}
    checked = {name: checks for name, checks in testimony.picture_checks.items() if checks}
    if not checked:
        return None
    return TableBlock(
        caption="Marked pictures and photographs held against the bones.",
        columns=(
            TableColumn(head="Picture", share=2.2),
            TableColumn(head="Lengths", share=0.7, align="right"),
            TableColumn(head="What contradicts bone and soft tissue", share=3.6),
        ),
        rows=tuple(
            (
                f"{titles.get(name, name)} ({name})",
                str(len(checks)),
                "; ".join(check.words for check in checks if check.wrong),
            )
            for name, checks in checked.items()
            if any(check.wrong for check in checks)
        ),
        notes=(
            f"Of {len(checked)} marked pictures, those in which no length contradicts bone and"
            " soft tissue are left out. A drawing may be off by a tenth in any length through"
            " view and hand alone, a photograph by three hundredths; both are allowed for"
            " (common practice).",
        ),
    )
