"""Which measurement to take next, as the drawers allow: bones known to exist, not yet measured."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Finding, HowGot, RowRef, Statement
from bonewright.skeleton.average import AverageSkeleton
from bonewright.skeleton.ln_matrix import Code
from bonewright.skeleton.next_measurement import NEW_SPECIMEN, rank_next_measurements
from bonewright.study.model import Specimen

__all__ = ["MeasureNext", "WhatNext", "what_to_measure_next"]

SHOWN = 15
_LENGTHS = ("GL", "GLl", "La", "Lm", "L", "LM", "dL", "LC", "LS", "LV", "CBL", "LP")


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureNext:
    """One measurement worth taking.

    ``specimen_id`` is None for a further specimen, not in the study yet; gains are shares
    of variance that would go, ``mass_gain`` None without an equation for mass.
    """

    specimen_id: str | None
    ref: RowRef | None
    code: Code
    skeleton_gain: float
    mass_gain: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatNext:
    """What to measure next, best first: bones in the table, and further specimens."""

    in_table: tuple[MeasureNext, ...]
    further: tuple[MeasureNext, ...]
    findings: tuple[Finding, ...]


def what_to_measure_next(
    skeleton: AverageSkeleton, *, mass_exponents: Mapping[Code, float]
) -> WhatNext:
    """Rank the measurements that would narrow the skeleton, and the mass, most.

    Parameters
    ----------
    skeleton : AverageSkeleton
    mass_exponents : mapping
        How steeply ln mass follows each ln length in the chosen equation; may be empty.

    Raises
    ------
    NotEnoughEvidence
        If there is no joint model.
    """
    joint = skeleton.joint
    if joint is None:
        raise NotEnoughEvidence(
            "What to measure next cannot be told.",
            needed="measurements of bones other than toes",
            found="none",
            would_help="rows in measurements.csv",
        )
    row_of = {row: number for number, row in enumerate(joint.matrix.rows)}
    can = np.zeros(joint.matrix.present.shape, dtype=np.bool_)
    bone_of: dict[tuple[str, Code], Specimen] = {}
    for bone in skeleton.sorted_rows.grown_bones.values():
        number = row_of.get(bone.individual)
        if number is None:
            continue
        for column, code in enumerate(joint.model.codes):
            broken = bone.specimen.preservation == "broken" and code[1] in _LENGTHS
            if code[0] == bone.specimen.element and not broken:
                can[number, column] = True
                bone_of.setdefault((bone.individual, code), bone.specimen)
    aim = np.array([mass_exponents.get(code, 0.0) for code in joint.model.codes])
    ranked = rank_next_measurements(
        joint.model,
        joint.matrix,
        can_be_measured=can,
        new_specimens_of=joint.model.codes,
        error_sd_ln=(skeleton.measuring.total_percent or 0.5) / 100,
        aim=aim if np.any(aim) else None,
    )
    in_table: list[MeasureNext] = []
    further: list[MeasureNext] = []
    for item in ranked:
        fresh = item.row == NEW_SPECIMEN
        specimen = None if fresh else bone_of[item.row, item.code]
        entry = MeasureNext(
            specimen_id=None if specimen is None else specimen.specimen_id,
            ref=None if specimen is None else specimen.ref,
            code=item.code,
            skeleton_gain=item.skeleton_gain,
            mass_gain=item.aim_gain,
        )
        (further if fresh else in_table).append(entry)
    best_in_table, best_further = tuple(in_table[:SHOWN]), tuple(further[:SHOWN])
    return WhatNext(
        in_table=best_in_table,
        further=best_further,
        findings=(_finding(best_in_table, best_further),),
    )


def _finding(in_table: tuple[MeasureNext, ...], further: tuple[MeasureNext, ...]) -> Finding:
    sentences = []
    if in_table:
        sentences.append("Of the bones in the table: " + _words(in_table[0]) + ".")
    else:
        sentences.append("All that the bones in the table can give is measured.")
    if further:
        sentences.append("Of a further specimen: " + _words(further[0]) + ".")
    return Finding(
        key="skeleton.measure_next",
        step="skeleton",
        title="What to measure next",
        value=Statement(text=" ".join(sentences)),
        how=HowGot(
            formula=(
                "share by which the variance of the mean ln lengths (summed), or of ln mass by the"
                " chosen equation, would fall; the covariance taken as known"
            ),
            rows=tuple(item.ref for item in in_table if item.ref is not None),
        ),
    )


def _words(item: MeasureNext) -> str:
    element, code = item.code
    what = f"{code} of {item.specimen_id} ({element})" if item.specimen_id else f"{element} {code}"
    gain = f"narrows the skeleton by {100 * item.skeleton_gain:.2g} % of its variance"
    if item.mass_gain is not None:
        gain += f" and the bones' part of the mass by {100 * item.mass_gain:.2g} %"
    return f"{what} {gain}"
