"""The lines of mass on leg bones, how well they foretell, and the blind proof."""

from collections.abc import Mapping

import altair as alt
import numpy as np

from bonewright.quantity import Quantity
from bonewright.relatives.leg_bones import BlindProofResult, LegBoneFit, RelativesResult
from bonewright.report.figures.figure import Chart, Panel, data_of, key_panel
from bonewright.report.figures.intervals import (
    IntervalRow,
    interval_panel,
    log_ticks,
    padded_log_domain,
)
from bonewright.report.theme import BAND, FAINT, INK, LOST, MUTED, OTHER, VERDICT
from bonewright.report.wording import bone_words, plural

__all__ = [
    "blind_proof",
    "blind_proof_caption",
    "blind_proof_words",
    "leave_one_out_errors",
    "leave_one_out_errors_caption",
    "leave_one_out_errors_words",
    "leg_bone_fits",
    "leg_bone_fits_caption",
    "leg_bone_fits_words",
    "shown_fits",
]

_MOST_PANELS = 6


def shown_fits(result: RelativesResult) -> tuple[LegBoneFit, ...]:
    """Return the chosen fit and the next best by leave-one-out error, six at most."""
    ordered = sorted(
        result.fits.items(),
        key=lambda item: (item[0] != result.chosen, item[1].leave_one_out_rms_ln),
    )
    return tuple(fit for _, fit in ordered[:_MOST_PANELS])


def _fit_panel(fit: LegBoneFit, *, flight: Mapping[str, str], chosen: bool, left: bool) -> Panel:
    lost = Quantity(draws=fit.mass_draws_kg, unit="kg").summary()
    x_domain = padded_log_domain([*map(float, fit.bone_mm), fit.lost_bone_mm])
    y_domain = padded_log_domain([*map(float, fit.mass_kg), *lost.interval95])
    x = alt.X(
        "bone:Q",
        scale=alt.Scale(type="log", domain=list(x_domain), nice=False),
        axis=alt.Axis(
            values=log_ticks(x_domain), title=f"{bone_words((fit.element, fit.code))} (mm)"
        ),
    )
    y_scale = alt.Scale(type="log", domain=list(y_domain), nice=False)
    y_axis = alt.Axis(values=log_ticks(y_domain), title="Body mass (kg)" if left else None)
    y = alt.Y("mass:Q", scale=y_scale, axis=y_axis)
    middle = alt.Y("middle:Q", scale=y_scale, axis=y_axis)
    band = [
        {"bone": bone, "mass": low, "middle": middle, "high": high}
        for bone, low, middle, high in fit.prediction_band
        if x_domain[0] <= bone <= x_domain[1]
    ]
    relatives = [
        {
            "bone": float(bone),
            "mass": float(mass),
            "kind": flight.get(species, "unknown"),
            "name": species,
            "measured": bone_words((fit.element, fit.code)),
        }
        for species, bone, mass in zip(fit.species, fit.bone_mm, fit.mass_kg, strict=True)
    ]
    lost_rows = [
        {
            "bone": fit.lost_bone_mm,
            "mass": lost.interval95[0],
            "high": lost.interval95[1],
            "middle": lost.median,
            "kind": "lost animal",
        }
    ]
    kinds = ["flying", "flightless", "unknown", "lost animal"]
    shape = alt.Shape(
        "kind:N",
        scale=alt.Scale(domain=kinds, range=["circle", "triangle-up", "square", "diamond"]),
        legend=None,
    )
    colour = alt.Color(
        "kind:N", legend=None, scale=alt.Scale(domain=kinds, range=[OTHER, VERDICT, FAINT, LOST])
    )
    layers = [
        alt.Chart(data_of(band)).mark_area(color=BAND, clip=True).encode(x=x, y=y, y2="high:Q"),
        alt.Chart(data_of(band))
        .mark_line(color=MUTED, strokeWidth=1.2, clip=True)
        .encode(x=x, y=middle),
        alt.Chart(data_of(relatives))
        .mark_point(filled=True, size=24, opacity=0.85)
        .encode(x=x, y=y, shape=shape, color=colour),
        alt.Chart(data_of(lost_rows))
        .mark_rule(color=LOST, strokeWidth=1.6)
        .encode(x=x, y=y, y2="high:Q"),
        alt.Chart(data_of(lost_rows))
        .mark_point(filled=True, size=75, opacity=1)
        .encode(
            x=x,
            y=middle,
            shape=shape,
            color=colour,
        ),
    ]
    title = bone_words((fit.element, fit.code)) + (" (best alone)" if chosen else "")
    return alt.layer(*layers).properties(
        width=148, height=140, title=alt.TitleParams(title, frame="group")
    )


def leg_bone_fits(result: RelativesResult, *, flight: Mapping[str, str]) -> Chart:
    """Draw mass against bone, one panel a measurement; ``flight`` maps species to its class."""
    panels = [
        _fit_panel(
            fit,
            flight=flight,
            chosen=(fit.element, fit.code) == result.chosen,
            left=place % 3 == 0,
        )
        for place, fit in enumerate(shown_fits(result))
    ]
    kinds = set(flight.values())
    key = [("flying", "circle", OTHER, True), ("flightless", "triangle-up", VERDICT, True)]
    if not kinds <= {"flying", "flightless"}:
        key.append(("flight unknown", "square", FAINT, True))
    key.append(("the lost animal, with its 95 % interval", "diamond", LOST, True))
    return alt.vconcat(key_panel(tuple(key)), alt.concat(*panels, columns=3, spacing=16), spacing=6)


def leg_bone_fits_caption(result: RelativesResult) -> str:
    """Say what the marks of the figure mean."""
    shown = shown_fits(result)
    counts = sorted({len(fit.species) for fit in shown})
    n = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
    return (
        f"{len(shown)} of {plural(len(result.fits), 'fitted measurement')}, best first, each over"
        f" n = {n} living species. Line: least squares on logarithms; band: 95 % of"
        " single species of that bone size; diamond: the lost animal's average bone with the 95 %"
        " interval of its mass. Both axes are logarithmic."
    )


def leg_bone_fits_words(result: RelativesResult) -> str:
    """Say the figure in words."""
    return "Scatter plots of body mass against leg-bone size. " + "; ".join(
        f"{bone_words((fit.element, fit.code))}: slope {fit.slope:.2f}, R squared"
        f" {fit.r_squared:.2f}, lost animal about"
        f" {float(np.median(fit.mass_draws_kg)):.3g} kg"
        for fit in shown_fits(result)
    )


def blind_proof(proof: BlindProofResult) -> Chart:
    """Draw what the bones say of the relative left out, together and singly."""
    rows = []
    if proof.joint is not None:
        joint = proof.joint
        rows.append(
            IntervalRow(
                label="several together",
                middle=joint.middle_kg,
                outer=(joint.low_kg, joint.high_kg),
                colour=VERDICT if proof.held else LOST,
                shape="circle" if proof.held else "cross",
                margin="holds it" if proof.held else "misses it",
            )
        )
    for bone, (low, middle, high) in sorted(
        proof.predicted.items(), key=lambda item: (item[0] != proof.chosen, item[0])
    ):
        holds = low <= proof.known_mass_kg <= high
        rows.append(
            IntervalRow(
                label=bone_words(bone) + (" (best alone)" if bone == proof.chosen else ""),
                middle=middle,
                outer=(low, high),
                colour=VERDICT if holds else LOST,
                shape="circle" if holds else "cross",
                margin="holds it" if holds else "misses it",
            )
        )
    reach = [proof.known_mass_kg, *(end for row in rows for end in (row.outer or ()))]
    return interval_panel(
        tuple(rows),
        x_title=f"Body mass of {proof.species} (kg, logarithmic scale)",
        domain=padded_log_domain(reach),
        log=True,
        width=330,
        step=18,
        line=proof.known_mass_kg,
        label_width=196,
    )


def blind_proof_caption(proof: BlindProofResult) -> str:
    """Say what the marks of the figure mean."""
    together = ""
    if proof.joint is not None:
        together = "The first row takes several bones together, as the verdict does. "
    return (
        f"{together}Each row predicts {proof.species} from one leg-bone measurement with that"
        f" species left out of the line (n = {plural(len(proof.predicted), 'measurement')}):"
        f" median and 95 % prediction interval. Dashed line: its known mass,"
        f" {proof.known_mass_kg:.3g} kg."
        " Crosses mark intervals that miss it."
    )


def blind_proof_words(proof: BlindProofResult) -> str:
    """Say the figure in words."""
    holds = sum(low <= proof.known_mass_kg <= high for low, _, high in proof.predicted.values())
    return (
        f"Interval chart: {holds} of {len(proof.predicted)} leg-bone measurements foretell the"
        f" known mass of {proof.species}, {proof.known_mass_kg:.3g} kg, within their interval."
    )


def leave_one_out_errors(result: RelativesResult) -> Chart:
    """Draw the middle leave-one-out error of each measurement; least root mean square first."""
    rows = [
        {
            "bone": bone_words(bone),
            "error": fit.leave_one_out_error_percent,
            "kind": "best alone" if bone == result.chosen else "other",
            "words": f"{fit.leave_one_out_error_percent:.0f} %",
        }
        for bone, fit in sorted(result.fits.items(), key=lambda item: item[1].leave_one_out_rms_ln)
    ]
    labels = [str(row["bone"]) for row in rows]
    base = alt.Chart(data_of(rows)).encode(
        x=alt.X("error:Q", title="Leave-one-out error (% of mass)", axis=alt.Axis(tickCount=6)),
        y=alt.Y("bone:N", sort=labels, title=None, axis=alt.Axis(ticks=False, labelPadding=6)),
    )
    bars = base.mark_bar(height=10).encode(
        color=alt.Color(
            "kind:N",
            title=None,
            scale=alt.Scale(domain=["best alone", "other"], range=[VERDICT, FAINT]),
            legend=alt.Legend(orient="top"),
        )
    )
    words = base.mark_text(align="left", dx=4, color=INK).encode(text="words:N")
    return alt.layer(bars, words).properties(width=400, height=16 * len(rows))


def leave_one_out_errors_caption(result: RelativesResult) -> str:
    """Say what the marks of the figure mean."""
    best = result.fits[result.chosen]
    return (
        f"n = {plural(len(result.fits), 'measurement')}. Each bar is the middle (median) error, in"
        " percent of the mass, when each living species in turn is left out of the line and"
        f" foretold by the others. For {bone_words(result.chosen)} the 95 % intervals held the"
        f" species left out {best.leave_one_out_coverage_percent:.0f} % of the time."
    )


def leave_one_out_errors_words(result: RelativesResult) -> str:
    """Say the figure in words."""
    best = result.fits[result.chosen]
    worst = max(fit.leave_one_out_error_percent for fit in result.fits.values())
    return (
        f"Bar chart of leave-one-out errors: {bone_words(result.chosen)} has"
        f" {best.leave_one_out_error_percent:.0f} %, the worst measurement {worst:.0f} %."
    )
