"""Body mass from leg bones of living relatives."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError, NotEnoughEvidence, OutsideRange
from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws
from bonewright.relatives.blind_proof import prove_blind
from bonewright.relatives.describing import (
    blind_findings,
    chosen_finding,
    fit_findings,
    published_finding,
    tree_finding,
)
from bonewright.relatives.doubts import relatives_doubts
from bonewright.relatives.gathering import SpeciesPoints, points_by_measurement
from bonewright.relatives.in_trees import Spread, in_one_process
from bonewright.relatives.joint_describing import joint_findings
from bonewright.relatives.joint_line import JointEvidence, JointQuestion, joint_line
from bonewright.relatives.line import (
    LineFit,
    fit_line,
    predict,
    prediction_interval,
    predictive_draws,
)
from bonewright.relatives.published_equations import equation_mass_kg
from bonewright.relatives.results import BlindProofResult, LegBoneFit, RelativesResult
from bonewright.relatives.retransformation import correction_factor, mass_kg_of
from bonewright.relatives.scatter import shared_scatter
from bonewright.relatives.telling_lines import (
    LEAST_SPECIES,
    SAYS_NOTHING,
    lines_that_tell,
    tells,
    usable_points,
)
from bonewright.relatives.tree import compare_tips
from bonewright.relatives.trial import Trial, least_error, leave_one_out_trial
from bonewright.remembering import recalled
from bonewright.study.model import MassEquation, Relative, RelativeMeasurement

__all__ = [
    "BlindProofResult",
    "JointQuestion",
    "LegBoneFit",
    "RelativesResult",
    "mass_from_leg_bones",
    "rows_out",
]

_BAND_POINTS = 41
_ROUNDING = 1e-9

Key = tuple[str, str]


def mass_from_leg_bones(
    relatives: tuple[Relative, ...],
    relative_measurements: tuple[RelativeMeasurement, ...],
    *,
    bone_draws_mm: Mapping[Key, Draws],
    retransformation: str,
    blind_species: str | None,
    question: JointQuestion | None,
    equations: Sequence[MassEquation],
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    spread: Spread = in_one_process,
) -> RelativesResult:
    """Predict the lost animal's mass from its leg bones: one by one, and all together.

    Parameters
    ----------
    relatives, relative_measurements
        Checked rows, masses in kg and lengths in mm.
    bone_draws_mm : mapping of (element, code) to (n_draws,) float
        The average skeleton.
    retransformation
        Name of the correction of the mean: a key of ``retransformation.CORRECTIONS``.
    blind_species
        Species of the blind proof. It stays in the lines for the lost animal.
    question : JointQuestion
        Trees, the lost animal's place in them, its flight and gait; None leaves it at the
        bones one by one.
    equations : sequence of MassEquation
        Published equations, shown beside.
    kept, set_aside
        (table, row id) of doubtful rows that the person kept, and of rows never to use.
    rng
        Source of the draws.
    spread : Spread, optional
        How the work on many trees is shared out; the numbers do not depend on it.

    Raises
    ------
    NotEnoughEvidence
        If no leg-bone measurement is shared by the lost animal and five relatives, or none
        tells the mass within a factor of ten thousand.
    OutsideRange
        If the average bone may be of no length.
    """
    doubts = recalled(
        relatives_doubts, relatives, relative_measurements, kept=kept, set_aside=set_aside
    )
    out = rows_out(relatives, relative_measurements, doubts, set_aside=set_aside)
    points = points_by_measurement(
        (row for row in relatives if row.ref not in out),
        (row for row in relative_measurements if row.ref not in out),
    )
    usable = usable_points(points, bone_draws_mm, doubts=doubts)
    # A stream of its own: what the joint model draws moves no other number.
    joint_rng, equation_rng = rng.spawn(2)
    fits = lines_that_tell(
        _fit_all(usable, bone_draws_mm, correction=retransformation, rng=rng), doubts=doubts
    )
    chosen = least_error(
        {
            key: Trial(
                n_species=len(fit.species),
                rms_ln=fit.leave_one_out_rms_ln,
                error_percent=fit.leave_one_out_error_percent,
                coverage_percent=fit.leave_one_out_coverage_percent,
            )
            for key, fit in fits.items()
        }
    )
    findings: list[Finding] = []
    for key, fit in fits.items():
        would_have_fed = _out_of_measurement(key, relatives, relative_measurements, out)
        findings.extend(fit_findings(fit, held_out=would_have_fed))
    findings.append(chosen_finding(fits[chosen], n_fits=len(fits)))
    evidence: JointEvidence | None = None
    if question is not None:
        used = tuple(row for row in relatives if row.ref not in out)
        why_not = ""
        try:
            evidence = joint_line(
                usable,
                used,
                bone_draws_mm=bone_draws_mm,
                question=question,
                blind_species=blind_species,
                rng=joint_rng,
                spread=spread,
            )
            if not tells(evidence.line.mass_draws_kg):
                evidence, why_not = None, f"Several leg bones together {SAYS_NOTHING}."
        except BonewrightError as missing:
            why_not = str(missing)
        findings[:0] = joint_findings(
            None if evidence is None else evidence.line,
            why_not=why_not,
            held_out=_out_of_joint(evidence, relatives, relative_measurements, out),
        )
    proof = None
    if blind_species is not None:
        proof, told = _blind(
            points,
            relatives,
            species=blind_species,
            correction=retransformation,
            evidence=evidence,
        )
        findings.extend(told)
    if question is not None and question.trees:
        tips = tuple(name for name in question.trees[0].tip_names if name != question.place.name)
        findings.append(tree_finding(*compare_tips((row.species for row in relatives), tips)))
    # Equations have a stream of their own, so that one more moves no other number.
    for equation, stream in zip(equations, equation_rng.spawn(len(equations)), strict=True):
        bone_mm = bone_draws_mm.get((equation.element, equation.code))
        if bone_mm is not None:
            mass_kg = equation_mass_kg(equation, bone_mm, rng=stream)
            findings.append(published_finding(equation, mass_kg, bone_mm=float(np.mean(bone_mm))))
    return RelativesResult(
        fits=fits,
        chosen=chosen,
        blind_proof=proof,
        doubts=doubts,
        findings=tuple(findings),
        joint=None if evidence is None else evidence.line,
    )


def _out_of_joint(
    evidence: JointEvidence | None,
    relatives: Sequence[Relative],
    measurements: Sequence[RelativeMeasurement],
    out: frozenset[RowRef],
) -> tuple[RowRef, ...]:
    """Return the rows that would have fed the joint line."""
    if evidence is None:
        return ()
    found: dict[RowRef, None] = {}
    for key in evidence.line.bones:
        found |= dict.fromkeys(_out_of_measurement(key, relatives, measurements, out))
    return tuple(found)


def rows_out(
    relatives: Sequence[Relative],
    measurements: Sequence[RelativeMeasurement],
    doubts: Sequence[Doubt],
    *,
    set_aside: frozenset[tuple[str, str]],
) -> frozenset[RowRef]:
    """Return the rows that no fit may use: in doubt and not kept, or set aside."""
    refs = (*(row.ref for row in relatives), *(row.ref for row in measurements))
    aside = {ref for ref in refs if (ref.table, ref.row_id) in set_aside}
    held = {doubt.ref for doubt in doubts if doubt.held_out and doubt.decided != "keep"}
    return frozenset(aside | held)


def _out_of_measurement(
    key: Key,
    relatives: Sequence[Relative],
    measurements: Sequence[RelativeMeasurement],
    out: frozenset[RowRef],
) -> tuple[RowRef, ...]:
    """Return the rows that would have fed a fit: of the measurement, and of masses."""
    of_key = [row for row in measurements if (row.element, row.code) == key]
    measured = {row.species for row in of_key}
    return (
        *(row.ref for row in of_key if row.ref in out),
        *(row.ref for row in relatives if row.ref in out and row.species in measured),
    )


def _fit_all(
    points: Mapping[Key, SpeciesPoints],
    bone_draws_mm: Mapping[Key, Draws],
    *,
    correction: str,
    rng: np.random.Generator,
) -> dict[Key, LegBoneFit]:
    for element, code in points:
        if float(np.min(bone_draws_mm[element, code])) <= 0:
            raise OutsideRange(
                f"The average {element} {code} may be of no length, so its logarithm does not"
                " exist.",
                remedy="Look at its rows in measurements.csv.",
            )
    lines = {
        key: fit_line(np.log(entry.bone_mm), np.log(entry.mass_kg)) for key, entry in points.items()
    }
    n_draws = len(next(iter(bone_draws_mm.values())))
    scatter = shared_scatter(
        {
            key: dict(zip(points[key].species, line.residuals, strict=True))
            for key, line in lines.items()
        },
        rng=rng,
        n_draws=n_draws,
    )
    return {
        key: _fit_one(
            key,
            points[key],
            lines[key],
            bone_draws_mm=bone_draws_mm[key],
            scatter=scatter[key],
            correction=correction,
            rng=rng,
        )
        for key in points
    }


def _fit_one(
    key: Key,
    points: SpeciesPoints,
    line: LineFit,
    *,
    bone_draws_mm: Draws,
    scatter: NDArray[np.float64],
    correction: str,
    rng: np.random.Generator,
) -> LegBoneFit:
    bone_ln, mass_ln = np.log(points.bone_mm), np.log(points.mass_kg)
    factor = correction_factor(
        correction, observed_ln=mass_ln, residual_ln=line.residuals, sd_ln=line.residual_sd
    )
    trial = leave_one_out_trial(bone_ln, mass_ln, correction=correction)
    lost_bone_mm = float(np.mean(bone_draws_mm))
    smallest, largest = float(points.bone_mm.min()), float(points.bone_mm.max())
    outside = max(lost_bone_mm / largest - 1, 1 - lost_bone_mm / smallest, 0.0)
    mass_draws_ln = predictive_draws(line, np.log(bone_draws_mm), scatter=scatter, rng=rng)
    on_line_kg = float(mass_kg_of(predict(line, np.array(np.log(lost_bone_mm)))))
    return LegBoneFit(
        element=key[0],
        code=key[1],
        species=points.species,
        bone_mm=points.bone_mm,
        mass_kg=points.mass_kg,
        slope=line.slope,
        slope_se=line.slope_se,
        intercept_ln=line.intercept,
        residual_sd_ln=line.residual_sd,
        r_squared=line.r_squared,
        degrees_of_freedom=line.degrees_of_freedom,
        correction_name=correction,
        correction_factor=factor,
        leave_one_out_error_percent=trial.error_percent,
        leave_one_out_coverage_percent=trial.coverage_percent,
        leave_one_out_rms_ln=trial.rms_ln,
        lost_bone_mm=lost_bone_mm,
        outside_percent=100 * outside if outside > _ROUNDING else 0.0,
        mean_mass_kg=on_line_kg * factor,
        mass_draws_kg=mass_kg_of(mass_draws_ln),
        prediction_band=_prediction_band(
            line, min(smallest, lost_bone_mm), max(largest, lost_bone_mm)
        ),
        rows=points.rows,
    )


def _prediction_band(
    line: LineFit, from_mm: float, to_mm: float
) -> tuple[tuple[float, float, float, float], ...]:
    bone_mm = np.geomspace(from_mm, to_mm, _BAND_POINTS)
    low, high = prediction_interval(line, np.log(bone_mm))
    middle = predict(line, np.log(bone_mm))
    columns = np.column_stack([bone_mm, *(mass_kg_of(edge) for edge in (low, middle, high))])
    return tuple((float(x), float(a), float(b), float(c)) for x, a, b, c in columns)


def _blind(
    points: Mapping[Key, SpeciesPoints],
    relatives: Sequence[Relative],
    *,
    species: str,
    correction: str,
    evidence: JointEvidence | None,
) -> tuple[BlindProofResult | None, tuple[Finding, ...]]:
    rows = [row.ref for row in relatives if row.species == species]
    proof, why_not = None, ""
    try:
        proof = prove_blind(
            points, species=species, correction=correction, least_species=LEAST_SPECIES
        )
        joint = None if evidence is None else evidence.blind
        if joint is not None:
            held = joint.low_kg <= joint.known_kg <= joint.high_kg
            proof = replace(proof, joint=joint, held=held)
    except NotEnoughEvidence as missing:
        why_not = str(missing)
    return proof, blind_findings(proof, species=species, why_not=why_not, rows=rows)
