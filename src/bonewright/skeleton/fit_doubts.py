"""Doubts told by the fit of a bone's measurements to each other.

The first look (:mod:`bonewright.skeleton.doubts`) compares each value with what is usual
for it. This one asks whether a value fits the rest of the same individual's side, so that
two swapped columns, or digits changed about within the usual range, show as well.
"""

from collections.abc import Mapping, Sequence
from math import exp, log

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Doubt, RowRef
from bonewright.skeleton.doubts import Decisions
from bonewright.skeleton.fit_of_bone import Misfit, doubtful_cells
from bonewright.skeleton.joint_average import NOT_JOINT
from bonewright.skeleton.joint_model import target_from_relatives
from bonewright.skeleton.left_out_rows import expected_from_relatives
from bonewright.skeleton.ln_matrix import Code, Entry, LnMatrix, ln_matrix
from bonewright.skeleton.measuring_error import measuring_error
from bonewright.skeleton.reduction import BoneValue

__all__ = ["fit_doubts"]

_ADVICE = {
    "factor of ten": "Look at the point and the unit (cm entered as mm?).",
    "swapped digits": "Look at the order of the digits.",
    "unlike the rest": "Look at the value, its code and which bone it is of; measure again.",
}


def fit_doubts(
    values: Sequence[BoneValue],
    *,
    relatives: LnMatrix | None,
    named: frozenset[RowRef],
    decisions: Decisions,
) -> tuple[Doubt, ...]:
    """Name the readings that do not fit the rest of their individual's side.

    Parameters
    ----------
    values : sequence of BoneValue
        What is in use; toe bones are passed over.
    relatives : LnMatrix, optional
        Living species: they say what to expect of a code hardly anyone has.
    named : set of RowRef
        Rows doubted already.
    decisions : Decisions
    """
    cells: dict[tuple[str, Code], list[BoneValue]] = {}
    for value in values:
        specimen = value.bone.specimen
        if specimen.element in NOT_JOINT:
            continue
        # Bones without sides go with the left ones, so that they have company.
        side = "left" if specimen.side == "midline" else specimen.side
        cells.setdefault(
            (f"{value.bone.individual}|{side}", (specimen.element, value.code)), []
        ).append(value)
    if not cells:
        return ()
    error = measuring_error(values)
    matrix = ln_matrix(
        Entry(
            row=row, code=code, value_mm=value.value_mm, relative_error=error.relative_error(value)
        )
        for (row, code), members in cells.items()
        for value in members
    )
    target = expected = None
    if relatives is not None:
        target = target_from_relatives(relatives, codes=matrix.codes)
        expected = expected_from_relatives(relatives, matrix)
    try:
        misfits = doubtful_cells(matrix, target=target, expected_ln=expected)
    except NotEnoughEvidence:
        return ()
    return tuple(
        doubt
        for misfit in misfits
        for doubt in _doubts_of(misfit, cells=cells, named=named, decisions=decisions)
    )


def _doubts_of(
    misfit: Misfit,
    *,
    cells: Mapping[tuple[str, Code], Sequence[BoneValue]],
    named: frozenset[RowRef],
    decisions: Decisions,
) -> list[Doubt]:
    """Turn a misfit into doubts on the readings that make it."""
    half = abs(log(misfit.found_mm / misfit.expected_mm)) / 2
    doubts = []
    for value in cells[misfit.row, misfit.code]:
        for reading, ref in zip(value.readings_mm, value.rows, strict=True):
            if ref in named or abs(log(reading / misfit.expected_mm)) < half:
                continue
            doubts.append(_doubt(misfit, value, reading, ref=ref, decisions=decisions))
    return doubts


def _doubt(
    misfit: Misfit, value: BoneValue, reading: float, *, ref: RowRef, decisions: Decisions
) -> Doubt:
    element, code = misfit.code
    if misfit.swapped_with is not None:
        advice = (
            f"Look whether {code} and {misfit.swapped_with[1]} of this {element} stand in each"
            " other's place."
        )
    elif misfit.kind == "factor of ten":
        factor = 10 if misfit.found_mm > misfit.expected_mm else 0.1
        advice = f"Was {reading / factor:.4g} mm meant? {_ADVICE[misfit.kind]}"
    else:
        advice = _ADVICE[misfit.kind]
    reach = abs(log(misfit.found_mm / misfit.expected_mm)) / abs(misfit.z) if misfit.z else 0.0
    low, high = (misfit.expected_mm * exp(sign * 3 * reach) for sign in (-1, 1))
    return Doubt(
        ref=ref,
        column="measurementType" if misfit.swapped_with is not None else "measurementValue",
        kind=misfit.kind,
        found=f"{code} of {reading:.4g} mm on {value.bone.specimen.specimen_id}",
        expected=f"about {low:.3g} to {high:.3g} mm, by what else that individual has",
        mend=advice,
        held_out=True,
        decided=decisions.on(ref),
    )
