"""What marks on pictures say, as findings: copies, ratios, contradictions of the bones."""

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.testimony.copies import Copying
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.measures import RATIOS, PictureRatio
from bonewright.testimony.mount import MountCheck

__all__ = ["copying_findings", "picture_audit_findings", "ratio_findings"]


def copying_findings(copying: Copying, rows: Sequence[RowRef]) -> tuple[Finding, ...]:
    """Say who copied whom, and how many independent witnesses remain."""
    if not rows:
        return ()
    groups = [
        f"{group.original} is repeated by "
        + ", ".join([*group.told, *(f"{name} (by shape, entered nowhere)" for name in group.seen)])
        for group in copying.groups
    ]
    text = (
        "Here " + "; ".join(groups) + "."
        if groups
        else "No picture is known or seen to copy another."
    )
    if copying.n_marked < 2:
        text += " Shapes were not compared: fewer than two pictures are marked."
    elif not copying.shape_has_a_say:
        text += (
            f" The shapes of {copying.n_marked} marked pictures do not part into copies and"
            " others, so shape was given no say."
        )
    how = HowGot(
        formula="the entries copyOf, joined with pairs whose Procrustes distance (mirroring"
        " allowed) belongs to copies with a probability of 90 % or more",
        rows=tuple(rows),
        sources=("Dryden1998", "Kass1995"),
    )
    return (
        Finding(
            key="testimony.copies",
            step="testimony",
            title="Who copied whom",
            value=Statement(text=text),
            how=how,
            n=len(rows),
            n_of="pictures",
        ),
        Finding(
            key="testimony.effective_number",
            step="testimony",
            title="Effective number of independent pictures",
            value=Exact(
                value=copying.effective_number,
                unit="pictures",
                why_no_interval="counts pictures, each shared with those of the same origin",
            ),
            how=HowGot(
                formula="sum over pictures of 1 / (1 + expected number of others of one origin)",
                inputs=("testimony.copies",),
                rows=tuple(rows),
            ),
            n=len(rows),
            n_of="pictures",
        ),
    )


def ratio_findings(
    ratios: Sequence[PictureRatio],
    marked: Sequence[MarkedPicture],
    independent: frozenset[str],
) -> tuple[Finding, ...]:
    """Sum each ratio up over independent pictures, with its repeat error."""
    refs = {one.picture.picture_id: one.refs for one in marked}
    by_key: dict[str, list[PictureRatio]] = defaultdict(list)
    for measured in ratios:
        if measured.picture_id in independent:
            by_key[measured.key].append(measured)
    findings = []
    for ratio in RATIOS:
        of_key = by_key.get(ratio.key, [])
        if not of_key:
            continue
        values = np.array([one.value for one in of_key])
        errors = [one.error for one in of_key if one.error is not None]
        text = f"Median {np.median(values):.2f} in independent pictures"
        if len(values) > 1:
            text += f", from {values.min():.2f} to {values.max():.2f}"
        if errors:
            text += f"; marking a picture again moves it by about {np.median(errors):.2f}"
        findings.append(
            Finding(
                key=f"testimony.ratio.{ratio.key}",
                step="testimony",
                title=ratio.title,
                value=Statement(text=text + "."),
                how=HowGot(
                    formula=f"between the marks {', '.join(ratio.points)}; mean over rounds and"
                    " observers",
                    rows=tuple(ref for one in of_key for ref in refs[one.picture_id]),
                ),
                n=len(of_key),
                n_of="independent pictures",
                caveats=()
                if errors
                else (
                    Caveat(
                        code="marked once",
                        text="No picture was marked twice, so the repeat error is unknown.",
                    ),
                ),
            )
        )
    return tuple(findings)


def picture_audit_findings(
    marked: MarkedPicture, checks: Sequence[MountCheck]
) -> tuple[Finding, ...]:
    """Say where one picture or photograph contradicts the bones."""
    if not checks:
        return ()
    picture = marked.picture
    wrong = [check for check in checks if check.wrong]
    words = [f"{check.words} ({_chance_words(check)})" for check in wrong]
    scaled = picture.scale_mm is not None and "scale start" in marked.points
    return (
        Finding(
            key=f"testimony.picture.{picture.picture_id}",
            step="testimony",
            title=f"{picture.title[:1].upper()}{picture.title[1:]} against the bones",
            value=Statement(
                text="; ".join(words) + "."
                if words
                else f"None of {len(checks)} lengths contradicts bone and soft tissue."
            ),
            how=HowGot(
                formula="marked lengths over bone + spread between individuals + soft tissue, "
                + ("by the picture's scale" if scaled else "by the picture's other lengths")
                + "; wrong below 1 %",
                inputs=tuple(f"skeleton.mean.{c.element}.{c.code}" for c in checks),
                rows=(picture.ref, *marked.refs),
            ),
            n=len(checks),
            n_of="marked lengths",
            caveats=()
            if picture.shows_mount
            else (
                Caveat(
                    code="a drawing",
                    text="A drawing foreshortens: a length may be off by a tenth through view and"
                    " hand alone, and that is allowed for.",
                ),
            ),
        ),
    )


def _chance_words(check: MountCheck) -> str:
    # The words say already by how much it is off.
    percent = check.chance_percent
    return f"chance {percent:.1f} %" if percent >= 0.1 else "chance below 0.1 %"
