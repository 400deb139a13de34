"""The average skeleton: the mean of every measurement, all of them estimated together."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence, keeping_doubts
from bonewright.findings import Doubt, Finding, RowRef
from bonewright.skeleton.averaging import PlainMean, plain_mean
from bonewright.skeleton.bone_mean import BoneMean
from bonewright.skeleton.counting import minimum_number_of_individuals
from bonewright.skeleton.describing import (
    count_finding,
    left_out_finding,
    mean_finding,
    variation_finding,
)
from bonewright.skeleton.error_findings import error_findings
from bonewright.skeleton.fragments import FragmentLength, fragment_findings, fragment_lengths
from bonewright.skeleton.from_relatives import (
    FromRelatives,
    from_relatives_findings,
    lengths_from_relatives,
)
from bonewright.skeleton.individual_findings import individual_findings
from bonewright.skeleton.individuals import Individuals, count_individuals
from bonewright.skeleton.joint_average import (
    NOT_JOINT,
    AverageChoice,
    JointAverage,
    joint_average,
)
from bonewright.skeleton.measuring_error import MeasuringError, measuring_error
from bonewright.skeleton.reduction import (
    BoneValue,
    IndividualValue,
    bone_values,
    individual_values,
)
from bonewright.skeleton.relatives_pattern import relatives_matrix
from bonewright.skeleton.sex_findings import sexes_findings
from bonewright.skeleton.sorting import SortedRows, sort_rows
from bonewright.skeleton.variation import pooled_variation
from bonewright.study.bone_codes import ELEMENTS, MEASUREMENT_CODES, code_meaning
from bonewright.study.model import Measurement, OwnCode, RelativeMeasurement, Specimen

__all__ = ["AverageSkeleton", "BoneMean", "average_skeleton"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AverageSkeleton:
    """All bone means, keyed by (element, code), and what else the bones say.

    ``joint`` is None where there are only toe bones. ``from_relatives`` holds averages of
    bones that nobody has, told by living relatives, or None; ``fragments`` the lengths that
    broken bones had. ``sorted_rows`` are the rows in use.
    """

    means: Mapping[tuple[str, str], BoneMean]
    choice: AverageChoice
    joint: JointAverage | None
    from_relatives: FromRelatives | None
    fragments: tuple[FragmentLength, ...]
    measuring: MeasuringError
    individuals: Individuals
    sorted_rows: SortedRows
    minimum_number_of_individuals: int
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def average_skeleton(
    specimens: tuple[Specimen, ...],
    measurements: tuple[Measurement, ...],
    *,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    relative_measurements: tuple[RelativeMeasurement, ...] = (),
    choice: AverageChoice | None = None,
    codes: tuple[OwnCode, ...] = (),
    rng: np.random.Generator,
    n_draws: int,
) -> AverageSkeleton:
    """Estimate the average of every measurement, all of them together.

    Parameters
    ----------
    specimens, measurements
        Checked rows of the study, lengths in mm.
    kept, set_aside
        (table, row id) of doubtful rows that the person kept, and of rows never to use.
    relative_measurements
        Of living relatives, mm: the pattern in which bones vary is pulled to theirs.
    choice : AverageChoice
        Which average; the arithmetic mean over those found if not given.
    codes : tuple of OwnCode
        What the study's own codes mean.
    rng, n_draws
        Source and number of draws.

    Raises
    ------
    NotEnoughEvidence
        If no full-grown bone has a measurement that can be used.
    """
    choice = choice or AverageChoice()
    meanings = {
        (element, row.code): row.meaning
        for row in codes
        for element in ((row.element,) if row.element else ELEMENTS)
    }
    relatives = relatives_matrix(relative_measurements, set_aside=set_aside)
    sorted_rows = sort_rows(
        specimens, measurements, kept=kept, set_aside=set_aside, relatives=relatives
    )
    values = bone_values(sorted_rows.measurements, sorted_rows.grown_bones)
    groups = _by_measurement(individual_values(values))
    if not groups:
        raise NotEnoughEvidence(
            "The average skeleton could not be computed.",
            needed="at least one measurement of a full-grown bone",
            found=f"{len(measurements)} measurements of {len(specimens)} bones, none usable",
            would_help="rows in measurements.csv for bones of adults in specimens.csv",
            doubts=sorted_rows.doubts,
        )
    variation = pooled_variation([value.value_mm for value in group] for group in groups.values())
    measuring = measuring_error(values)
    minimum = minimum_number_of_individuals(sorted_rows.bones.values())
    with keeping_doubts(sorted_rows.doubts):
        joint = joint_average(
            [value for group in groups.values() for value in group],
            measuring=measuring,
            relatives=relatives,
            choice=choice,
            minimum_individuals=minimum_number_of_individuals(sorted_rows.grown_bones.values()),
            rng=rng,
            n_draws=n_draws,
        )
    individuals = count_individuals(
        sorted_rows.grown_bones, values, joint=joint, measuring=measuring, rng=rng
    )
    means = {
        key: _bone_mean(
            key,
            group,
            plain=plain_mean(group, variation=variation),
            joint=None if key[0] in NOT_JOINT else joint,
            rng=rng,
            n_draws=n_draws,
        )
        for key, group in groups.items()
    }
    foretold: FromRelatives | None = None
    fragments: tuple[FragmentLength, ...] = ()
    if joint is not None:
        foretelling = rng.spawn(1)[0]
        foretold = _from_relatives(joint, rng=foretelling)
        fragments = fragment_lengths(
            tuple(sorted_rows.grown_bones.values()), joint, rng=foretelling, n_draws=n_draws
        )
    findings = (
        *(
            mean_finding(
                mean=means[element, code],
                code_meaning=meanings.get((element, code)) or code_meaning(element, code),
                group=group,
                choice=choice,
                held_out=sorted_rows.would_have_fed.get((element, code), ()),
            )
            for (element, code), group in groups.items()
        ),
        *from_relatives_findings(foretold),
        *fragment_findings(fragments),
        count_finding(sorted_rows.bones.values(), minimum, sorted_rows.specimens_out),
        *individual_findings(individuals),
        *error_findings(measuring, _repeated_rows(values)),
        variation_finding(variation),
        *sexes_findings(joint, choice),
        left_out_finding(_reasons(sorted_rows, values)),
    )
    return AverageSkeleton(
        means=means,
        choice=choice,
        joint=joint,
        from_relatives=foretold,
        fragments=fragments,
        measuring=measuring,
        individuals=individuals,
        sorted_rows=sorted_rows,
        minimum_number_of_individuals=minimum,
        doubts=sorted_rows.doubts,
        findings=findings,
    )


def _from_relatives(joint: JointAverage, *, rng: np.random.Generator) -> FromRelatives | None:
    """Return the averages that only living relatives can tell, or None if they tell none."""
    if joint.relatives is None:
        return None
    codes = set(joint.relatives.codes)
    known_ln = {code: np.log(joint.column(code)) for code in joint.model.codes if code in codes}
    try:
        return lengths_from_relatives(joint.relatives, known_ln, rng=rng)
    except NotEnoughEvidence:
        return None


def _by_measurement(
    values: tuple[IndividualValue, ...],
) -> dict[tuple[str, str], list[IndividualValue]]:
    """Group by (element, code), in the order of the tables' vocabulary."""
    groups: dict[tuple[str, str], list[IndividualValue]] = {}
    for value in values:
        groups.setdefault((value.element, value.code), []).append(value)
    elements, codes = list(ELEMENTS), list(MEASUREMENT_CODES)
    codes += sorted({code for _, code in groups} - set(codes))  # a study's own come last
    order = sorted(groups, key=lambda key: (elements.index(key[0]), codes.index(key[1])))
    return {key: sorted(groups[key], key=lambda value: value.individual) for key in order}


def _bone_mean(
    key: tuple[str, str],
    group: list[IndividualValue],
    *,
    plain: PlainMean,
    joint: JointAverage | None,
    rng: np.random.Generator,
    n_draws: int,
) -> BoneMean:
    rows = tuple(ref for value in group for bone in value.bones for ref in bone.rows)
    if joint is None:
        draws, between_sd_mm = plain.draws_mm(rng=rng, n_draws=n_draws), plain.between_sd_mm
    else:
        draws = joint.column(key)
        between_sd_mm = joint.between_sd_ln(key) * float(np.mean(draws))
    return BoneMean(
        element=key[0],
        code=key[1],
        n_individuals=len(group),
        n_bones=sum(len(value.bones) for value in group),
        n_measurements=len(rows),
        individuals_mm=tuple(value.value_mm for value in group),
        mean_mm=float(np.mean(draws)),
        between_sd_mm=between_sd_mm,
        mean_draws_mm=draws,
        plain=plain,
        rows=rows,
    )


def _repeated_rows(values: tuple[BoneValue, ...]) -> tuple[RowRef, ...]:
    return tuple(ref for value in values if len(value.rows) > 1 for ref in value.rows)


def _reasons(
    sorted_rows: SortedRows, values: tuple[BoneValue, ...]
) -> dict[str, tuple[RowRef, ...]]:
    used = {ref for value in values for ref in value.rows}
    young = [bone for bone in sorted_rows.bones.values() if bone.young]
    of_casts = {
        cast.specimen_id for bone in sorted_rows.grown_bones.values() for cast in bone.casts
    }
    return {
        "bones of young animals": tuple(bone.specimen.ref for bone in young),
        "measurements of casts whose original was measured": tuple(
            measurement.ref
            for measurement in sorted_rows.measurements
            if measurement.specimen_id in of_casts and measurement.ref not in used
        ),
        "bones in doubt or set aside": sorted_rows.specimens_out,
        "measurements in doubt or set aside": sorted_rows.measurements_out,
    }
