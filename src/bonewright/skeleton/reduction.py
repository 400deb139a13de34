"""From measurements to individuals' values: repeats, casts and pairs reduced."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum

from bonewright.findings import RowRef
from bonewright.skeleton.bones import Bone
from bonewright.study.model import Measurement

__all__ = ["BoneValue", "IndividualValue", "bone_values", "individual_values"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneValue:
    """One measurement code on one bone, over all who measured it.

    ``readings_mm`` are the single readings used, ``observers``, ``instruments`` and
    ``accuracies_mm`` (0 where unknown) go with them; ``from_cast`` says that they were taken
    on a cast because the original was not measured there.
    """

    bone: Bone
    code: str
    value_mm: float
    readings_mm: tuple[float, ...]
    from_cast: bool
    rows: tuple[RowRef, ...]
    observers: tuple[str, ...]
    instruments: tuple[str, ...]
    accuracies_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualValue:
    """One measurement code of one individual, over its left and right bones."""

    individual: str
    loose: bool
    element: str
    code: str
    value_mm: float
    bones: tuple[BoneValue, ...]


def bone_values(
    measurements: Iterable[Measurement], bones: Mapping[str, Bone]
) -> tuple[BoneValue, ...]:
    """Reduce repeats of one bone and code to the mean of the observers' means, mm.

    Measurements of a cast are used only where its original lacks that code.
    """
    original_of = {
        member.specimen_id: bone_id
        for bone_id, bone in bones.items()
        for member in (bone.specimen, *bone.casts)
    }
    readings: dict[tuple[str, str], dict[bool, list[Measurement]]] = {}
    for measurement in measurements:
        bone_id = original_of.get(measurement.specimen_id)
        if bone_id is None:
            continue
        on_cast = measurement.specimen_id != bone_id
        of_code = readings.setdefault((bone_id, measurement.code), {})
        of_code.setdefault(on_cast, []).append(measurement)
    values = []
    for (bone_id, code), by_kind in readings.items():
        from_cast = False not in by_kind
        used = by_kind[from_cast]
        values.append(
            BoneValue(
                bone=bones[bone_id],
                code=code,
                value_mm=_mean_over_observers(used),
                readings_mm=tuple([measurement.value_mm for measurement in used]),
                from_cast=from_cast,
                rows=tuple([measurement.ref for measurement in used]),
                observers=tuple([measurement.observer or "" for measurement in used]),
                instruments=tuple([measurement.instrument or "" for measurement in used]),
                accuracies_mm=tuple([measurement.accuracy_mm or 0.0 for measurement in used]),
            )
        )
    return tuple(values)


def individual_values(values: Iterable[BoneValue]) -> tuple[IndividualValue, ...]:
    """Reduce the bones of one individual, element and code to their mean, mm."""
    grouped: dict[tuple[str, str, str], list[BoneValue]] = {}
    for value in values:
        key = (value.bone.individual, value.bone.specimen.element, value.code)
        grouped.setdefault(key, []).append(value)
    return tuple(
        IndividualValue(
            individual=individual,
            loose=all(value.bone.loose for value in members),
            element=element,
            code=code,
            value_mm=fsum(value.value_mm for value in members) / len(members),
            bones=tuple(members),
        )
        for (individual, element, code), members in grouped.items()
    )


def _mean_over_observers(measurements: list[Measurement]) -> float:
    if len(measurements) == 1:
        return measurements[0].value_mm
    by_observer: dict[str, list[float]] = {}
    for measurement in measurements:
        by_observer.setdefault(measurement.observer or "", []).append(measurement.value_mm)
    means = [fsum(readings) / len(readings) for readings in by_observer.values()]
    return fsum(means) / len(means)
