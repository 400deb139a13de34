"""Formulas of an xlsx workbook that hold no value: failed ones, and never computed ones.

A reader of values sees an empty cell there. That would be told as a missing number, or in
a column that may be empty not at all, so the cells are looked up in the sheet's own XML.
"""

import posixpath
import re
import zipfile
import zlib
from pathlib import Path
from xml.etree import ElementTree

__all__ = ["formulas_without_value"]

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_PLACE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


def formulas_without_value(path: Path) -> dict[str, dict[tuple[int, int], str]]:
    """Find, sheet by sheet, the cells whose formula failed or was never computed.

    Parameters
    ----------
    path : Path
        A workbook. Of one in another format than xlsx nothing is found.

    Returns
    -------
    dict
        From the sheet's name to {(row, column), both from 0: what to show for the cell},
        the error's code such as ``#DIV/0!``, or the formula after an equals sign.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            sheets = _sheet_files(archive)
            return {name: _cells(archive.read(file)) for name, file in sheets.items()}
    # A workbook that is no sound xlsx is told of by the reader of its values.
    except (
        zipfile.BadZipFile,
        zlib.error,
        LookupError,
        ElementTree.ParseError,
        NotImplementedError,
        RuntimeError,
        ValueError,
        EOFError,
        OSError,
    ):
        return {}


def _sheet_files(archive: zipfile.ZipFile) -> dict[str, str]:
    if "xl/workbook.xml" not in archive.namelist():
        return {}
    relations = _parsed(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {one.get("Id"): one.get("Target", "") for one in relations}
    book = _parsed(archive.read("xl/workbook.xml"))
    return {
        sheet.get("name", ""): posixpath.normpath(
            posixpath.join("/xl", targets[sheet.get(_RELATION)])
        ).lstrip("/")
        for sheet in book.iter(f"{_MAIN}sheet")
        if "worksheets" in targets.get(sheet.get(_RELATION), "")
    }


def _parsed(content: bytes) -> ElementTree.Element:
    if b"<!ENTITY" in content:
        raise ElementTree.ParseError("a workbook has no entities of its own")
    return ElementTree.fromstring(content)  # noqa: S314 - entities are refused above


def _cells(content: bytes) -> dict[tuple[int, int], str]:
    if b"<f" not in content and b't="e"' not in content:
        return {}
    found: dict[tuple[int, int], str] = {}
    for cell in _parsed(content).iter(f"{_MAIN}c"):
        place = _PLACE.fullmatch(cell.get("r", ""))
        value = (cell.findtext(f"{_MAIN}v") or "").strip()
        formula = cell.find(f"{_MAIN}f")
        if place is None or not (cell.get("t") == "e" or (formula is not None and not value)):
            continue
        shown = value if cell.get("t") == "e" and value else f"={_text(formula)}"
        found[int(place[2]) - 1, _column(place[1])] = shown
    return found


def _text(formula: ElementTree.Element | None) -> str:
    return ((formula.text or "") if formula is not None else "").strip() or "formula"


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1
