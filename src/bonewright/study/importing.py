"""Import a museum's spreadsheet into a study: guess, show, ask once, remember.

What the person said of a header is kept in the study
(:mod:`bonewright.study.import_memory`), so that the next sheet of that museum is read without
a question. The way through: :func:`import_plan` guesses, its ``unsettled`` headers are asked
about and told in a second plan, :func:`import_preview` says what would be added and every
problem it would bring, :func:`import_rows` writes.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bonewright.errors import BonewrightError, Problem
from bonewright.study.bone_codes import ELEMENTS, MEASUREMENT_CODES
from bonewright.study.check import check_tables
from bonewright.study.import_memory import IMPORTS_FILE, as_toml, read_memory, remembered
from bonewright.study.merging import Merged, merge_rows, planned_merge
from bonewright.study.museum_words import element_of
from bonewright.study.read import read_tables
from bonewright.study.schemas import MEASUREMENTS, SPECIMENS
from bonewright.study.sheet_files import read_sheets
from bonewright.study.snapshot import read_snapshot
from bonewright.study.spelling import listed, nearest
from bonewright.study.units import EVERYDAY_UNITS
from bonewright.study.wide_rows import Gathered, gather
from bonewright.study.wide_sheet import ColumnMeaning, WideSheet, meanings_of, parse_meaning

__all__ = [
    "IMPORTS_FILE",
    "ImportPlan",
    "ImportPreview",
    "ReadSheet",
    "Unsettled",
    "import_plan",
    "import_preview",
    "import_rows",
    "preview_of",
]

_SAMPLES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSheet:
    """A sheet, the bone it is of (if it is of one), and what its columns hold."""

    sheet: WideSheet
    element: str | None
    meanings: tuple[ColumnMeaning, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """A header that nothing explains, and the first cells beneath it."""

    sheet: str
    header: str
    samples: tuple[str, ...]


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

    def unsettled(self) -> tuple[Unsettled, ...]:
        """Return the headers over filled cells that nobody has explained, each once.

        As it stands, what is under them is kept in the remarks of each bone.
        """
        found: dict[str, Unsettled] = {}
        for one in self.sheets:
            for place, meaning in enumerate(one.meanings):
                cells = [row[place] for row in one.sheet.rows if row[place].strip()]
                if cells and not meaning.understood and meaning.header not in self.told:
                    found.setdefault(
                        meaning.header,
                        Unsettled(
                            sheet=one.sheet.name,
                            header=meaning.header,
                            samples=tuple(dict.fromkeys(cells))[:_SAMPLES],
                        ),
                    )
        return tuple(found.values())

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
    mapping: Path | None = None,
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
        'femur code GL cm', or 'remarks' to keep it with its header.
    mapping : Path, optional
        A file of the form of imports.toml, such as another study's: it goes before what the
        study remembers, and what is ``told`` before both.
    element, unit, institution : str, optional
        Of rows that do not say it themselves.

    Raises
    ------
    BonewrightError
        If the file cannot be read, or something told has no meaning here.
    """
    memory = remembered(folder)
    given = {} if mapping is None else read_memory(mapping).headers
    meanings = {**memory.headers, **given, **(told or {})}
    answers = memory.answers.get(file.name, {})
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
    rows, gathered = _rows_of(plan)
    merged = merge_rows(
        folder,
        rows,
        what=f"Import of {plan.file.name}",
        beside={IMPORTS_FILE: _remembering(folder, plan)},
    )
    return merged, gathered


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportPreview:
    """What an import would bring: rows added or known, what is taken for granted, problems.

    ``problems`` are those of the study as it would be, ones it has already among them.
    """

    merged: Merged
    gathered: Gathered
    problems: tuple[Problem, ...]


def import_preview(folder: Path, plan: ImportPlan) -> ImportPreview:
    """Say what :func:`import_rows` would do; nothing is written.

    Raises
    ------
    BonewrightError
        If it is not known which bones the rows are, or a table cannot be read.
    """
    rows, gathered = _rows_of(plan)
    return preview_of(folder, rows, gathered)


def preview_of(
    folder: Path, rows: Mapping[str, list[dict[str, str]]], gathered: Gathered
) -> ImportPreview:
    """Say what merging rows into a study would bring; nothing is written."""
    snapshot = read_snapshot(folder)
    tables, merged = planned_merge(snapshot.raw, rows)
    raw = snapshot.raw
    for table in tables:
        raw = raw.with_table(table)
    return ImportPreview(
        merged=merged,
        gathered=gathered,
        problems=snapshot.problems + check_tables(raw, snapshot.settings, folder),
    )


def _rows_of(plan: ImportPlan) -> tuple[dict[str, list[dict[str, str]]], Gathered]:
    """Return the rows of each table that a plan makes, and what was taken for granted."""
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
    rows = {
        "sources": [source],
        "specimens": everything.specimens,
        "measurements": everything.measurements,
    }
    return rows, everything


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


def _remembering(folder: Path, plan: ImportPlan) -> bytes:
    """Return imports.toml with what was told this time."""
    memory = remembered(folder)
    answers = {
        name: value
        for name, value in (
            ("element", plan.element),
            ("unit", plan.unit),
            ("institution", plan.institution),
        )
        if value
    }
    return as_toml({**memory.headers, **plan.told}, {**memory.answers, plan.file.name: answers})
