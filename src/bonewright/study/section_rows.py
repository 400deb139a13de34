"""Rows of the table of sections that wait for a size: an outline to be traced in a picture."""

from bonewright.errors import BonewrightError
from bonewright.study.raw import RawTable

__all__ = ["SIZE_COLUMNS", "cell_of", "plain_name", "sections_without_sizes"]

SIZE_COLUMNS = (
    "outerMediolateral",
    "outerAnteroposterior",
    "innerMediolateral",
    "innerAnteroposterior",
    "wallMedial",
    "wallLateral",
    "wallAnterior",
    "wallPosterior",
    "outlineFile",
)


def cell_of(table: RawTable, row: tuple[str, ...], column: str) -> str:
    """Return a row's cell in a column, empty where the table or the row has none."""
    place = table.header.index(column) if column in table.header else len(row)
    return row[place].strip() if place < len(row) else ""


def sections_without_sizes(table: RawTable) -> tuple[str, ...]:
    """Return the names of sections whose row has neither diameters nor walls nor outline."""
    return tuple(
        cell_of(table, row, "sectionID")
        for row in table.rows
        if cell_of(table, row, "sectionID")
        and not any(cell_of(table, row, column) for column in SIZE_COLUMNS)
    )


def plain_name(name: str) -> str:
    """Return a section's name as a file can have it."""
    plain = "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in name.strip())
    if not plain.strip("-"):
        raise BonewrightError("The section has no name.", remedy="Give it one, such as sec-21.")
    return plain
