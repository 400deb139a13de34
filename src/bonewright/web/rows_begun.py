"""Rows that a file taken into the study begins, and what to do next with it."""

from collections.abc import Mapping
from pathlib import Path

from bonewright.study.file_intake import PLACE_OF_KIND
from bonewright.study.museum_words import element_of
from bonewright.study.section_rows import plain_name
from bonewright.web.incoming import Arrival

__all__ = ["note_on", "row_begun"]

_TABLE_OF_KIND: Mapping[str, tuple[str, str]] = {
    "picture": ("pictures", "pictureFile"),
    "scan": ("body_scans", "scanFile"),
    "outline": ("sections", "outlineFile"),
}
_LEG_BONES = ("femur", "tibiotarsus", "tarsometatarsus")


def row_begun(arrival: Arrival, file: str, *, use: str) -> tuple[str, dict[str, str]]:
    """Return the table and the first cells of the row that a file taken in may begin."""
    if arrival.kind == "slices":
        return "sections", _stack_cells(arrival, file)
    if use == "section" or arrival.kind not in _TABLE_OF_KIND:
        return "", {}
    table, column = _TABLE_OF_KIND[arrival.kind]
    return table, {column: file}


def _stack_of(file: str) -> str:
    """Return where a stack lies below files/: the folder of its slices, or its one file."""
    folder = file.rpartition("/")[0]
    return file if folder == PLACE_OF_KIND["slices"] else folder


def _stack_cells(arrival: Arrival, file: str) -> dict[str, str]:
    """Begin the row of a stack's middle section, which cutting the stack fills."""
    element = element_of(arrival.stack or arrival.name) or ""
    return {
        "sectionID": f"{_section_name(arrival)}-50",
        "position": "50",
        "element": element if element in _LEG_BONES else "",
        "measurementUnit": "mm",
        "sectionRemarks": f"slices in files/{_stack_of(file)}",
    }


def _section_name(arrival: Arrival) -> str:
    return plain_name(arrival.stack or Path(arrival.name).stem)


def note_on(arrival: Arrival, file: str, *, use: str) -> str:
    """Say what to do next with a file taken in."""
    if use == "section":
        return "Trace its edges on the page of sections."
    if arrival.kind == "slices":
        stack = f"FOLDER/files/{_stack_of(file)}"
        return (
            "Begin its row and say in it whose bone it is. Cutting the stack fills the row and adds"
            f' those along the bone: bonewright cut FOLDER "{stack}"'
            f" --accept {_section_name(arrival)} (with --element, and --bone or --species)."
        )
    return ""
