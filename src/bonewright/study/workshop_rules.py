"""Rules that join cells of the workshop's tables."""

from collections.abc import Iterator

from bonewright.errors import Problem
from bonewright.study.body_rules import known_segments
from bonewright.study.spelling import listed, nearest
from bonewright.study.table_cells import TableCells

__all__ = ["stock_rules", "tract_rules"]


def stock_rules(stock: TableCells) -> Iterator[Problem]:
    """Check that a tube has a wall that leaves a hole, and nothing else has one."""
    for index in stock.sound_rows():
        form = stock.text("stockForm", index)
        wall, diameter = stock.number("wallThickness", index), stock.number("diameter", index)
        written = bool(stock.written["wallThickness"][index])
        if form == "tube" and not written:
            yield stock.problem(
                index,
                "wallThickness",
                expected="the wall of the tube, mm",
                mend="Measure it at a cut end, or write bar if it is solid.",
            )
        elif form is not None and form != "tube" and written:
            yield stock.problem(
                index,
                "wallThickness",
                expected=f"nothing, for a {form} is solid",
                mend="Empty the cell, or write tube as its form.",
            )
        elif wall is not None and diameter is not None and not 0 < 2 * wall < diameter:
            yield stock.problem(
                index,
                "wallThickness",
                expected=f"less than half the diameter of {diameter:g} mm",
                mend="Look both up again.",
            )


def tract_rules(tracts: TableCells, segments: TableCells) -> Iterator[Problem]:
    """Check that feathers stand on a known segment, and counts lie inside their range."""
    known = known_segments(segments)
    for index in tracts.sound_rows():
        name = tracts.key(index)
        if name not in known and not segments.raw.problems:
            guess = nearest(name, known)
            yield tracts.problem(
                index,
                "segmentID",
                expected="a segment of the body plan",
                mend=f"Did you mean '{guess}'?" if guess else f"One of: {listed(known)}.",
            )
        best, low, high = (
            tracts.number(column, index)
            for column in ("feathersPerArea", "feathersLow", "feathersHigh")
        )
        if best is not None and low is not None and high is not None and not low <= best <= high:
            yield tracts.problem(
                index,
                "feathersPerArea",
                expected=f"a count inside its range, {low:g} to {high:g} a cm2",
                mend="Look the three numbers up again.",
            )
