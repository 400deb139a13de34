"""Mass from a maquette's volume, by displaced water, weighing in water, or its material."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.body.decisions import Places
from bonewright.body.readings import (
    FEWEST_FOR_OWN_SPREAD,
    doubt_readings,
    mean_reading_draws,
    net_volume_m3,
)
from bonewright.findings import Caveat, Doubt, Finding, HowGot, RowRef
from bonewright.quantity import Draws, Quantity
from bonewright.study.model import BodyReading

__all__ = ["MaquetteMass", "MaquettesResult", "mass_from_maquettes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaquetteMass:
    """One maquette: life-size volume and mass.

    ``readings_m3`` are at model scale, net of armature.
    """

    body_id: str
    state: str
    scale_denominator: float
    readings_m3: tuple[float, ...]
    volume_draws_m3: Draws
    mass_draws_kg: Draws
    rows: tuple[RowRef, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaquettesResult:
    """Every maquette, keyed by its name."""

    maquettes: Mapping[str, MaquetteMass]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def mass_from_maquettes(
    readings: tuple[BodyReading, ...],
    *,
    density_draws_kg_m3: Draws,
    shape_draws: Draws,
    kept: Places,
    set_aside: Places,
    rng: np.random.Generator,
) -> MaquettesResult:
    """Life-size mass = volume x scale cubed x density, with all uncertainties.

    Parameters
    ----------
    readings : tuple of BodyReading
        Volumes of maquettes, repeats sharing a ``body_id``.
    density_draws_kg_m3 : (n_draws,) float
        Density of the whole living body.
    shape_draws : (n_draws,) float
        What the modelled volume is multiplied by, for what the modeller's eye may be off. One
        and the same for all maquettes: one eye made them.
    """
    maquettes: dict[str, MaquetteMass] = {}
    doubts: list[Doubt] = []
    findings: list[Finding] = []
    for body_id in dict.fromkeys(reading.body_id for reading in readings):
        of_body = [reading for reading in readings if reading.body_id == body_id]
        of_body_doubts = doubt_readings(of_body, kept=kept, set_aside=set_aside)
        doubts += of_body_doubts
        held_out = tuple(doubt.ref for doubt in of_body_doubts if doubt.held_out)
        used = [
            reading
            for reading in of_body
            if reading.ref not in held_out
            and (reading.ref.table, reading.ref.row_id) not in set_aside
        ]
        if used:
            maquettes[body_id] = _weigh(
                used,
                density_draws_kg_m3=density_draws_kg_m3,
                shape_draws=shape_draws,
                rng=rng,
                n_draws=len(shape_draws),
            )
            findings += _findings(maquettes[body_id], held_out)
    return MaquettesResult(maquettes=maquettes, doubts=tuple(doubts), findings=tuple(findings))


def _weigh(
    used: Sequence[BodyReading],
    *,
    density_draws_kg_m3: Draws,
    shape_draws: Draws,
    rng: np.random.Generator,
    n_draws: int,
) -> MaquetteMass:
    first = used[0]
    # Each reading is brought to life size with its own scale and back with the first's, so
    # that a model measured at two scales is never averaged as if they were one.
    net = [
        net_volume_m3(reading) * (reading.scale_denominator / first.scale_denominator) ** 3
        for reading in used
    ]
    volume = mean_reading_draws(net, rng=rng, n_draws=n_draws)
    volume = volume * first.scale_denominator**3 * shape_draws
    return MaquetteMass(
        body_id=first.body_id,
        state=first.state,
        scale_denominator=first.scale_denominator,
        readings_m3=tuple(net),
        volume_draws_m3=volume,
        mass_draws_kg=volume * density_draws_kg_m3,
        rows=tuple(reading.ref for reading in used),
    )


def _findings(maquette: MaquetteMass, held_out: tuple[RowRef, ...]) -> tuple[Finding, Finding]:
    caveats = _caveats(maquette, held_out)
    n_readings = len(maquette.readings_m3)
    volume = Finding(
        key=f"body.volume.{maquette.body_id}",
        step="body",
        title=f"Life-size volume of {maquette.body_id} ({maquette.state})",
        value=Quantity(draws=maquette.volume_draws_m3, unit="m3"),
        how=HowGot(
            formula=(
                f"mean net volume of the readings x {maquette.scale_denominator:g}^3 x"
                " (1 + what the shape may be off)"
            ),
            inputs=("choices.maquette_shape_percent",),
            rows=maquette.rows,
        ),
        n=n_readings,
        n_of="readings",
        caveats=caveats,
    )
    mass = Finding(
        key=f"body.mass.{maquette.body_id}",
        step="body",
        title=f"Body mass from {maquette.body_id} ({maquette.state})",
        value=Quantity(draws=maquette.mass_draws_kg, unit="kg"),
        how=HowGot(
            formula="life-size volume x body density",
            inputs=(volume.key, "choices.body_density"),
            rows=maquette.rows,
        ),
        n=n_readings,
        n_of="readings",
        caveats=caveats,
    )
    return volume, mass


def _caveats(maquette: MaquetteMass, held_out: tuple[RowRef, ...]) -> tuple[Caveat, ...]:
    caveats = [
        Caveat(
            code="modeller's eye",
            text="How much flesh the maquette carries is one modeller's judgement; the interval"
            " holds only what study.toml allows for it.",
        )
    ]
    n_readings = len(maquette.readings_m3)
    if n_readings < FEWEST_FOR_OWN_SPREAD:
        noun = "reading" if n_readings == 1 else "readings"
        caveats.append(
            Caveat(
                code="few readings",
                text=f"Rests on {n_readings} {noun}, so that a spread of 2 % between readings is"
                " assumed (common practice). One slip could not be seen."
                if n_readings == 1
                else f"Rests on {n_readings} {noun}, so that a spread of 2 % between readings is"
                " assumed beside theirs (common practice).",
                rows=maquette.rows,
            )
        )
    if held_out:
        caveats.append(
            Caveat(
                code="rows held out",
                text="Doubtful readings are left out until you decide about them: "
                + "; ".join(ref.words() for ref in held_out)
                + ".",
                rows=held_out,
            )
        )
    return tuple(caveats)
