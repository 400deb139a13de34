"""Contours looked at and accepted: outlines of the study, and rows of its table of sections."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from bonewright.errors import BonewrightError
from bonewright.report.section_desk import ScanToCut
from bonewright.sections.traced_picture import TracedPicture
from bonewright.study.history import By
from bonewright.study.raw import RawTable
from bonewright.study.read import read_tables
from bonewright.study.save import save_tables
from bonewright.study.section_images import outline_bytes
from bonewright.study.section_rows import SIZE_COLUMNS, cell_of, plain_name

__all__ = ["KeptTrace", "accept_scan", "accept_trace"]

_NEEDED = {
    "element": "which leg bone it is",
    "position": "its position in percent of the bone's length",
    "boneLength": "the bone's length in mm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptTrace:
    """Where an accepted contour went: its file, and whether its row is new."""

    file: str
    section_id: str
    row_is_new: bool


def accept_trace(
    folder: Path,
    name: str,
    found: TracedPicture,
    *,
    cells: Mapping[str, str],
    by: By = "command line",
) -> KeptTrace:
    """Write a traced contour as an outline of the study, and name it in the section's row.

    Parameters
    ----------
    name : str
        The section. A row of that name without diameters or outline receives the outline; where
        there is none, a row is added.
    cells : mapping of column to text
        Of a new row: materialEntityID or scientificName, element, position, boneLength in mm;
        sourceID if known. Empty cells count as not given.

    Raises
    ------
    BonewrightError
        If the row has diameters or an outline already, or a new row lacks something. Nothing is
        written then.
    """
    section_id = name.strip()
    file = f"outlines/{plain_name(section_id)}.csv"
    if (folder / "files" / file).exists():
        raise BonewrightError(
            f"The study has an outline files/{file} already.", remedy="Choose another name."
        )
    tables = read_tables(folder)
    table = tables["sections"]
    names = [cell_of(table, row, "sectionID") for row in table.rows]
    written = {
        "outlineFile": file,
        "measurementAccuracy": f"{found.edge_doubt_mm:.4f}",
        "measurementUnit": "mm",
    }
    rows = list(table.rows)
    is_new = section_id not in names
    if is_new:
        given = {column: text.strip() for column, text in cells.items() if text.strip()}
        _refuse_incomplete(section_id, given)
        _refuse_unknown(given, tables)
        whole = {"sectionID": section_id} | given | written
        rows.append(tuple(whole.get(column, "") for column in table.header))
    else:
        place = names.index(section_id)
        _refuse_filled(table, rows[place], section_id)
        rows[place] = tuple(
            written.get(column, cell)
            for column, cell in zip(table.header, rows[place], strict=True)
        )
    missing = [column for column in written if column not in table.header]
    if missing:
        raise BonewrightError(
            f"The table of sections has no column {missing[0]}.",
            remedy="Add the column to the first row of tables/sections.csv.",
        )
    save_tables(
        folder,
        [table.with_rows(tuple(rows))],
        what=f"Kept the contour of section {section_id}",
        by=by,
        beside={f"files/{file}": outline_bytes(found.rings_mm)},
    )
    return KeptTrace(file=file, section_id=section_id, row_is_new=is_new)


def accept_scan(
    folder: Path,
    name: str,
    scan: ScanToCut,
    *,
    every_percent: int,
    owner: Mapping[str, str],
) -> int:
    """Write sections of a scan as outlines and add their rows to the table of sections.

    ``owner`` holds the cells that say whose bone it is: materialEntityID or
    scientificName, element, and sourceID if known. A row of the same name that has no sizes yet
    is filled. Returns the number of rows added or filled.
    """
    bone = scan.bone
    middles = bone.properties.centroid_mm
    tables = read_tables(folder)
    table = tables["sections"]
    _refuse_unknown(owner, tables)
    rows: list[tuple[str, ...]] = []
    outlines: dict[str, bytes] = {}
    for index in range(every_percent - 1, len(bone.positions_percent), every_percent):
        percent = bone.positions_percent[index]
        file = f"outlines/{plain_name(name)}-{percent:02.0f}.csv"
        outlines[f"files/{file}"] = outline_bytes(bone.outline(index))
        doubt = float(
            bone.properties_low.area_mm2[index] - bone.properties_high.area_mm2[index]
        ) / (4 * float(bone.properties.mean_perimeter_mm[index]))
        cells = dict(owner) | {
            "sectionID": f"{plain_name(name)}-{percent:02.0f}",
            "position": f"{percent:.0f}",
            "boneLength": f"{bone.axis.length_mm:.2f}",
            "outlineFile": file,
            "measurementAccuracy": f"{abs(doubt):.4f}",
            "axisOffset": f"{_bow_mm(middles, index):.2f}",
            "measurementUnit": "mm",
        }
        rows.append(tuple(cells.get(column, "") for column in table.header))
    save_tables(
        folder,
        [table.with_rows(_with_begun(table, rows, owner))],
        what=f"Kept the sections of the scan {name}",
        by="command line",
        beside=outlines,
    )
    return len(rows)


def _with_begun(
    table: RawTable, new: Sequence[tuple[str, ...]], owner: Mapping[str, str]
) -> tuple[tuple[str, ...], ...]:
    """Return a table's rows with new ones; a row begun under a name of theirs is filled."""
    rows = list(table.rows)
    places = {cell_of(table, row, "sectionID"): place for place, row in enumerate(rows)}
    for row in new:
        section_id = cell_of(table, row, "sectionID")
        if section_id not in places:
            rows.append(row)
            continue
        begun = rows[places[section_id]]
        _refuse_filled(table, begun, section_id)
        for column in ("materialEntityID", "scientificName", "element"):
            said = cell_of(table, begun, column)
            if said and said != owner.get(column, ""):
                raise BonewrightError(
                    f"The row of section {section_id} is of {said}.",
                    remedy="Name the same bone when cutting, or mend the row.",
                )
        rows[places[section_id]] = tuple(
            cell or old
            for cell, old in zip(row, begun + ("",) * (len(row) - len(begun)), strict=True)
        )
    return tuple(rows)


def _refuse_incomplete(section_id: str, given: Mapping[str, str]) -> None:
    missing = [words for column, words in _NEEDED.items() if column not in given]
    owners = [c for c in ("materialEntityID", "scientificName") if c in given]
    if len(owners) != 1:
        missing.insert(0, "either the bone or the living species it is of, not both")
    if missing:
        raise BonewrightError(
            f"The table of sections has no row {section_id}, and a new one lacks"
            f" {'; '.join(missing)}.",
            remedy="Fill these in, or name a row of the table that has no sizes yet.",
        )


def _refuse_filled(table: RawTable, row: tuple[str, ...], section_id: str) -> None:
    filled = [column for column in SIZE_COLUMNS if cell_of(table, row, column)]
    if filled:
        raise BonewrightError(
            f"Section {section_id} has {filled[0]} already.",
            remedy="Choose another name, or empty its diameters, walls and outline first.",
        )
    unit = cell_of(table, row, "measurementUnit")
    if unit not in ("", "mm"):
        raise BonewrightError(
            f"Section {section_id} is in {unit}, outlines from pictures are in mm.",
            remedy="Write the bone's length in mm and the unit mm into its row.",
        )


def _refuse_unknown(owner: Mapping[str, str], tables: Mapping[str, RawTable]) -> None:
    """Refuse a bone or species that the study's tables do not name."""
    for column, name_of_table in (
        ("materialEntityID", "specimens"),
        ("scientificName", "relatives"),
    ):
        table = tables[name_of_table]
        name = owner.get(column, "")
        if name and name not in {cell_of(table, row, column) for row in table.rows}:
            raise BonewrightError(
                f"The study's table of {name_of_table} has no row {name}.",
                remedy="Check the name, or enter its row first.",
            )


def _bow_mm(middles: Any, index: int) -> float:
    """Return how far a section's middle lies off the line through those near the ends."""
    first, last = middles[2], middles[-3]
    share = (index - 2) / (len(middles) - 5)
    return float(np.hypot(*(middles[index] - (first + share * (last - first)))))
