"""Turn the rows of a wide sheet into bones and measurements, losing nothing.

What cannot be a value of its column (an unknown word, a number with a question mark) goes
into the remarks of its bone, as it stood, with its header.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from bonewright.study.cells import DecimalMark, decimal_mark, read_number
from bonewright.study.dates import read_date
from bonewright.study.faults import Fault
from bonewright.study.museum_words import element_of, plain, value_of
from bonewright.study.schemas import MIDLINE_ELEMENTS
from bonewright.study.wide_sheet import REMARKS, ColumnMeaning, WideSheet

__all__ = ["Gathered", "gather"]

_MISSING = {"", "-", "–", "—", "na", "n/a", "nan", "x", "?", "none", "null", "."}
_OF_MEASUREMENT = ("measurementDeterminedBy", "measurementDeterminedDate", "measurementMethod")


@dataclass(slots=True)
class Gathered:
    """Rows to be merged into specimens and measurements, keyed by column.

    ``kept_as_remarks`` says of each cell that could not be read where it went;
    ``assumed`` what was taken for granted.
    """

    specimens: list[dict[str, str]] = field(default_factory=list)
    measurements: list[dict[str, str]] = field(default_factory=list)
    kept_as_remarks: list[str] = field(default_factory=list)
    assumed: set[str] = field(default_factory=set)
    without_bone: list[str] = field(default_factory=list)


def gather(
    sheet: WideSheet,
    meanings: Sequence[ColumnMeaning],
    *,
    element: str | None,
    unit: str,
    institution: str,
    source_id: str,
) -> Gathered:
    """Read every row of a sheet.

    Parameters
    ----------
    sheet, meanings
        The sheet, and what each of its columns holds.
    element : str, optional
        The bone of rows that do not say it themselves.
    unit : str
        Unit of lengths where neither header nor row gives one.
    institution : str
        Collection of rows that do not name one.
    source_id : str
        Row of the sources table that says where the sheet came from.
    """
    gathered = Gathered()
    codes = [place for place, meaning in enumerate(meanings) if meaning.code]
    mark = decimal_mark((row[place] for row in sheet.rows for place in codes), ";")
    if not any("," in row[place] for row in sheet.rows for place in codes):
        mark = "."
    for row, number in zip(sheet.rows, sheet.row_numbers, strict=True):
        _gather_row(
            _Row(sheet=sheet, cells=row, number=number, meanings=tuple(meanings)),
            gathered,
            mark=mark,
            element=element,
            unit=unit,
            institution=institution,
            source_id=source_id,
        )
    return gathered


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    sheet: WideSheet
    cells: tuple[str, ...]
    number: int
    meanings: tuple[ColumnMeaning, ...]

    def of(self, column: str) -> str:
        """Return the cell of a column, empty if the sheet has none."""
        for meaning, cell in zip(self.meanings, self.cells, strict=True):
            if meaning.column == column:
                return cell
        return ""

    @property
    def place(self) -> str:
        return f"{self.sheet.name}, row {self.number}"


def _gather_row(
    row: _Row,
    gathered: Gathered,
    *,
    mark: DecimalMark | None,
    element: str | None,
    unit: str,
    institution: str,
    source_id: str,
) -> None:
    remarks = _remarks(row)
    written = row.of("element")
    of_row = element_of(written) or element
    if written and plain(written) not in ("", of_row or ""):
        remarks.append(f"element: {written}")
    elements = dict.fromkeys(
        meaning.element or of_row or ""
        for meaning, cell in zip(row.meanings, row.cells, strict=True)
        if meaning.code and cell.casefold() not in _MISSING
    ) or {of_row or "": None}
    if "" in elements:
        gathered.without_bone.append(row.place)
        del elements[""]
    for bone in elements:
        specimen = _specimen(row, bone, gathered, remarks=remarks, institution=institution)
        specimen["sourceID"] = source_id
        if len(elements) > 1 and not specimen["organismID"]:
            specimen["organismID"] = _slug(f"{specimen['catalogNumber']}")
        own_remarks = list(remarks)
        for meaning, cell in zip(row.meanings, row.cells, strict=True):
            if not meaning.code or (meaning.element or of_row) != bone:
                continue
            _measure(
                row, meaning, cell, specimen, gathered,
                remarks=own_remarks, mark=mark, unit=unit, source_id=source_id,
            )  # fmt: skip
        specimen[REMARKS] = "; ".join(own_remarks)
        gathered.specimens.append(specimen)


def _measure(
    row: _Row,
    meaning: ColumnMeaning,
    cell: str,
    specimen: dict[str, str],
    gathered: Gathered,
    *,
    remarks: list[str],
    mark: DecimalMark | None,
    unit: str,
    source_id: str,
) -> None:
    if cell.casefold() in _MISSING:
        return
    value = read_number(cell, mark)
    if isinstance(value, Fault) or value <= 0:
        remarks.append(f"{meaning.header}: {cell}")
        gathered.kept_as_remarks.append(f"{row.place}, {meaning.header}: {cell}")
        return
    bone = specimen["materialEntityID"]
    of_unit = meaning.unit or row.of("measurementUnit")
    if not of_unit:
        gathered.assumed.add(f"lengths are in {unit}")
    measurement = {
        "measurementID": f"{bone}-{meaning.code}",
        "materialEntityID": bone,
        "measurementType": meaning.code or "",
        "measurementValue": cell.replace(",", "."),
        "measurementUnit": of_unit or unit,
        "sourceID": source_id,
    }
    for column in _OF_MEASUREMENT:
        text = row.of(column)
        if column.endswith("Date") and text and isinstance(read_date(text), Fault):
            remarks.append(f"measured: {text}")
            continue
        measurement[column] = text
    gathered.measurements.append(measurement)


def _specimen(
    row: _Row, element: str, gathered: Gathered, *, remarks: list[str], institution: str
) -> dict[str, str]:
    collection, number = row.of("institutionCode") or institution, row.of("catalogNumber")
    given = row.of("materialEntityID")
    if not collection:
        collection = "not given"
        gathered.assumed.add("the collection is not given")
    number = number or given or f"row {row.number}"
    specimen = {
        "institutionCode": collection,
        "catalogNumber": number,
        "organismID": row.of("organismID"),
        "element": element,
    }
    for column, otherwise in (
        ("side", "midline" if element in MIDLINE_ELEMENTS else "unknown"),
        ("sex", "unknown"),
        ("lifeStage", "unknown"),
        ("preparations", "bone"),
        ("preservation", "complete"),
    ):
        text = row.of(column)
        value = value_of(column, text) if text else None
        if column == "side" and element in MIDLINE_ELEMENTS:
            value = "midline"
        if value is None and text:
            remarks.append(f"{column}: {text}")
            gathered.kept_as_remarks.append(f"{row.place}, {column}: {text}")
        elif value is None and column in ("preparations", "preservation"):
            gathered.assumed.add(f"{column} is {otherwise} where nothing is said")
        specimen[column] = value or otherwise
    name = given or f"{collection}-{number}"
    several = bool([m for m in row.meanings if m.element])
    if not given or several:
        name += f"-{element}" + (f"-{specimen['side']}" if not given else "")
    specimen["materialEntityID"] = _slug(name)
    return specimen


def _remarks(row: _Row) -> list[str]:
    """Collect the row's remarks, and every column that nothing else holds."""
    parts = []
    for meaning, cell in zip(row.meanings, row.cells, strict=True):
        if meaning.column == REMARKS and cell:
            parts.append(cell if meaning.understood else f"{meaning.header}: {cell}")
    return parts


def _slug(text: str) -> str:
    return re.sub(r"[^\w.]+", "-", text).strip("-")
