"""Every line of evidence against mass, and the verdict without each of them."""

from dataclasses import replace

import altair as alt
import numpy as np

from bonewright.findings import Finding
from bonewright.judgement.pooling import PooledMass
from bonewright.judgement.published_lines import SCATTER_NOT_INCLUDED, published_masses
from bonewright.movement.strength import StrengthResult
from bonewright.quantity import Quantity, Summary
from bonewright.report.figures.figure import Chart
from bonewright.report.figures.intervals import (
    IntervalRow,
    interval_panel,
    padded_log_domain,
    row_of_summary,
)
from bonewright.report.theme import COPY, FAINT, LOST, OTHER, POOLED, VERDICT
from bonewright.report.wording import (
    interval_words,
    mass_words,
    plural,
    range_words,
    short_title,
    year_words,
)
from bonewright.testimony.witnesses import TestimonyResult, WeighedClaim

__all__ = [
    "leave_one_line_out",
    "leave_one_line_out_caption",
    "leave_one_line_out_words",
    "mass_lines",
    "mass_lines_caption",
    "mass_lines_words",
    "weight_claims",
]

_PLOT = 250
_LABELS = 280
_LETTERS = 48
_LETTERS_OF_OTHERS = 36


def _summary(draws_kg: object) -> Summary:
    return Quantity(draws=np.asarray(draws_kg, dtype=np.float64), unit="kg").summary()


def weight_claims(testimony: TestimonyResult | None) -> tuple[WeighedClaim, ...]:
    """Return the claims of weight, in order of date."""
    if testimony is None:
        return ()
    weights = (c for c in testimony.claims if c.kind == "weight" and c.value is not None)
    return tuple(sorted(weights, key=lambda claim: claim.date.middle))


def _window_rows(movement: StrengthResult) -> list[IntervalRow]:
    rows = []
    ends = [
        (element, bone.window_low_draws_kg, bone.window_high_draws_kg)
        for element, bone in movement.bones.items()
    ]
    ends.append(
        ("all leg bones at once", movement.joint_low_draws_kg, movement.joint_high_draws_kg)
    )
    for label, low, high in ends:
        lowest, low_middle = np.quantile(low, [0.025, 0.5])
        high_middle, highest = np.quantile(high, [0.5, 0.975])
        fits = low_middle <= high_middle
        rows.append(
            IntervalRow(
                label=label,
                middle=float(np.sqrt(low_middle * high_middle)),
                inner=(float(low_middle), float(high_middle)) if fits else None,
                outer=(float(lowest), float(highest)) if fits else None,
                colour="#009E73",
                shape="stroke" if fits else "cross",
                margin=range_words(low_middle, high_middle) if fits else "no mass fits all",
            )
        )
    return rows


def _published_row(finding: Finding, summary: Summary) -> IntervalRow:
    title = finding.title.replace("Body mass by a published equation for", "Published:", 1)
    known = all(caveat.code != SCATTER_NOT_INCLUDED for caveat in finding.caveats)
    return IntervalRow(
        label=short_title(title, letters=_LETTERS),
        middle=summary.median,
        inner=summary.interval50 if known else None,
        outer=summary.interval95,
        colour=OTHER if known else FAINT,
        filled=known,
        margin=mass_words(summary) + ("" if known else " *"),
        weight=0.65,
    )


def _panels(
    pooled: PooledMass,
    movement: StrengthResult | None,
    testimony: TestimonyResult | None,
    further: tuple[Finding, ...],
) -> list[tuple[str, list[IntervalRow], float]]:
    verdict = _summary(pooled.mass_draws_kg)
    panels = [
        (
            "The verdict",
            [row_of_summary("pooled", verdict, colour=VERDICT, margin=mass_words(verdict))],
            18.0,
        )
    ]
    entering, others = [], []
    for line in pooled.lines:
        summary = _summary(line.mass_draws_kg)
        if line.pooled:
            entering.append(
                row_of_summary(
                    short_title(line.title, letters=_LETTERS),
                    summary,
                    colour=VERDICT,
                    margin=mass_words(summary),
                )
            )
        else:
            others.append(
                row_of_summary(
                    short_title(line.title, letters=_LETTERS_OF_OTHERS),
                    summary,
                    colour=OTHER,
                    margin=mass_words(summary),
                    weight=0.65,
                )
            )
    others += [_published_row(finding, summary) for finding, summary in published_masses(further)]
    panels.append(("Lines of evidence that enter it", entering, 16.0))
    panels.append(("Further estimates, not counted twice", others, 11.0))
    if movement is not None:
        panels.append(("Masses the legs' strength allows", _window_rows(movement), 13.0))
    claims = [
        IntervalRow(
            label=f"{claim.account_title}, {year_words(claim.date.middle)}",
            middle=claim.value,
            colour=COPY if claim.is_copy else LOST,
            shape="diamond",
            filled=not claim.is_copy,
            margin=f"{claim.value:.3g}" + (" (copied)" if claim.is_copy else ""),
        )
        for claim in weight_claims(testimony)
        if claim.value is not None
    ]
    panels.append(("Weights claimed in accounts", claims, 12.0))
    return [(title, _distinct(rows), step) for title, rows, step in panels if rows]


def _distinct(rows: list[IntervalRow]) -> list[IntervalRow]:
    # Rows are placed by their labels: two accounts of one title and year need two places.
    seen: dict[str, int] = {}
    result = []
    for row in rows:
        seen[row.label] = seen.get(row.label, 0) + 1
        label = row.label if seen[row.label] == 1 else f"{row.label} ({seen[row.label]})"
        result.append(replace(row, label=label))
    return result


def mass_lines(
    pooled: PooledMass,
    movement: StrengthResult | None,
    testimony: TestimonyResult | None,
    *,
    further: tuple[Finding, ...] = (),
) -> Chart:
    """Draw everything that says something of the mass against one axis of mass."""
    panels = _panels(pooled, movement, testimony, further)
    reach = [
        end for _, rows, _ in panels for row in rows for end in (row.middle, *(row.outer or ()))
    ]
    domain = padded_log_domain(reach)
    band = _summary(pooled.mass_draws_kg).interval95
    charts = [
        interval_panel(
            tuple(rows),
            x_title="Body mass (kg, logarithmic scale)" if place == len(panels) - 1 else None,
            domain=domain,
            log=True,
            width=_PLOT,
            step=step,
            title=title,
            band=band,
            label_width=_LABELS,
            label_size=10,
        )
        for place, (title, rows, step) in enumerate(panels)
    ]
    stacked: Chart = alt.vconcat(*charts, spacing=5).resolve_scale(x="shared")
    return stacked


def mass_lines_caption(
    pooled: PooledMass,
    movement: StrengthResult | None,
    testimony: TestimonyResult | None,
    *,
    further: tuple[Finding, ...] = (),
) -> str:
    """Say what the marks of the figure mean."""
    entering = sum(line.pooled for line in pooled.lines)
    words = (
        "Dots: medians; thick and thin bars: 50 and 95 % intervals; shaded: the verdict's 95 %"
        f" interval; figures at the right in kg. Of {plural(len(pooled.lines), 'estimate')}"
        f" {entering} {'enters' if entering == 1 else 'enter'} the verdict: the others share its"
        " bones or show another state of the body."
    )
    if any(
        caveat.code == SCATTER_NOT_INCLUDED
        for finding, _ in published_masses(further)
        for caveat in finding.caveats
    ):
        words += (
            " Hollow and marked *: published equations whose bar holds the bone's uncertainty"
            " only, since how animals scatter about them is not known here."
        )
    if movement is not None:
        words += (
            " Strength: thick bars join the medians of a window's two ends, thin ones their outer"
            " 2.5 % limits."
        )
    if weight_claims(testimony):
        words += " Diamonds: weights in accounts, hollow where copied."
    return words


def mass_lines_words(
    pooled: PooledMass, movement: StrengthResult | None, testimony: TestimonyResult | None
) -> str:
    """Say the figure in words."""
    parts = [
        f"{line.title}: {interval_words(_summary(line.mass_draws_kg), 'kg')}"
        for line in pooled.lines
        if line.pooled
    ]
    words = (
        "Interval chart of body mass. Verdict"
        f" {interval_words(_summary(pooled.mass_draws_kg), 'kg')}."
        f" Lines that enter it: {'; '.join(parts)}."
    )
    if movement is not None:
        low = float(np.median(movement.joint_low_draws_kg))
        high = float(np.median(movement.joint_high_draws_kg))
        words += f" The legs' strength allows about {range_words(low, high)} kg."
    claims = weight_claims(testimony)
    if claims:
        words += f" {len(claims)} weights claimed in accounts are marked below."
    return words


def leave_one_line_out(pooled: PooledMass) -> Chart:
    """Draw the pooled mass with all lines and without each."""
    titles = {line.key: line.title for line in pooled.lines}
    verdict = _summary(pooled.mass_draws_kg)
    rows = [row_of_summary("all lines", verdict, colour=VERDICT, margin=mass_words(verdict))]
    rows += [
        row_of_summary(
            f"without '{short_title(titles.get(key, key), letters=_LETTERS)}'",
            summary,
            colour=POOLED,
            margin=mass_words(summary),
        )
        for key, summary in pooled.without.items()
    ]
    reach = [end for row in rows for end in (row.outer or (row.middle,))]
    return interval_panel(
        tuple(rows),
        x_title="Pooled body mass (kg, logarithmic scale)",
        domain=padded_log_domain(reach),
        log=True,
        width=_PLOT - 20,
        step=24,
        band=verdict.interval95,
        label_width=300,
        label_size=10,
    )


def leave_one_line_out_caption(pooled: PooledMass) -> str:
    """Say what the marks of the figure mean."""
    return (
        f"The pooled mass from all {len(pooled.weights_percent)} lines and with each left out in"
        " turn: medians with 50 and 95 % intervals; shaded: the verdict's 95 % interval. A verdict"
        " that moves far rests on that one line."
    )


def leave_one_line_out_words(pooled: PooledMass) -> str:
    """Say the figure in words."""
    titles = {line.key: line.title for line in pooled.lines}
    return "Pooled mass without each line in turn: " + "; ".join(
        f"without '{titles.get(key, key)}', {interval_words(summary, 'kg')}"
        for key, summary in pooled.without.items()
    )
