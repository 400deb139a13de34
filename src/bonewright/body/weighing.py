"""The step as a whole: maquettes, scans and the grown body weighed side by side."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from bonewright.body.condition import Fasting, fasting_days
from bonewright.body.describing import gap_findings, grown_findings
from bonewright.body.describing_scans import scan_findings
from bonewright.body.describing_surface import fasting_findings, plumage_findings
from bonewright.body.finished_models import ModelCheck, Workmanship, check_models
from bonewright.body.grown import GrownBody, grow_body
from bonewright.body.lost_parts import LostPartsResult, lost_parts
from bonewright.body.maquette import MaquetteMass, mass_from_maquettes
from bonewright.body.plan import bones_of_plan
from bonewright.body.plan_doubts import sound_plan, sound_tissues
from bonewright.body.ranges import density_kg_m3, draws_of_range
from bonewright.body.scans import ScannedBody, doubt_scans, weigh_scans
from bonewright.errors import BonewrightError, NotEnoughEvidence, OutsideRange
from bonewright.findings import Doubt, Finding, HowGot, Statement
from bonewright.quantity import Draws
from bonewright.remembering import recalled
from bonewright.study.model import (
    BodyHoop,
    BodyReading,
    BodyScan,
    BodySegment,
    LostPart,
    Tissue,
)
from bonewright.study.settings import Choices
from bonewright.study.workshop_rows import ModelMeasurement

__all__ = ["BodyResult", "weigh_body", "with_models_checked"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BodyResult:
    """What the step found. ``gaps`` says, in words, what has no answer and why.

    ``models`` are empty until they are checked (:func:`with_models_checked`).
    ``foretold_bones`` are those the grown body needs and only living relatives tell.
    """

    maquettes: Mapping[str, MaquetteMass]
    scans: Mapping[str, ScannedBody]
    grown: GrownBody | None
    fasting: Fasting | None
    parts: LostPartsResult
    models: tuple[ModelCheck, ...]
    density_draws_kg_m3: Draws
    gaps: tuple[str, ...]
    foretold_bones: tuple[tuple[str, str], ...]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def weigh_body(
    *,
    readings: tuple[BodyReading, ...],
    scans: tuple[BodyScan, ...],
    segments: tuple[BodySegment, ...],
    hoops: tuple[BodyHoop, ...],
    tissues: tuple[Tissue, ...],
    parts: tuple[LostPart, ...],
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    foretold: frozenset[tuple[str, str]] = frozenset(),
    choices: Choices,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    n_draws: int,
) -> BodyResult:
    """Weigh the body in every way the study allows.

    Parameters
    ----------
    readings, scans, segments, hoops, tissues, parts
        Rows of the study's tables of the body.
    bone_draws_mm : mapping from (element, code) to (n_draws,) float
        The average skeleton, mm.
    foretold : frozenset of (element, code)
        Those that the animal has not left: living relatives told them.

    Raises
    ------
    NotEnoughEvidence
        If there is neither a maquette, nor a scan, nor a skeleton to grow a body from.
    OutsideRange
        If a range in study.toml is possible for no body.

    Notes
    -----
    Each way has its own stream of random numbers; the density of the whole body and the doubt
    in a modeller's eye are drawn once for all maquettes and scans.
    """
    shared, of_maquettes, of_scans, of_grown, of_parts, of_fasting = rng.spawn(6)
    density = draws_of_range(density_kg_m3(choices.body_density), rng=shared, n_draws=n_draws)
    shape = 1 + draws_of_range(choices.maquette_shape_percent, rng=shared, n_draws=n_draws) / 100
    if density.min() <= 0 or shape.min() <= 0:
        raise OutsideRange(
            "The ranges of body density and of the maquette's shape in study.toml are so wide that"
            " they hold bodies of no mass.",
            remedy="Narrow body_density or maquette_shape_percent.",
        )
    judged = {"kept": kept, "set_aside": set_aside}
    gaps: list[str] = []
    maquettes = mass_from_maquettes(
        readings, density_draws_kg_m3=density, shape_draws=shape, **judged, rng=of_maquettes
    )
    scan_doubts = doubt_scans(scans, bone_draws_mm=bone_draws_mm, **judged)
    held_out = {doubt.ref for doubt in scan_doubts if doubt.held_out}
    scanned, refused = weigh_scans(
        [
            scan
            for scan in scans
            if scan.ref not in held_out and (scan.ref.table, scan.ref.row_id) not in set_aside
        ],
        density_draws_kg_m3=density,
        shape_draws=shape,
        rng=of_scans,
    )
    gaps += [f"Scan of {name}: {why}" for name, why in refused.items()]
    plan_doubts: tuple[Doubt, ...] = ()
    tissue_doubts: tuple[Doubt, ...] = ()
    grown, fasting = None, None
    lent: tuple[tuple[str, str], ...] = ()
    grown_rows: tuple[Finding, ...] = ()
    try:
        plan, plan_doubts = sound_plan(segments, hoops, bone_draws_mm=bone_draws_mm, **judged)
        used_tissues, tissue_doubts = sound_tissues(tissues, **judged)
        grown = recalled(
            grow_body,
            plan,
            bone_draws_mm=bone_draws_mm,
            tissues=used_tissues,
            choices=choices,
            density_draws_kg_m3=density,
            rng=of_grown,
        )
        rate = np.maximum(
            draws_of_range(choices.fasting_rate, rng=of_fasting, n_draws=n_draws), 0.2
        )
        fasting = fasting_days(grown, rate_over_basal=rate, rng=of_fasting)
        held = tuple(d.ref for d in (*plan_doubts, *tissue_doubts) if d.held_out)
        lent = tuple(key for key in bones_of_plan(plan) if key in foretold)
        grown_rows = (
            *grown_findings(grown, held_out=held, foretold=lent),
            *plumage_findings(grown, held_out=held),
            *fasting_findings(grown, fasting),
        )
    except BonewrightError as error:
        gaps.append(str(error))
    part_results = lost_parts(
        parts,
        bone_draws_mm=bone_draws_mm,
        mass_draws_kg=None if grown is None else grown.states["mean"].mass_draws_kg,
        **judged,
        rng=of_parts,
        n_draws=n_draws,
    )
    if not maquettes.maquettes and not scanned and grown is None:
        raise NotEnoughEvidence(
            "No body can be weighed.",
            needed="a maquette's volume, a scan, or the bones a body plan refers to",
            found="; ".join([*(f"doubtful {d.ref.words()}" for d in maquettes.doubts), *gaps])
            or "none",
            would_help="rows in the table of body models, or the bone measurements named",
            doubts=(
                *maquettes.doubts,
                *scan_doubts,
                *plan_doubts,
                *tissue_doubts,
                *part_results.doubts,
            ),
        )
    return BodyResult(
        maquettes=maquettes.maquettes,
        scans=scanned,
        grown=grown,
        fasting=fasting,
        parts=part_results,
        models=(),
        density_draws_kg_m3=density,
        gaps=tuple(gaps),
        foretold_bones=lent,
        doubts=(
            *maquettes.doubts,
            *scan_doubts,
            *plan_doubts,
            *tissue_doubts,
            *part_results.doubts,
        ),
        findings=(
            *maquettes.findings,
            *scan_findings(scanned, doubts=scan_doubts, refused=refused),
            *grown_rows,
            *(gap_findings(gaps) if grown is None else ()),
            *part_results.findings,
        ),
    )


def with_models_checked(
    body: BodyResult,
    *,
    models: tuple[ModelMeasurement, ...],
    workmanship: Workmanship,
    set_aside: frozenset[tuple[str, str]],
) -> BodyResult:
    """Hold finished models against the bones, a step of its own since no mass waits for it.

    Parameters
    ----------
    models : tuple of ModelMeasurement
        What was measured on finished models.
    workmanship : Workmanship
        How exactly a measure is met on the bench.
    """
    if not models:
        return body
    if body.grown is None:
        gap = "Finished models wait for a body grown from the skeleton to be held against."
        waiting = Finding(
            key="body.models.none",
            step="body",
            title="Finished models against the bones",
            value=Statement(text=gap),
            how=HowGot(
                formula="needs the body grown from the skeleton",
                rows=tuple(row.ref for row in models),
            ),
        )
        return replace(body, gaps=(*body.gaps, gap), findings=(*body.findings, waiting))
    checks, findings = check_models(
        body.grown, models, workmanship=workmanship, set_aside=set_aside
    )
    return replace(body, models=checks, findings=(*body.findings, *findings))
