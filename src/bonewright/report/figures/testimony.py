"""Pictures and accounts in order of date."""

import textwrap
from pathlib import Path

import altair as alt
import numpy as np

from bonewright.report.figures.figure import Chart, Panel, data_of, key_panel
from bonewright.report.figures.mount_audit import told_apart
from bonewright.report.figures.thumbnails import thumbnail_address
from bonewright.report.theme import BAND, COPY, FAINT, INK, MUTED, VERDICT
from bonewright.report.wording import plural, year_words
from bonewright.testimony.change_probability import ChangeProbability
from bonewright.testimony.witnesses import (
    ChangePoint,
    ScoredPicture,
    TestimonyResult,
    WeighedClaim,
)

__all__ = [
    "timeline",
    "timeline_caption",
    "timeline_words",
]

_WIDTH = 350
_LABELS = 230
_THUMBNAIL_PX = 40
_SCORES = {1: "very lean", 2: "lean", 3: "middling", 4: "fat", 5: "very fat"}
_KINDS = ["independent", "copy"]


def _scored(result: TestimonyResult) -> list[ScoredPicture]:
    return [picture for picture in result.pictures if picture.score is not None]


def _independent_change(result: TestimonyResult) -> ChangePoint | None:
    found = [change for change in result.change_points if not change.with_copies]
    return found[0] if found else None


def _probability(result: TestimonyResult) -> ChangeProbability | None:
    found = [change for change in result.change_probabilities if not change.with_copies]
    return found[0] if found else None


def _joins(result: TestimonyResult) -> dict[str, tuple[str, bool]]:
    """Map each copy to its original, and whether shape alone tells of the copying."""
    joins = {p.picture_id: (p.copy_of, False) for p in result.pictures if p.copy_of is not None}
    if result.copying is not None:
        for group in result.copying.groups:
            joins |= dict.fromkeys(group.seen, (group.original, True))
    return joins


def _years(result: TestimonyResult) -> tuple[float, float]:
    dates = [picture.date for picture in _scored(result)] + [c.date for c in result.claims]
    low, high = min(d.earliest for d in dates), max(d.latest for d in dates)
    margin = max(0.03 * (high - low), 1.0)
    return low - margin, high + margin


def _kind_colours() -> tuple[alt.Color, alt.Stroke, alt.Fill]:
    scale = alt.Scale(domain=_KINDS, range=[VERDICT, COPY])
    hollow = alt.Scale(domain=_KINDS, range=[VERDICT, "#ffffff"])
    return (
        alt.Color("kind:N", scale=scale, legend=None),
        alt.Stroke("kind:N", scale=scale, legend=None),
        alt.Fill("kind:N", scale=hollow, legend=None),
    )


def _picture_panel(result: TestimonyResult, years: tuple[float, float]) -> Panel:
    pictures = _scored(result)
    by_id = {picture.picture_id: picture for picture in pictures}
    copies = _joins(result)
    scale = alt.Scale(domain=list(years), nice=False, zero=False)
    x_axis = alt.Axis(format="d", labels=False, title=None)
    x = alt.X("year:Q", scale=scale, axis=x_axis)
    y_axis = alt.Axis(
        values=list(_SCORES),
        title="Fatness score (1 to 5)",
        labelExpr="{" + ",".join(f"{k}:'{v}'" for k, v in _SCORES.items()) + "}[datum.value]",
    )
    y = alt.Y("score:Q", scale=alt.Scale(domain=[0.8, 5.2], nice=False), axis=y_axis)
    marks = [
        {
            "year": picture.date.middle,
            "from": picture.date.earliest,
            "to": picture.date.latest,
            "score": picture.score,
            "name": picture.picture_id,
            "kind": "copy" if picture.picture_id in copies else "independent",
        }
        for picture in pictures
    ]
    joins = [
        {
            "year": picture.date.middle,
            "score": picture.score,
            "to_year": original.date.middle,
            "to_score": original.score,
            "seen": "by shape" if copies[picture.picture_id][1] else "entered",
        }
        for picture in pictures
        if picture.picture_id in copies
        and (original := by_id.get(copies[picture.picture_id][0])) is not None
    ]
    colour, stroke, fill = _kind_colours()
    layers: list[alt.Chart] = []
    change = _independent_change(result)
    if change is not None:
        probable = _probability(result)
        band = (
            (change.last_before, change.first_after)
            if probable is None
            else tuple(float(q) for q in np.quantile(probable.year_draws, [0.25, 0.75]))
        )
        layers.append(
            alt.Chart(data_of([{"year": band[0], "to": band[1]}]))
            .mark_rect(color=BAND)
            .encode(x=x, x2="to:Q")
        )
        means = [
            {"year": years[0], "to": change.last_before, "score": change.mean_before},
            {"year": change.first_after, "to": years[1], "score": change.mean_after},
        ]
        layers.append(
            alt.Chart(data_of(means))
            .mark_rule(color=MUTED, strokeDash=[5, 3])
            .encode(x=x, x2="to:Q", y=y)
        )
    if joins:
        layers.append(
            alt.Chart(data_of(joins))
            .mark_rule(color=FAINT, strokeWidth=0.9)
            .encode(
                x=x,
                y=y,
                x2="to_year:Q",
                y2="to_score:Q",
                strokeDash=alt.StrokeDash(
                    "seen:N",
                    legend=None,
                    scale=alt.Scale(domain=["entered", "by shape"], range=[[1, 0], [3, 2]]),
                ),
            )
        )
    layers.append(
        alt.Chart(data_of(marks))
        .mark_rule(strokeWidth=1.4)
        .encode(
            x=alt.X("from:Q", scale=scale, axis=x_axis),
            x2="to:Q",
            y=y,
            color=colour,
        )
    )
    layers.append(
        alt.Chart(data_of(marks))
        .mark_point(size=50, strokeWidth=1.5, opacity=1)
        .encode(x=x, y=y, stroke=stroke, fill=fill)
    )
    return alt.layer(*layers).properties(
        width=_WIDTH, height=190, title=alt.TitleParams("Pictures", frame="group")
    )


def _claims_in_words(claims: list[WeighedClaim]) -> str:
    parts = []
    for claim in claims:
        if claim.value is None:
            parts.append(claim.kind)
        else:
            unit = "kg" if claim.kind == "weight" else "m"
            parts.append(f"{claim.kind} {claim.value:.3g} {unit}")
    return textwrap.shorten(", ".join(parts), width=40, placeholder=" …")


def _account_panel(result: TestimonyResult, years: tuple[float, float]) -> Panel:
    accounts: dict[str, list[WeighedClaim]] = {}
    for claim in sorted(result.claims, key=lambda c: (c.date.middle, c.account_id, c.claim_id)):
        accounts.setdefault(claim.account_id, []).append(claim)
    labels = told_apart([c[0].account_title for c in accounts.values()], list(accounts))
    rows = [
        {
            "account": label,
            "year": claims[0].date.middle,
            "from": claims[0].date.earliest,
            "to": claims[0].date.latest,
            "kind": "copy" if claims[0].is_copy else "independent",
            "words": _claims_in_words(claims),
        }
        for label, claims in zip(labels, accounts.values(), strict=True)
    ]
    scale = alt.Scale(domain=list(years), nice=False, zero=False)
    x_axis = alt.Axis(format="d", title="Year", tickCount=8)
    x = alt.X("year:Q", scale=scale, axis=x_axis)
    y = alt.Y(
        "account:N",
        sort=labels,
        title=None,
        scale=alt.Scale(domain=labels),
        axis=alt.Axis(
            ticks=False,
            domain=False,
            labelPadding=6,
            labelLimit=_LABELS,
        ),
    )
    colour, stroke, fill = _kind_colours()
    spans = (
        alt.Chart(data_of(rows))
        .mark_rule(strokeWidth=1.6)
        .encode(x=alt.X("from:Q", scale=scale, axis=x_axis), x2="to:Q", y=y, color=colour)
    )
    points = (
        alt.Chart(data_of(rows))
        .mark_point(shape="diamond", size=60, strokeWidth=1.5, opacity=1)
        .encode(x=x, y=y, stroke=stroke, fill=fill)
    )
    middle = sum(years) / 2
    layers = [spans, points]
    for side, align, offset in ((True, "left", 9), (False, "right", -9)):
        chosen = [row for row in rows if (float(str(row["year"])) < middle) is side]
        if chosen:
            layers.append(
                alt.Chart(data_of(chosen))
                .mark_text(align=align, baseline="middle", dx=offset, fontSize=10, color=INK)  # type: ignore[arg-type]
                .encode(x=x, y=y, text="words:N")
            )
    return alt.layer(*layers).properties(
        width=_WIDTH, height=20 * len(rows), title=alt.TitleParams("Accounts", frame="group")
    )


def _thumbnail_panel(
    result: TestimonyResult, years: tuple[float, float], folder: Path
) -> Panel | None:
    """Hang small pictures above their years, in as many rows as keep them apart."""
    shown = [
        (picture, address)
        for picture in _scored(result)
        if (address := thumbnail_address(folder, picture.file)) is not None
    ]
    if not shown:
        return None
    px_per_year = _WIDTH / (years[1] - years[0])
    ends: list[float] = []
    rows = []
    for picture, address in shown:
        x = min(
            max((picture.date.middle - years[0]) * px_per_year, _THUMBNAIL_PX / 2),
            _WIDTH - _THUMBNAIL_PX / 2,
        )
        lane = next((i for i, end in enumerate(ends) if x - end > _THUMBNAIL_PX), len(ends))
        ends[lane : lane + 1] = [x]
        rows.append({"x": x, "lane": lane, "url": address, "at": picture.date.middle})
    height = (_THUMBNAIL_PX * 0.85 + 3) * len(ends)
    x_scale = alt.Scale(domain=[0, _WIDTH], range=[0, _WIDTH], nice=False)
    lanes = alt.Scale(domain=[-0.5, len(ends) - 0.5], nice=False, zero=False)
    images = (
        alt.Chart(data_of(rows))
        .mark_image(width=_THUMBNAIL_PX, height=_THUMBNAIL_PX * 0.85)
        .encode(
            x=alt.X("x:Q", scale=x_scale, axis=None),
            y=alt.Y("lane:Q", scale=lanes, axis=None),
            url="url:N",
        )
    )
    return alt.layer(images).properties(width=_WIDTH, height=height)


def timeline(result: TestimonyResult, *, folder: Path | None = None) -> Chart:
    """Draw the pictures' fatness and the accounts' claims against the year.

    ``folder`` is the study's, for thumbnails; without it there are none.
    """
    years = _years(result)
    key = (
        ("independent", "circle", VERDICT, True),
        ("copy", "circle", COPY, False),
        ("account", "diamond", VERDICT, True),
        ("account copied", "diamond", COPY, False),
    )
    panels = [key_panel(key)]
    thumbnails = None if folder is None else _thumbnail_panel(result, years, folder)
    if thumbnails is not None:
        panels.append(thumbnails)
    if _scored(result):
        panels.append(_picture_panel(result, years))
    if result.claims:
        panels.append(_account_panel(result, years))
    return alt.vconcat(*panels, spacing=10)


def timeline_caption(result: TestimonyResult) -> str:
    """Say what the marks of the figure mean."""
    pictures = _scored(result)
    joins = _joins(result)
    copies = sum(picture.picture_id in joins for picture in pictures)
    accounts = len({claim.account_id for claim in result.claims})
    words = (
        f"{plural(len(pictures), 'scored picture')}, {copies} of them copies, and"
        f" {plural(accounts, 'account')} with claims. Bars span the years each can date from;"
        " hollow marks are copies, joined to what they copy by thin lines"
        + (", dashed where shape alone tells." if any(s for _, s in joins.values()) else ".")
    )
    change = _independent_change(result)
    if change is not None:
        probable = _probability(result)
        best = (
            f"{year_words(change.last_before)} to {year_words(change.first_after)}, n ="
            f" {change.n}, p = {change.p_permutation:.2g}"
        )
        if probable is None:
            words += (
                f" Shaded: the likeliest change with copies set aside ({best}); dashed: mean"
                " scores on either side."
            )
        else:
            words += (
                f" Dashed: mean scores on either side of the best division with copies set aside"
                f" ({best}). Shaded: where a change would lie with even odds, if there was one;"
                f" that there was has a probability of {100 * probable.probability:.0f} %."
            )
    return words


def timeline_words(result: TestimonyResult) -> str:
    """Say the figure in words."""
    words = (
        f"Fatness scores of {plural(len(_scored(result)), 'picture')} against the year, with"
        f" {plural(len(result.claims), 'claim')} of accounts below."
    )
    change = _independent_change(result)
    if change is not None:
        words += (
            f" Independent pictures average {change.mean_before:.1f} up to"
            f" {year_words(change.last_before)} and {change.mean_after:.1f} from"
            f" {year_words(change.first_after)}."
        )
    return words
