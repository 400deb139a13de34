"""A museum's wide sheet: a row a bone (or an animal), a column a measurement; what is what.

Headers are read in several languages. What a header means is shown to the person, who may
say otherwise once; the answer is kept with the study.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bonewright.study.museum_words import code_of, element_of, role_of
from bonewright.study.units import EVERYDAY_UNITS

__all__ = ["ColumnMeaning", "WideSheet", "meanings_of", "parse_meaning"]

REMARKS = "materialEntityRemarks"
_IN_BRACKETS = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]\s*$")
_AFTER_SIGN = re.compile(r"[\s_/,-]+(mm|cm|in)\.?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class WideSheet:
    """A sheet as text: its header, its rows, and each row's number in the file."""

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    row_numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMeaning:
    """What a column holds: a measurement (``code``) or a thing of the bone (``column``).

    ``element`` is that of a header such as 'femur GL'; ``unit`` that of 'GL (cm)'.
    ``understood`` is False for headers kept as remarks because nothing else fits.
    """

    header: str
    column: str | None = None
    code: str | None = None
    element: str | None = None
    unit: str | None = None
    understood: bool = True

    def words(self) -> str:
        """Say the meaning as it may be typed: 'code GL', 'femur code GL cm', 'side'."""
        if self.code is None:
            return self.column or REMARKS
        parts = [self.element or "", "code", self.code, self.unit or ""]
        return " ".join(part for part in parts if part)


def meanings_of(
    sheet: WideSheet,
    *,
    element: str | None,
    told: Mapping[str, str],
    own_codes: Sequence[str] = (),
) -> tuple[ColumnMeaning, ...]:
    """Guess what each column of a sheet holds.

    Parameters
    ----------
    sheet : WideSheet
    element : str, optional
        The bone the whole sheet is of, if it is of one.
    told : mapping
        Header to meaning, in the words of :meth:`ColumnMeaning.words`: goes before any guess.
    own_codes : sequence of str
        Codes that the study adds.
    """
    meanings = []
    taken: set[str] = set()
    for place, header in enumerate(sheet.header):
        if header in told:
            meaning = parse_meaning(header, told[header])
        else:
            meaning = _guess(header, element=element, own_codes=own_codes)
            if meaning.column == "materialEntityID" and _names_bones(sheet, place):
                meaning = ColumnMeaning(header=header, column="element")
        if meaning.column in taken and meaning.column != REMARKS:
            # A second column of one kind is kept beside the remarks, not written over the first.
            meaning = ColumnMeaning(header=header, column=REMARKS, understood=False)
        taken.add(meaning.column or "")
        meanings.append(meaning)
    return tuple(meanings)


def _names_bones(sheet: WideSheet, place: int) -> bool:
    """Say whether a column headed 'bone', which may hold names or kinds, holds kinds."""
    cells = [row[place] for row in sheet.rows if row[place].strip()]
    return 2 * sum(element_of(cell) is not None for cell in cells) > len(cells)


def parse_meaning(header: str, words: str) -> ColumnMeaning:
    """Read a meaning as the person typed it (see :meth:`ColumnMeaning.words`)."""
    if words.strip().casefold() == "remarks":  # kept as it stands, under its own header
        return ColumnMeaning(header=header, column=REMARKS, understood=False)
    before, is_code, after = words.strip().partition("code ")
    if not is_code:
        return ColumnMeaning(header=header, column=words.strip())
    code, _, unit = after.strip().partition(" ")
    return ColumnMeaning(
        header=header, code=code, element=element_of(before), unit=unit.strip() or None
    )


def _guess(header: str, *, element: str | None, own_codes: Sequence[str]) -> ColumnMeaning:
    text, unit = _without_unit(header)
    role = role_of(text)
    if role is not None:
        return ColumnMeaning(header=header, column=role)
    for word, bone in _readings(text):
        code = word if word in own_codes else code_of(word, bone or element)
        if code is not None:
            return ColumnMeaning(header=header, code=code, element=bone, unit=unit)
    return ColumnMeaning(header=header, column=REMARKS, understood=False)


def _without_unit(header: str) -> tuple[str, str | None]:
    for pattern in (_IN_BRACKETS, _AFTER_SIGN):
        found = pattern.search(header)
        if found and found[1].lower() in EVERYDAY_UNITS["length"]:
            return header[: found.start()].strip(), found[1].lower()
    return header.strip(), None


def _readings(text: str) -> list[tuple[str, str | None]]:
    """Return the ways to read a header: whole, or a bone's name before or after a code."""
    readings: list[tuple[str, str | None]] = [(text, None)]
    words = re.split(r"[\s_.:/-]+", text)
    for cut in range(1, len(words)):
        head, tail = " ".join(words[:cut]), " ".join(words[cut:])
        for bone_text, code_text in ((head, tail), (tail, head)):
            bone = element_of(bone_text)
            if bone is not None:
                readings.append((code_text, bone))
    return readings
