"""Import a museum's spreadsheet into a study: guess, show, ask once, remember.

What the person said of a header is kept in ``imports.toml`` in the study, so that the next
sheet of that museum is read without a question.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import tomlkit

from bonewright.errors import BonewrightError
from bonewright.study.bone_codes import ELEMENTS, MEASUREMENT_CODES
from bonewright.study.merging import Merged, merge_rows
from bonewright.study.museum_words import element_of
from bonewright.study.read import read_tables
from bonewright.study.schemas import MEASUREMENTS, SPECIMENS
from bonewright.study.sheet_files import read_sheets
from bonewright.study.spelling import listed, nearest
from bonewright.study.units import EVERYDAY_UNITS
from bonewright.study.wide_rows import Gathered, gather
from bonewright.study.wide_sheet import ColumnMeaning, WideSheet, meanings_of, parse_meaning

__all__ = ["IMPORTS_FILE", "ImportPlan", "ReadSheet", "import_plan", "import_rows"]

IMPORTS_FILE = "imports.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSheet:
    """A sheet, the bone it is of (if it is of one), and what its columns hold."""

    sheet: WideSheet
    element: str | None
    meanings: tuple[ColumnMeaning, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportPlan:
    """How a file will be read: to be shown before anything is written.

    ``told`` are the meanings the person gave, now or before, by header.
    """

    file: Path
    sheets: tuple[ReadSheet, ...]
    told: Mapping[str, str]
    unit: str
    institution: str
    element: str | None

    def needs_element(self) -> bool:
        """Whether some sheet does not say which bones its rows are."""
        return any(
            one.element is None
            and not any(meaning.column == "element" for meaning in one.meanings)
            and any(meaning.code and meaning.element is None for meaning in one.meanings)
            for one in self.sheets
        )

    def words(self) -> list[str]:
        """Say line by line what each column is taken for."""
        lines = []
        for one in self.sheets:
            bone = f", all of them {one.element}" if one.element else ""
            lines.append(f"{one.sheet.name}: {len(one.sheet.rows)} rows{bone}")
            for meaning in one.meanings:
                note = ""
                if meaning.header in self.told:
                    note = " (as told)"
                elif not meaning.understood:
                    note = " (not understood: kept with its header)"
                lines.append(f"  {meaning.header} -> {meaning.words()}{note}")
        return lines


def import_plan(
    folder: Path,
    file: Path,
    *,
    told: Mapping[str, str] | None = None,
    element: str | None = None,
    unit: str | None = None,
    institution: str | None = None,
) -> ImportPlan:
    """Read a spreadsheet and guess what its columns hold; nothing is written.

    Parameters
    ----------
    folder : Path
        The study; what it remembers of earlier imports goes before guesses.
    file : Path
        CSV, xlsx or ods: a row a bone (or an animal), a column a measurement.
    told : mapping
        Header to meaning: a column of specimens or measurements, or 'code GL', or
        'femur code GL cm'.
    element, unit, institution : str, optional
        Of rows that do not say it themselves.

    Raises
    ------
    BonewrightError
        If the file cannot be read, or something told has no meaning here.
    """
    remembered = _remembered(folder)
    meanings = {**remembered.headers, **(told or {})}
    answers = remembered.answers.get(file.name, {})
    own_codes = _own_codes(folder)
    for header, words in meanings.items():
        _check_told(parse_meaning(header, words), words, own_codes)
    element = element or answers.get("element") or None
    if element is not None and element not in ELEMENTS:
        raise BonewrightError(
            f"{element} is no element.", remedy=f"Choose one of {listed(ELEMENTS)}."
        )
    unit = unit or answers.get("unit") or "mm"
    if unit not in EVERYDAY_UNITS["length"]:
        raise BonewrightError(
            f"{unit} is no unit of length here.",
            remedy=f"Choose {listed(EVERYDAY_UNITS['length'])}.",
        )
    sheets = []
    for sheet in read_sheets(file):
        bone = element or element_of(sheet.name)
        columns = meanings_of(sheet, element=bone, told=meanings, own_codes=own_codes)
        sheets.append(ReadSheet(sheet=sheet, element=bone, meanings=columns))
    return ImportPlan(
        file=file,
        sheets=tuple(sheets),
        told=meanings,
        unit=unit,
        institution=institution or answers.get("institution") or "",
        element=element,
    )


def import_rows(folder: Path, plan: ImportPlan) -> tuple[Merged, Gathered]:
    """Write a planned import into the study and remember its answers.

    Raises
    ------
    BonewrightError
        If it is not known which bones the rows are, or a table cannot be saved.
    """
    if plan.needs_element():
        raise BonewrightError(
            f"{plan.file.name} does not say which bones its rows are.",
            remedy="Name the element (--element femur), or the column that holds it.",
        )
    source_id = "import-" + re.sub(r"[^\w]+", "-", plan.file.stem).strip("-")
    everything = Gathered()
    for one in plan.sheets:
        gathered = gather(
            one.sheet,
            one.meanings,
            element=one.element,
            unit=plan.unit,
            institution=plan.institution,
            source_id=source_id,
        )
        everything.specimens += gathered.specimens
        everything.measurements += gathered.measurements
        everything.kept_as_remarks += gathered.kept_as_remarks
        everything.without_bone += gathered.without_bone
        everything.assumed |= gathered.assumed
    _join_repeats(everything)
    source = {
        "sourceID": source_id,
        "bibliographicCitation": f"Spreadsheet {plan.file.name}",
        "sourceKind": "collection record",
    }
    merged = merge_rows(
        folder,
        {
            "sources": [source],
            "specimens": everything.specimens,
            "measurements": everything.measurements,
        },
        what=f"Import of {plan.file.name}",
        beside={IMPORTS_FILE: _remembering(folder, plan)},
    )
    return merged, everything


def _join_repeats(gathered: Gathered) -> None:
    """Make rows of one bone one bone: a second row of it holds repeats."""
    first: dict[str, dict[str, str]] = {}
    for specimen in gathered.specimens:
        standing = first.setdefault(specimen["materialEntityID"], specimen)
        more = specimen["materialEntityRemarks"]
        if standing is not specimen and more not in standing["materialEntityRemarks"]:
            both = (standing["materialEntityRemarks"], more)
            standing["materialEntityRemarks"] = "; ".join(text for text in both if text)
    gathered.specimens = list(first.values())


def _own_codes(folder: Path) -> tuple[str, ...]:
    table = read_tables(folder).get("codes")
    if table is None or "measurementType" not in table.header:
        return ()
    place = table.header.index("measurementType")
    return tuple(row[place].strip() for row in table.rows if place < len(row))


def _check_told(meaning: ColumnMeaning, words: str, own_codes: tuple[str, ...]) -> None:
    if meaning.code is not None:
        known = (*MEASUREMENT_CODES, *own_codes)
        if meaning.code not in known:
            guess = nearest(meaning.code, known)
            raise BonewrightError(
                f"'{words}' for the column {meaning.header}: there is no code {meaning.code}.",
                remedy=f"Did you mean {guess}?" if guess else "Add it to codes.csv first.",
            )
        return
    columns = [c.name for c in (*SPECIMENS.columns, *MEASUREMENTS.columns)]
    if meaning.column not in columns:
        guess = nearest(meaning.column or "", columns)
        raise BonewrightError(
            f"'{words}' for the column {meaning.header} is no column of specimens or measurements.",
            remedy=f"Did you mean {guess}?" if guess else "Write 'code GL', or 'side', say.",
        )


class _Remembered(NamedTuple):
    """Meanings by header, and the answers given for each file by its name."""

    headers: dict[str, str]
    answers: dict[str, dict[str, str]]


def _remembered(folder: Path) -> _Remembered:
    path = folder / IMPORTS_FILE
    if not path.is_file():
        return _Remembered(headers={}, answers={})
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BonewrightError(
            f"{IMPORTS_FILE} in the study cannot be read.",
            remedy="Mend it in a text editor, or delete it: the questions are then asked again.",
        ) from error
    return _Remembered(headers=content.get("headers", {}), answers=content.get("answers", {}))


def _remembering(folder: Path, plan: ImportPlan) -> bytes:
    """Return imports.toml with what was told this time."""
    remembered = _remembered(folder)
    answers = {
        name: value
        for name, value in (
            ("element", plan.element),
            ("unit", plan.unit),
            ("institution", plan.institution),
        )
        if value
    }
    document = tomlkit.document()
    document.add(tomlkit.comment("What was said of headers and files at imports; see GUIDE.md."))
    headers = tomlkit.table()
    for header, words in sorted({**remembered.headers, **plan.told}.items()):
        headers.add(header, words)
    document.add("headers", headers)
    document.add("answers", {**remembered.answers, plan.file.name: answers})
    return tomlkit.dumps(document).encode("utf-8")
