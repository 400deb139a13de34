"""The average skeleton: one mean a measurement, over individuals."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws
from bonewright.skeleton.averaging import MeanOverIndividuals, means_over_individuals
from bonewright.skeleton.counting import minimum_number_of_individuals
from bonewright.skeleton.describing import (
    count_finding,
    error_finding,
    left_out_finding,
    mean_finding,
    variation_finding,
)
from bonewright.skeleton.reduction import (
    BoneValue,
    IndividualValue,
    bone_values,
    individual_values,
)
from bonewright.skeleton.sorting import SortedRows, sort_rows
from bonewright.skeleton.variation import measurement_error_percent, pooled_variation
from bonewright.study.model import Measurement, Specimen
from bonewright.study.schemas import ELEMENTS, MEASUREMENT_CODES

__all__ = ["AverageSkeleton", "BoneMean", "average_skeleton"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoneMean:
    """Mean of one measurement over individuals.

    ``individuals_mm`` are the individuals' values (pairs and repeats reduced first);
    ``mean_draws_mm`` has shape (n_draws,); ``between_sd_mm`` is the standard deviation
    between individuals (pooled coefficient of variation where n is 1).
    """

    element: str
    code: str
    n_individuals: int
    n_bones: int
    n_measurements: int
    individuals_mm: tuple[float, ...]
    mean_mm: float
    between_sd_mm: float
    mean_draws_mm: Draws
    rows: tuple[RowRef, ...]

    def __post_init__(self) -> None:
        draws = np.array(self.mean_draws_mm, dtype=np.float64, copy=True)
        draws.flags.writeable = False
        object.__setattr__(self, "mean_draws_mm", draws)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AverageSkeleton:
    """All bone means, keyed by (element, code)."""

    means: Mapping[tuple[str, str], BoneMean]
    measurement_error_percent: float | None
    n_repeated: int
    minimum_number_of_individuals: int
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def average_skeleton(
    specimens: tuple[Specimen, ...],
    measurements: tuple[Measurement, ...],
    *,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    n_draws: int,
) -> AverageSkeleton:
    """Average every measurement over individuals.

    Parameters
    ----------
    specimens, measurements
        Checked rows of the study, lengths in mm.
    kept, set_aside
        (table, row id) of doubtful rows that the person kept, and of rows never to use.
    rng, n_draws
        Source and number of draws.

    Raises
    ------
    NotEnoughEvidence
        If no full-grown bone has a measurement that can be used.
    """
    sorted_rows = sort_rows(specimens, measurements, kept=kept, set_aside=set_aside)
    values = bone_values(sorted_rows.measurements, sorted_rows.grown_bones)
    groups = _by_measurement(individual_values(values))
    if not groups:
        raise NotEnoughEvidence(
            "The average skeleton could not be computed.",
            needed="at least one measurement of a full-grown bone",
            found=f"{len(measurements)} measurements of {len(specimens)} bones, none usable",
            would_help="rows in measurements.csv for bones of adults in specimens.csv",
        )
    variation = pooled_variation([value.value_mm for value in group] for group in groups.values())
    averaged = means_over_individuals(
        list(groups.values()), variation=variation, rng=rng, n_draws=n_draws
    )
    means = {
        key: _bone_mean(key, group, mean)
        for (key, group), mean in zip(groups.items(), averaged, strict=True)
    }
    error_percent, n_repeated = measurement_error_percent(values)
    minimum = minimum_number_of_individuals(sorted_rows.bones.values())
    findings = (
        *(
            mean_finding(
                element=element,
                code=code,
                code_meaning=MEASUREMENT_CODES.get(code, code),
                group=group,
                mean=mean,
                variation=variation,
                held_out=sorted_rows.would_have_fed.get((element, code), ()),
            )
            for ((element, code), group), mean in zip(groups.items(), averaged, strict=True)
        ),
        count_finding(sorted_rows.bones.values(), minimum, sorted_rows.specimens_out),
        error_finding(error_percent, n_repeated, _repeated_rows(values)),
        variation_finding(variation),
        left_out_finding(_reasons(sorted_rows, values)),
    )
    return AverageSkeleton(
        means=means,
        measurement_error_percent=error_percent,
        n_repeated=n_repeated,
        minimum_number_of_individuals=minimum,
        doubts=sorted_rows.doubts,
        findings=findings,
    )


def _by_measurement(
    values: tuple[IndividualValue, ...],
) -> dict[tuple[str, str], list[IndividualValue]]:
    """Group by (element, code), in the order of the tables' vocabulary."""
    groups: dict[tuple[str, str], list[IndividualValue]] = {}
    for value in values:
        groups.setdefault((value.element, value.code), []).append(value)
    elements, codes = list(ELEMENTS), list(MEASUREMENT_CODES)
    order = sorted(groups, key=lambda key: (elements.index(key[0]), codes.index(key[1])))
    return {key: sorted(groups[key], key=lambda value: value.individual) for key in order}


def _bone_mean(
    key: tuple[str, str], group: list[IndividualValue], mean: MeanOverIndividuals
) -> BoneMean:
    rows = tuple(ref for value in group for bone in value.bones for ref in bone.rows)
    return BoneMean(
        element=key[0],
        code=key[1],
        n_individuals=len(group),
        n_bones=sum(len(value.bones) for value in group),
        n_measurements=len(rows),
        individuals_mm=tuple(value.value_mm for value in group),
        mean_mm=mean.mean_mm,
        between_sd_mm=mean.between_sd_mm,
        mean_draws_mm=mean.draws_mm,
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
