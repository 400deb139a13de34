"""Readings of the maquettes and the masses they give."""

import altair as alt
import numpy as np

from bonewright.body.maquette import MaquetteMass
from bonewright.body.weighing import BodyResult
from bonewright.quantity import Quantity
from bonewright.report.figures.figure import Chart, data_of
from bonewright.report.figures.intervals import interval_panel, row_of_summary
from bonewright.report.theme import INK, VERDICT
from bonewright.report.wording import interval_words, mass_words, plural

__all__ = ["maquette", "maquette_caption", "maquette_words"]

_LITRES = 1000.0


def _mass_of(model: MaquetteMass) -> str:
    return interval_words(Quantity(draws=model.mass_draws_kg, unit="kg").summary(), "kg")


def maquette(result: BodyResult) -> Chart:
    """Draw the readings brought to life size, and the mass of each maquette."""
    labels = [f"{name} ({m.state})" for name, m in result.maquettes.items()]
    readings = [
        {"label": label, "from": volume * m.scale_denominator**3 * _LITRES}
        for label, m in zip(labels, result.maquettes.values(), strict=True)
        for volume in m.readings_m3
    ]
    volumes = [
        volume * m.scale_denominator**3 * _LITRES
        for m in result.maquettes.values()
        for volume in m.readings_m3
    ]
    spread = max(max(volumes) - min(volumes), 0.04 * max(volumes))
    left = (
        alt.Chart(data_of(readings))
        .mark_tick(thickness=1.6, size=20, color=INK)
        .encode(
            x=alt.X(
                "from:Q",
                title="Readings at life size (L)",
                scale=alt.Scale(
                    domain=[min(volumes) - 0.3 * spread, max(volumes) + 0.3 * spread],
                    zero=False,
                    nice=False,
                ),
                axis=alt.Axis(tickCount=5),
            ),
            y=alt.Y(
                "label:N",
                sort=labels,
                title=None,
                axis=alt.Axis(ticks=False, domain=False, labelPadding=6),
            ),
        )
        .properties(width=190, height=30 * len(labels))
    )
    rows = []
    for label, model in zip(labels, result.maquettes.values(), strict=True):
        summary = Quantity(draws=model.mass_draws_kg, unit="kg").summary()
        rows.append(row_of_summary(label, summary, colour=VERDICT, margin=mass_words(summary)))
    ends = [end for row in rows for end in (row.outer or ())]
    margin = 0.1 * (max(ends) - min(ends))
    right = interval_panel(
        tuple(rows),
        x_title="Body mass (kg)",
        domain=(max(min(ends) - margin, 0.0), max(ends) + margin),
        log=False,
        width=190,
        step=30,
        label_width=0,
    )
    return alt.hconcat(left, right, spacing=20)


def maquette_caption(result: BodyResult) -> str:
    """Say what the marks of the figure mean."""
    counts = ", ".join(
        f"{name}: {plural(len(m.readings_m3), 'reading')} at 1:{m.scale_denominator:g}"
        for name, m in result.maquettes.items()
    )
    return (
        f"Left: volume of each reading times the scale cubed ({counts}). Right: mass,"
        " median with 50 and 95 % intervals, which also hold the doubt in the body's density and"
        " in the modelled flesh."
    )


def maquette_words(result: BodyResult) -> str:
    """Say the figure in words."""
    return "Readings and masses. " + "; ".join(
        f"{name}: life-size volume about {float(np.median(m.volume_draws_m3)) * _LITRES:.3g}"
        f" litres, mass {_mass_of(m)}"
        for name, m in result.maquettes.items()
    )
