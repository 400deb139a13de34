"""Which measurement to take next, as the drawers allow: bones known to exist, not yet measured."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Finding, HowGot, RowRef, Statement
from bonewright.skeleton.average import AverageSkeleton
from bonewright.skeleton.bones import LENGTH_CODES, Bone
from bonewright.skeleton.joint_average import NOT_JOINT, JointAverage
from bonewright.skeleton.ln_matrix import Code, LnMatrix
from bonewright.skeleton.next_measurement import NEW_SPECIMEN, rank_next_measurements
from bonewright.study.model import Specimen

__all__ = ["MeasureNext", "WhatNext", "what_to_measure_next"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureNext:
    """One measurement worth taking.

    ``specimen_id`` is None for a further specimen, not in the study yet; gains are shares
    of variance that would go, ``mass_gain`` None without an equation for mass. Ranks begin
    at 1, bones in the table and further specimens apart; ``rank`` is by the mass if there
    is an equation for it, else by the skeleton.
    """

    specimen_id: str | None
    ref: RowRef | None
    code: Code
    skeleton_gain: float
    mass_gain: float | None
    rank: int
    skeleton_rank: int


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
        Bones in its table that have no measurement at all are ranked too, and so are
        measurements that nobody has taken yet and only living relatives tell.
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
    bones = tuple(
        bone
        for bone in skeleton.sorted_rows.grown_bones.values()
        if bone.specimen.element not in NOT_JOINT
    )
    matrix = _with_unmeasured(joint.matrix, bones)
    can, bone_of = _what_can_be_measured(matrix, bones)
    aim = np.array([mass_exponents.get(code, 0.0) for code in joint.model.codes])
    by_mass = bool(np.any(aim))
    error = (skeleton.measuring.total_percent or 0.5) / 100
    ranked = rank_next_measurements(
        joint.model,
        matrix,
        can_be_measured=can,
        new_specimens_of=joint.model.codes,
        error_sd_ln=error,
        aim=aim if by_mass else None,
    )
    in_model, in_all = _variances(joint, skeleton)
    share = in_model / in_all
    found = [
        _entry(
            None if item.row == NEW_SPECIMEN else bone_of[item.row, item.code],
            item.code,
            skeleton_gain=item.skeleton_gain * share,
            mass_gain=item.aim_gain,
        )
        for item in ranked
    ]
    found += _of_codes_nobody_took(
        joint, skeleton, bones, error_sd_ln=error, in_all=in_all, by_mass=by_mass
    )
    in_table = _ranked([item for item in found if item.specimen_id is not None])
    further = _ranked([item for item in found if item.specimen_id is None])
    return WhatNext(in_table=in_table, further=further, findings=(_finding(in_table, further),))


def _ranked(items: list[MeasureNext]) -> tuple[MeasureNext, ...]:
    """Order by what the mass gains (then the skeleton), and number both ways."""
    by_skeleton = sorted(items, key=lambda item: -item.skeleton_gain)
    numbered = [
        replace(item, skeleton_rank=place) for place, item in enumerate(by_skeleton, start=1)
    ]
    numbered.sort(key=lambda item: -(item.mass_gain or 0.0))
    return tuple(replace(item, rank=place) for place, item in enumerate(numbered, start=1))


def _entry(
    specimen: Specimen | None, code: Code, *, skeleton_gain: float, mass_gain: float | None
) -> MeasureNext:
    return MeasureNext(
        specimen_id=None if specimen is None else specimen.specimen_id,
        ref=None if specimen is None else specimen.ref,
        code=code,
        skeleton_gain=skeleton_gain,
        mass_gain=mass_gain,
        rank=0,
        skeleton_rank=0,
    )


def _with_unmeasured(matrix: LnMatrix, bones: tuple[Bone, ...]) -> LnMatrix:
    """Add an empty row for every individual of which no bone is measured."""
    empty = tuple(dict.fromkeys(b.individual for b in bones if b.individual not in matrix.rows))
    blank = np.zeros((len(empty), len(matrix.codes)))
    return LnMatrix(
        rows=(*matrix.rows, *empty),
        codes=matrix.codes,
        values_ln=np.vstack([matrix.values_ln, blank]),
        present=np.vstack([matrix.present, blank.astype(np.bool_)]),
        error_sd_ln=np.vstack([matrix.error_sd_ln, blank]),
    )


def _what_can_be_measured(
    matrix: LnMatrix, bones: tuple[Bone, ...]
) -> tuple[NDArray[np.bool_], dict[tuple[str, Code], Specimen]]:
    row_of = {row: number for number, row in enumerate(matrix.rows)}
    can = np.zeros(matrix.present.shape, dtype=np.bool_)
    bone_of: dict[tuple[str, Code], Specimen] = {}
    for bone in bones:
        for column, code in enumerate(matrix.codes):
            if _allows(bone, code):
                can[row_of[bone.individual], column] = True
                bone_of.setdefault((bone.individual, code), bone.specimen)
    return can, bone_of


def _allows(bone: Bone, code: Code) -> bool:
    """Say whether a bone may still have a measurement: a broken one has lost its lengths."""
    broken = bone.specimen.preservation == "broken" and code[1] in LENGTH_CODES
    return code[0] == bone.specimen.element and not broken


def _variances(joint: JointAverage, skeleton: AverageSkeleton) -> tuple[float, float]:
    """Return the variance of all mean ln lengths in the model, and with those foretold."""
    in_model = float(np.trace(joint.model.mean_covariance_ln))
    foretold = skeleton.from_relatives
    if foretold is None:
        return in_model, in_model
    return in_model, in_model + sum(
        float(np.var(np.log(draws))) for draws in foretold.draws_mm.values()
    )


def _of_codes_nobody_took(
    joint: JointAverage,
    skeleton: AverageSkeleton,
    bones: tuple[Bone, ...],
    *,
    error_sd_ln: float,
    in_all: float,
    by_mass: bool,
) -> Iterator[MeasureNext]:
    """Rank what only relatives tell: the first value takes away most of the doubt.

    It varies between individuals as measurements of this animal do at the median.
    """
    foretold = skeleton.from_relatives
    if foretold is None:
        return
    between = float(np.median(np.diag(joint.model.covariance_ln))) + error_sd_ln**2
    for code, draws in foretold.draws_mm.items():
        doubt = float(np.var(np.log(draws)))
        gain = doubt**2 / (doubt + between) / in_all
        mass_gain = 0.0 if by_mass else None
        specimens = [bone.specimen for bone in bones if _allows(bone, code)]
        for specimen in (*specimens, None):
            yield _entry(specimen, code, skeleton_gain=gain, mass_gain=mass_gain)


def _finding(in_table: tuple[MeasureNext, ...], further: tuple[MeasureNext, ...]) -> Finding:
    sentences = [_sentence("Of the bones in the table", in_table)]
    if not in_table:
        sentences = ["All that the bones in the table can give is measured."]
    sentences.append(_sentence("Of a further specimen", further))
    best = [item for item in (*in_table, *further) if 1 in (item.rank, item.skeleton_rank)]
    return Finding(
        key="skeleton.measure_next",
        step="skeleton",
        title="What to measure next",
        value=Statement(text=" ".join(text for text in sentences if text)),
        how=HowGot(
            formula=(
                "share by which the variance of the mean ln lengths (summed), or of ln mass by the"
                " chosen equation, would fall; the covariance taken as known"
            ),
            rows=tuple(item.ref for item in best if item.ref is not None),
        ),
    )


def _sentence(opening: str, items: tuple[MeasureNext, ...]) -> str:
    """Name the best for the mass, and for the skeleton if that is another."""
    if not items:
        return ""
    first = items[0]
    text = f"{opening}: {_words(first)}"
    if first.skeleton_rank > 1:
        for_skeleton = next(item for item in items if item.skeleton_rank == 1)
        text += f"; for the skeleton alone: {_words(for_skeleton)}"
    return text + "."


def _words(item: MeasureNext) -> str:
    element, code = item.code
    what = f"{code} of {item.specimen_id} ({element})" if item.specimen_id else f"{element} {code}"
    gain = f"narrows the skeleton by {100 * item.skeleton_gain:.2g} % of its variance"
    if item.mass_gain is not None:
        gain += f" and the bones' part of the mass by {100 * item.mass_gain:.2g} %"
    return f"{what} {gain}"
