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
from bonewright.skeleton.measuring_error import MeasuringError
from bonewright.skeleton.reduction import BoneValue
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES

__all__ = ["fit_doubts"]

_ADVICE = {
    "factor of ten": "Look at the point and the unit (cm entered as mm?).",
    "swapped digits": "Look at the order of the digits.",
    "unlike the rest": "Look at the value, its code and which bone it is of; measure again.",
}


_FEWEST_TOE_BONES = 12
"""Toe bones needed to tell how their proportions vary: common practice."""

_Cells = dict[tuple[str, Code], list[BoneValue]]


def fit_doubts(
    values: Sequence[BoneValue],
    *,
    error: MeasuringError,
    relatives: LnMatrix | None,
    named: frozenset[RowRef],
    decisions: Decisions,
) -> tuple[Doubt, ...]:
    """Name the readings that do not fit the rest of their individual's side.

    Parameters
    ----------
    values : sequence of BoneValue
        What is in use. Toe bones are judged apart, each by its own proportions.
    error : MeasuringError
        Of the same values.
    relatives : LnMatrix, optional
        Living species: they say what to expect of a code hardly anyone has.
    named : set of RowRef
        Rows doubted already.
    decisions : Decisions
    """
    whole: _Cells = {}
    toes: _Cells = {}
    for value in values:
        specimen = value.bone.specimen
        code = (specimen.element, value.code)
        if specimen.element in NOT_JOINT:
            toes.setdefault((specimen.specimen_id, code), []).append(value)
            continue
        # Bones without sides go with the left ones, so that they have company.
        side = "left" if specimen.side == "midline" else specimen.side
        whole.setdefault((f"{value.bone.individual}|{side}", code), []).append(value)
    found = [(whole, misfit) for misfit in _misfits(whole, error, relatives)]
    found += [(toes, misfit) for misfit in _misfits_of_toes(toes, error)]
    return tuple(
        doubt
        for cells, misfit in found
        for doubt in _doubts_of(misfit, cells=cells, named=named, decisions=decisions)
    )


def _table(cells: _Cells, error: MeasuringError) -> LnMatrix:
    return ln_matrix(
        Entry(
            row=row, code=code, value_mm=value.value_mm, relative_error=error.relative_error(value)
        )
        for (row, code), members in cells.items()
        for value in members
    )


def _misfits(
    cells: _Cells, error: MeasuringError, relatives: LnMatrix | None
) -> tuple[Misfit, ...]:
    if not cells:
        return ()
    matrix = _table(cells, error)
    target = expected = None
    if relatives is not None:
        target = target_from_relatives(relatives, codes=matrix.codes)
        expected = expected_from_relatives(relatives, matrix)
    try:
        return doubtful_cells(matrix, target=target, expected_ln=expected)
    except NotEnoughEvidence:
        return ()


def _misfits_of_toes(cells: _Cells, error: MeasuringError) -> tuple[Misfit, ...]:
    """Find plain slips among toe bones, which differ in kind as species differ in build.

    Nobody knows which toe bone each is, so that an odd one may just be of another kind: only
    a decimal point and two columns swapped are plain enough to be told.
    """
    if len({row for row, _ in cells}) < _FEWEST_TOE_BONES:
        return ()
    return tuple(
        misfit
        for misfit in doubtful_cells(_table(cells, error), pull=BETWEEN_SPECIES)
        if misfit.kind in ("factor of ten", "swapped columns")
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
