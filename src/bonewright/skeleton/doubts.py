"""Rows that are probably mistakes: factors of ten, wrong elements, wrong codes.

Every value is compared, in logarithms, with what is usual for its element and code over
all bones (:mod:`bonewright.skeleton.reference`). A bone most of whose measurements are
unusual for its element and usual for another is probably labelled wrong. A single
unusual value that becomes usual when the decimal point is moved is probably a slip of
the pen. Size cannot show a left bone entered as a right one; two rights of one individual
can be seen.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from statistics import median
from typing import Literal

from bonewright.findings import Doubt, RowRef
from bonewright.skeleton.bones import Bone
from bonewright.skeleton.labels import better_element
from bonewright.skeleton.reduction import BoneValue
from bonewright.skeleton.reference import FITS, OUT_OF_LINE, Usual, misfit
from bonewright.skeleton.slips import slip, swapped_digits
from bonewright.study.model import Measurement, Specimen

__all__ = [
    "OUT_OF_LINE",
    "Decisions",
    "element_doubts",
    "measurement_doubts",
    "repeat_doubts",
    "side_doubts",
]

_REPEATS_DIFFER = 8.0  # times the usual difference between readings of one bone


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """What the person decided: (table, row id) of rows kept and of rows set aside."""

    kept: frozenset[tuple[str, str]]
    set_aside: frozenset[tuple[str, str]]

    def on(self, ref: RowRef) -> Literal["keep", "set aside"] | None:
        """Return the decision on a row, or None where there is none."""
        row = (ref.table, ref.row_id)
        if row in self.set_aside:
            return "set aside"
        return "keep" if row in self.kept else None


UsualSizes = Mapping[tuple[str, str], Usual]


def element_doubts(
    values: Iterable[BoneValue], *, usual: UsualSizes, decisions: Decisions
) -> tuple[Doubt, ...]:
    """Name the bones whose sizes fit another element better than their own."""
    by_bone: dict[str, list[BoneValue]] = {}
    for value in values:
        by_bone.setdefault(value.bone.specimen.specimen_id, []).append(value)
    elements = sorted({element for element, _ in usual})
    doubts = []
    for of_bone in by_bone.values():
        fitting = better_element(of_bone, usual=usual, elements=elements)
        if fitting is not None:
            specimen = of_bone[0].bone.specimen
            doubts.append(_element_doubt(specimen, of_bone, fitting=fitting, decisions=decisions))
    return tuple(doubts)


def measurement_doubts(
    measurements: Iterable[Measurement],
    *,
    bone_of: Mapping[str, Bone],
    usual: UsualSizes,
    decisions: Decisions,
) -> tuple[Doubt, ...]:
    """Name the readings that are far from the usual size of their element and code.

    ``bone_of`` maps the specimen id of a bone or cast to its bone.
    """
    doubts = []
    for measurement in measurements:
        bone = bone_of.get(measurement.specimen_id)
        own = usual.get((bone.specimen.element, measurement.code)) if bone else None
        if bone is None or own is None:
            continue
        if abs(misfit(log(measurement.value_mm), own)) < OUT_OF_LINE:
            continue
        doubts.append(
            _measurement_doubt(
                measurement, bone.specimen.element, own, usual=usual, decisions=decisions
            )
        )
    return tuple(doubts)


def repeat_doubts(
    values: Iterable[BoneValue],
    *,
    usual: UsualSizes,
    named: frozenset[RowRef],
    decisions: Decisions,
) -> tuple[Doubt, ...]:
    """Name readings of one bone that differ by far more than readings usually do.

    They stay in the results, since the size shows no more than that one of them is off.
    ``named`` are rows doubted already.
    """
    repeated: list[tuple[BoneValue, list[tuple[float, RowRef]]]] = []
    for value in values:
        pairs = zip(value.readings_mm, value.rows, strict=True)
        readings = [(log(reading), ref) for reading, ref in pairs if ref not in named]
        if len(readings) > 1:
            repeated.append((value, readings))
    ranges = [
        (max(readings)[0] - min(readings)[0], exp(max(readings)[0]) - exp(min(readings)[0]))
        for _, readings in repeated
    ]
    if not ranges:
        return ()
    allowed_ln = max(_REPEATS_DIFFER * median(range_ln for range_ln, _ in ranges), 0.06)
    allowed_mm = max(_REPEATS_DIFFER * median(range_mm for _, range_mm in ranges), 0.5)
    doubts = []
    for (value, readings), (range_ln, range_mm) in zip(repeated, ranges, strict=True):
        if range_ln <= allowed_ln or range_mm <= allowed_mm:
            continue
        own = usual.get((value.bone.specimen.element, value.code))
        middle = median([reading for reading, _ in readings])
        centre = own.centre_ln if own is not None and len(readings) == 2 else middle
        odd, ref = max(readings, key=lambda entry: abs(entry[0] - centre))
        others = ", ".join(f"{exp(reading):.4g} mm" for reading, row in readings if row != ref)
        doubts.append(
            Doubt(
                ref=ref,
                column="measurementValue",
                kind="repeats disagree",
                found=f"{value.code} of {exp(odd):.4g} mm",
                expected=f"about the same as the other readings of that bone: {others}",
                mend="Look at which of them is right; measure again if you can.",
                held_out=False,
                decided=decisions.on(ref),
            )
        )
    return tuple(doubts)


def side_doubts(bones: Iterable[Bone], *, decisions: Decisions) -> tuple[Doubt, ...]:
    """Name the bones of which one individual would have two on the same side.

    They stay in the results: both are bones of that element, whoever they belong to.
    """
    seen: dict[tuple[str, str, str], Bone] = {}
    doubts = []
    for bone in bones:
        specimen = bone.specimen
        if bone.loose or specimen.element == "phalanx" or specimen.side == "unknown":
            continue
        if specimen.preservation == "broken":  # two pieces of one bone are no mistake
            continue
        earlier = seen.setdefault((bone.individual, specimen.element, specimen.side), bone)
        if earlier is not bone:
            doubts.append(
                Doubt(
                    ref=specimen.ref,
                    column="side",
                    kind="same side twice",
                    found=f"a second {specimen.side} {specimen.element} of {bone.individual}, "
                    f"beside {earlier.specimen.specimen_id}",
                    expected="at most one a side",
                    mend="Look at the side and the individual of both bones.",
                    held_out=False,
                    decided=decisions.on(specimen.ref),
                )
            )
    return tuple(doubts)


def _one(element: str) -> str:
    return f"{'an' if element[:1] in 'aeiou' else 'a'} {element}"


def _element_doubt(
    specimen: Specimen, values: Sequence[BoneValue], *, fitting: str, decisions: Decisions
) -> Doubt:
    codes = ", ".join(f"{value.code} {value.value_mm:.4g} mm" for value in values)
    return Doubt(
        ref=specimen.ref,
        column="element",
        kind="wrong element",
        found=f"{specimen.element} with {codes}",
        expected=f"sizes of {_one(specimen.element)}; these fit {_one(fitting)}",
        mend=f"Look at the bone: is it {_one(fitting)}? Correct the element, or keep the row.",
        held_out=True,
        decided=decisions.on(specimen.ref),
    )


def _measurement_doubt(
    measurement: Measurement,
    element: str,
    own: Usual,
    *,
    usual: UsualSizes,
    decisions: Decisions,
) -> Doubt:
    value_ln = log(measurement.value_mm)
    kind, mend = "out of line", "Look at the value, its unit, its code and which bone it is of."
    slipped = slip(value_ln, own.beside(value_ln))
    swapped = swapped_digits(measurement.value_mm, own.beside(value_ln))
    other_codes = sorted(
        (abs(misfit(value_ln, entry)), code)
        for (other, code), entry in usual.items()
        if other == element and code != measurement.code
    )
    if slipped is not None and slipped[0] == "factor of ten":
        kind = "factor of ten"
        mend = (
            f"Was {measurement.value_mm / slipped[1]:.4g} mm meant? Look at the point and the unit."
        )
    elif slipped is not None:
        kind = "inches"
        mend = f"Was it read in inches? Then it is {measurement.value_mm / slipped[1]:.4g} mm."
    elif swapped is not None:
        kind = "swapped digits"
        mend = f"Was {swapped:.4g} mm meant? Look at the order of the digits."
    elif other_codes and other_codes[0][0] < FITS:
        kind = "wrong code"
        mend = f"Is it {other_codes[0][1]}? Look at the code and at which bone was measured."
    if own.pair is not None:
        mend += " There are only two such bones, so that the other one may be the odd one."
    low, high = (own.centre_ln + sign * FITS * own.spread_ln for sign in (-1, 1))
    column = "measurementType" if kind == "wrong code" else "measurementValue"
    return Doubt(
        ref=measurement.ref,
        column=column,
        kind=kind,
        found=f"{measurement.code} of {measurement.value_mm:.4g} mm on {measurement.specimen_id}",
        expected=_expected(element, measurement.code, own, low=low, high=high),
        mend=mend,
        held_out=True,
        decided=decisions.on(measurement.ref),
    )


def _expected(element: str, code: str, own: Usual, *, low: float, high: float) -> str:
    if own.pair is not None:
        sizes = " and ".join(f"{exp(entry):.4g} mm" for entry in own.pair)
        return f"two alike; the two bones that have {element} {code} show {sizes}"
    return (
        f"about {exp(low):.3g} to {exp(high):.3g} mm, as {own.n_bones} bones have {element} {code}"
    )
