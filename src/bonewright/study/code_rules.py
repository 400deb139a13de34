"""Which measurement codes there are in a study, and whether a code fits its bone."""

import re
from collections.abc import Iterator, Mapping

from bonewright.errors import Problem
from bonewright.study.bone_codes import CODES_OF_ELEMENT, MEASUREMENT_CODES
from bonewright.study.spelling import listed
from bonewright.study.table_cells import TableCells

__all__ = [
    "code_of_bone_rules",
    "code_of_relative_rules",
    "code_rules",
    "own_code_names",
    "own_codes",
]

_CODE = re.compile(r"[A-Za-z][A-Za-z0-9]{0,11}")
ANY = ""
"""Stands for any element."""


def own_code_names(codes: TableCells) -> tuple[str, ...]:
    """Return the codes that the study adds to the common list."""
    names = (codes.text("measurementType", index) for index in codes.sound_rows())
    return tuple(name for name in dict.fromkeys(names) if name and name not in MEASUREMENT_CODES)


def own_codes(codes: TableCells) -> dict[str, frozenset[str]]:
    """Return the elements on which the study takes each of its codes."""
    elements: dict[str, set[str]] = {}
    for index in codes.sound_rows():
        code = codes.text("measurementType", index)
        if code:
            elements.setdefault(code, set()).add(codes.text("element", index) or ANY)
    return {code: frozenset(members) for code, members in elements.items()}


def code_rules(codes: TableCells) -> Iterator[Problem]:
    """Check that each code of the study's own is a code, and stands once an element."""
    first: dict[tuple[str, str], int] = {}
    for index in codes.sound_rows():
        code = codes.text("measurementType", index)
        element = codes.text("element", index) or ANY
        if not code:
            continue
        if not _CODE.fullmatch(code):
            yield codes.problem(
                index,
                "measurementType",
                expected="a letter, then letters or digits, twelve at most",
                mend="Shorten it to a code such as Lt, and put the words in measurementMeaning.",
            )
        elif code in MEASUREMENT_CODES and not element:
            yield codes.problem(
                index,
                "measurementType",
                expected="a code that the common list lacks, or an element",
                mend=f"{code} means '{MEASUREMENT_CODES[code]}': choose another code, or say on"
                " which element this study takes it.",
            )
        elif first.setdefault((code, element), index) != index:
            yield codes.problem(
                index,
                "measurementType",
                expected="each code of an element once",
                mend=f"It stands in {codes.place(first[code, element])} already: delete one.",
            )


def code_of_bone_rules(
    measurements: TableCells,
    specimens: TableCells,
    rows: Mapping[str, int],
    *,
    own: Mapping[str, frozenset[str]],
    overruled: frozenset[str],
) -> Iterator[Problem]:
    """Check that a measurement can be taken on its bone.

    ``rows`` maps a specimen's name to its row's index, ``own`` the study's codes to elements.
    """
    for index in measurements.sound_rows():
        bone = rows.get(measurements.text("materialEntityID", index) or "")
        if bone is None or measurements.key(index) in overruled:
            continue
        element = specimens.text("element", bone)
        named = f"the element of {specimens.key(bone)} ({specimens.place(bone)})"
        yield from _misplaced(measurements, index, element, own=own, element_is=named)


def code_of_relative_rules(
    measurements: TableCells, *, own: Mapping[str, frozenset[str]], overruled: frozenset[str]
) -> Iterator[Problem]:
    """Check that a measurement of a relative can be taken on its element."""
    for index in measurements.sound_rows():
        if measurements.key(index) not in overruled:
            element = measurements.text("element", index)
            yield from _misplaced(measurements, index, element, own=own, element_is="the element")


def _misplaced(
    measurements: TableCells,
    index: int,
    element: str | None,
    *,
    own: Mapping[str, frozenset[str]],
    element_is: str,
) -> Iterator[Problem]:
    code = measurements.text("measurementType", index)
    if not code or not element:
        return
    fitting = CODES_OF_ELEMENT[element]
    if code in fitting or own.get(code, frozenset()) & {element, ANY}:
        return
    yield measurements.problem(
        index,
        "measurementType",
        expected=f"a code that is taken on a {element}: {listed(fitting)}",
        mend=f"Mend the code, or {element_is}; a measurement of your own goes into codes.csv.",
    )
