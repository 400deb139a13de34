"""Which rows enter the average: doubts raised, decisions honoured, the rest kept."""

from collections.abc import Mapping
from dataclasses import dataclass

from bonewright.findings import Doubt, RowRef
from bonewright.skeleton.bones import Bone, join_casts
from bonewright.skeleton.cast_doubts import cast_doubts
from bonewright.skeleton.doubts import (
    Decisions,
    element_doubts,
    measurement_doubts,
    repeat_doubts,
    side_doubts,
)
from bonewright.skeleton.fit_doubts import fit_doubts
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.measuring_error import measuring_error
from bonewright.skeleton.reduction import bone_values
from bonewright.skeleton.reference import usual_sizes
from bonewright.study.model import Measurement, Specimen

__all__ = ["SortedRows", "sort_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SortedRows:
    """Rows to use, and rows not to use with the (element, code) they would have fed.

    ``bones`` are all bones in use, ``grown_bones`` those of full-grown animals.
    """

    bones: Mapping[str, Bone]
    grown_bones: Mapping[str, Bone]
    measurements: tuple[Measurement, ...]
    doubts: tuple[Doubt, ...]
    specimens_out: tuple[RowRef, ...]
    measurements_out: tuple[RowRef, ...]
    would_have_fed: Mapping[tuple[str, str], tuple[RowRef, ...]]


def sort_rows(
    specimens: tuple[Specimen, ...],
    measurements: tuple[Measurement, ...],
    *,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    relatives: LnMatrix | None = None,
) -> SortedRows:
    """Raise the doubts and separate the rows that enter the average from the others.

    ``relatives`` say what to expect of a measurement that hardly any bone has.
    """
    decisions = Decisions(kept=kept, set_aside=set_aside)
    doubts = _raise_doubts(specimens, measurements, relatives=relatives, decisions=decisions)
    refs = (*(row.ref for row in specimens), *(row.ref for row in measurements))
    out = {doubt.ref for doubt in doubts if doubt.held_out and doubt.decided != "keep"}
    out |= {ref for ref in refs if (ref.table, ref.row_id) in set_aside}
    every_bone = join_casts(specimens)
    # A bone out of the average takes its casts with it: they show the same bone.
    lost = {
        member.specimen_id
        for bone in every_bone.values()
        if bone.specimen.ref in out
        for member in (bone.specimen, *bone.casts)
    } | {specimen.specimen_id for specimen in specimens if specimen.ref in out}
    bones = join_casts(specimen for specimen in specimens if specimen.specimen_id not in lost)
    grown = {bone_id: bone for bone_id, bone in bones.items() if not bone.young}
    used = tuple(
        measurement
        for measurement in measurements
        if measurement.ref not in out and measurement.specimen_id not in lost
    )
    return SortedRows(
        bones=bones,
        grown_bones=grown,
        measurements=used,
        doubts=doubts,
        specimens_out=tuple(specimen.ref for specimen in specimens if specimen.ref in out),
        measurements_out=tuple(row.ref for row in measurements if row.ref in out),
        would_have_fed=_would_have_fed(specimens, measurements, out),
    )


def _raise_doubts(
    specimens: tuple[Specimen, ...],
    measurements: tuple[Measurement, ...],
    *,
    relatives: LnMatrix | None,
    decisions: Decisions,
) -> tuple[Doubt, ...]:
    bones = {name: bone for name, bone in join_casts(specimens).items() if not bone.young}
    values = bone_values(measurements, bones)
    not_set_aside = values
    if decisions.set_aside:
        not_set_aside = bone_values(
            (row for row in measurements if decisions.on(row.ref) != "set aside"),
            {
                name: bone
                for name, bone in bones.items()
                if decisions.on(bone.specimen.ref) != "set aside"
            },
        )
    of_elements = element_doubts(values, usual=usual_sizes(not_set_aside), decisions=decisions)
    odd = {doubt.ref for doubt in of_elements}
    rest = {name: bone for name, bone in bones.items() if bone.specimen.ref not in odd}
    usual = usual_sizes(value for value in not_set_aside if value.bone.specimen.ref not in odd)
    bone_of = {
        member.specimen_id: bone
        for bone in rest.values()
        for member in (bone.specimen, *bone.casts)
    }
    of_readings = measurement_doubts(
        measurements, bone_of=bone_of, usual=usual, decisions=decisions
    )
    in_use = [bone for bone in rest.values() if decisions.on(bone.specimen.ref) != "set aside"]
    # What the first look holds out must not spoil the second.
    named = {doubt.ref for doubt in (*of_elements, *of_readings) if doubt.decided != "keep"}
    sound = bone_values(
        (
            row
            for row in measurements
            if row.ref not in named and decisions.on(row.ref) != "set aside"
        ),
        {bone.specimen.specimen_id: bone for bone in in_use},
    )
    error = measuring_error(sound)
    of_casts = cast_doubts(sound, usual=usual, error=error, decisions=decisions)
    of_fit = fit_doubts(
        sound,
        error=error,
        relatives=relatives,
        named=frozenset(doubt.ref for doubt in of_readings),
        decisions=decisions,
    )
    of_repeats = repeat_doubts(
        not_set_aside,
        usual=usual,
        named=frozenset(doubt.ref for doubt in (*of_readings, *of_fit)),
        decisions=decisions,
    )
    return (
        *of_elements,
        *of_casts,
        *of_readings,
        *of_fit,
        *of_repeats,
        *side_doubts(in_use, decisions=decisions),
    )


def _would_have_fed(
    specimens: tuple[Specimen, ...], measurements: tuple[Measurement, ...], out: set[RowRef]
) -> dict[tuple[str, str], tuple[RowRef, ...]]:
    by_id = {specimen.specimen_id: specimen for specimen in specimens}
    fed: dict[tuple[str, str], list[RowRef]] = {}
    for measurement in measurements:
        specimen = by_id.get(measurement.specimen_id)
        if specimen is None:
            continue
        refs = fed.setdefault((specimen.element, measurement.code), [])
        if measurement.ref in out:
            refs.append(measurement.ref)
        elif specimen.ref in out and specimen.ref not in refs:
            refs.append(specimen.ref)
    return {key: tuple(refs) for key, refs in fed.items() if refs}
