"""The header of a table, and whether its rows have as many cells."""

from collections.abc import Iterator

from bonewright.errors import Problem
from bonewright.study.columns import Table
from bonewright.study.raw import RawTable
from bonewright.study.spelling import nearest, shown

__all__ = ["header_places", "shape_problems"]


_MOST_COLUMNS = 500


def header_places(raw: RawTable, table: Table) -> tuple[dict[str, int], list[Problem]]:
    """Map each known column to its place, and tell unknown, doubled and missing ones."""
    problems: list[Problem] = []
    places: dict[str, int] = {}
    known = {column.name for column in table.columns}
    meant: set[str] = set()

    def tell(found: str, expected: str, mend: str, column: str | None) -> None:
        problems.append(
            Problem(file=raw.file, row=1, column=column, found=found, expected=expected, mend=mend)
        )

    if len(raw.header) > _MOST_COLUMNS:
        # Each told by itself would be thousands of problems of one mistake.
        tell(
            f"a header of {len(raw.header):,} columns",
            f"columns of {table.name}: {', '.join(c.name for c in table.columns)}",
            "Look at the first row in a text editor: another file may have been pasted into it.",
            None,
        )
        return {}, problems
    lacking = known.difference(raw.header)
    for place, name in enumerate(raw.header):
        if name in places:
            tell(
                f"the column {name} twice",
                "each column once",
                "Delete one of the two, or rename it.",
                name,
            )
        elif name in known:
            places[name] = place
        elif name or any(place < len(row) and row[place].strip() for row in raw.rows):
            guess = nearest(name, lacking) if name else None
            meant.update([guess] if guess else [])
            tell(
                f"a column named {shown(name)}" if name else "a column without a name",
                f"columns of {table.name}: {', '.join(c.name for c in table.columns)}",
                f"Did you mean {guess}?"
                if guess
                else "Rename it, or move it to another file."
                if name
                else f"Write its name into column {place + 1} of the first row, or empty its"
                " cells.",
                name or None,
            )
    for column in table.columns:
        if column.required and column.name not in places and column.name not in meant:
            tell(
                "no such column",
                f"a column named {column.name}",
                f"Add it. {column.description}",
                column.name,
            )
    return places, problems


def shape_problems(raw: RawTable, misshapen: frozenset[int]) -> Iterator[Problem]:
    """Tell the rows that have more or fewer cells than the header."""
    for index in sorted(misshapen):
        count = len(raw.rows[index])
        many = count > len(raw.header)
        yield Problem(
            file=raw.file,
            row=raw.row_numbers[index],
            column=None,
            found=f"{count} cells",
            expected=f"{len(raw.header)} cells, as in the header",
            mend="Put a cell that holds the delimiter in quotation marks, or take out what is"
            " too much."
            if many
            else "Add the missing cells; an empty cell still needs its delimiter.",
        )
