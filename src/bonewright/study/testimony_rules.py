"""Rules that join cells of the tables of pictures, accounts, the old mount and decisions."""

from collections.abc import Iterator, Mapping

from bonewright.errors import Problem
from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan
from bonewright.study.settings import Witness
from bonewright.study.spelling import nearest
from bonewright.study.table_cells import TableCells, keep_hint
from bonewright.study.units import Measures, factor_to_inside

__all__ = [
    "CLAIM_MEASURES",
    "chain_rules",
    "claim_rules",
    "decision_rules",
    "mark_rules",
    "mount_rules",
    "testimony_date_rules",
]

CLAIM_MEASURES: dict[str, Measures] = {"weight": "mass", "height": "length"}
# As wide as the limits of the measured tables: 2 g to 1,500 kg, and 20 mm to 10 m.
_CLAIM_LIMITS: dict[Measures, tuple[float, float, str]] = {
    "mass": (0.002, 1500.0, "0.002 to 1500 kg"),
    "length": (20.0, 10_000.0, "0.02 to 10 m"),
}


def chain_rules(cells: TableCells, column: str, rows: Mapping[str, int]) -> Iterator[Problem]:
    """Check that copies (or casts) do not go in a circle. ``rows`` maps names to indices."""
    parents = {
        index: rows[name]
        for index in cells.sound_rows()
        if (name := cells.text(column, index)) is not None and name in rows
    }
    told: set[int] = set()
    for start, parent in parents.items():
        if parent == start:
            yield cells.problem(
                start,
                column,
                expected="another row than this one",
                mend="Empty the cell or mend it.",
            )
            continue
        path = [start]
        while (following := parents.get(path[-1])) is not None and following not in path:
            path.append(following)
        if following == start and told.isdisjoint(path):
            told.update(path)
            names = " is of ".join(cells.key(index) for index in [*path, start])
            yield cells.problem(
                start,
                column,
                expected="no circle",
                mend=f"{names}: empty the cell that is wrong.",
            )


def testimony_date_rules(
    cells: TableCells,
    rows: Mapping[str, int],
    *,
    overruled: frozenset[str],
    witness: Witness | None,
) -> Iterator[Problem]:
    """Check dates against the years of witness, and that no copy is older than its original."""
    for index in cells.sound_rows():
        date = cells.columns["eventDate"][index]
        if not isinstance(date, DateSpan):
            continue
        outside = witness is not None and (
            date.latest > witness.latest + 1 or date.earliest < witness.earliest
        )
        if witness is not None and outside:
            yield cells.problem(
                index,
                "eventDate",
                expected=f"a date from {witness.earliest} to {witness.latest}",
                mend="Mend the date, or the years under [witness] in study.toml.",
            )
        original = rows.get(cells.text("copyOf", index) or "")
        if original is None or original == index or cells.key(index) in overruled:
            continue
        other = cells.columns["eventDate"][original]
        if isinstance(other, DateSpan) and date.latest <= other.earliest:
            yield cells.problem(
                index,
                "eventDate",
                expected=f"not before {other.text}, the date of what it copies"
                f" ({cells.place(original)})",
                mend=keep_hint(cells, index, "Mend the date that is wrong, or copyOf"),
            )


def mark_rules(marks: TableCells) -> Iterator[Problem]:
    """Check that scores are whole or half numbers."""
    for index in marks.sound_rows():
        score = marks.number("measurementValue", index)
        if score is not None and (2 * score) % 1 != 0:
            yield marks.problem(
                index,
                "measurementValue",
                expected="a whole or half number from 1 to 5",
                mend="Round it to the nearest half.",
            )


def claim_rules(claims: TableCells, overruled: frozenset[str]) -> Iterator[Problem]:
    """Check that weights and heights have a value with a unit that fits, and others none."""
    for index in claims.sound_rows():
        kind = claims.text("claimType", index)
        if kind is None:
            continue
        measures = CLAIM_MEASURES.get(kind)
        if measures is None:
            if claims.filled("measurementValue", index):
                yield claims.problem(
                    index,
                    "measurementValue",
                    expected=f"no number for a claim about {kind}",
                    mend="Put it into words in the statement, or mend what the claim is about.",
                )
            continue
        missing = [
            c for c in ("measurementValue", "measurementUnit") if not claims.filled(c, index)
        ]
        for column in missing:
            yield claims.problem(
                index,
                column,
                expected=f"the {kind} claimed, with its unit",
                mend=f"Fill it in, or make it a claim about other things than {kind}.",
            )
        if not missing:
            yield from _claim_amount(claims, index, measures=measures, overruled=overruled)


def _claim_amount(
    claims: TableCells, index: int, *, measures: Measures, overruled: frozenset[str]
) -> Iterator[Problem]:
    factor = factor_to_inside(claims.written["measurementUnit"][index], measures)
    if isinstance(factor, Fault):
        yield claims.problem(index, "measurementUnit", expected=factor.expected, mend=factor.mend)
        return
    value = claims.number("measurementValue", index)
    low, high, words = _CLAIM_LIMITS[measures]
    if value is None or low <= value * factor <= high or claims.key(index) in overruled:
        return
    yield claims.problem(
        index,
        "measurementValue",
        expected=f"a plausible value, {words}",
        mend=keep_hint(claims, index, "Mend the value or its unit"),
    )


def mount_rules(mount: TableCells) -> Iterator[Problem]:
    """Check that soft-tissue allowances are in order and smaller than the measure."""
    for index in mount.sound_rows():
        low = mount.number("allowanceLow", index)
        high = mount.number("allowanceHigh", index)
        value = mount.number("measurementValue", index)
        if low is not None and high is not None and low > high:
            yield mount.problem(
                index,
                "allowanceLow",
                expected=f"at most allowanceHigh ({mount.written['allowanceHigh'][index]})",
                mend="Swap the two, or look them up again.",
            )
        if high is not None and value is not None and high >= value:
            yield mount.problem(
                index,
                "allowanceHigh",
                expected="less than the measure itself",
                mend="Look both up again; the allowance is in the unit of the row.",
            )


def decision_rules(
    decisions: TableCells, rows: Mapping[str, Mapping[str, int]]
) -> Iterator[Problem]:
    """Check that each decision is about a row that exists, and decides it once.

    ``rows`` maps a table to its rows' names; a table that could not be read is left out.
    """
    first: dict[tuple[str, str], int] = {}
    for index in decisions.sound_rows():
        table, row_id = decisions.text("tableName", index), decisions.text("rowID", index)
        if table is None or row_id is None:
            continue
        if table in rows and row_id not in rows[table]:
            guess = nearest(row_id, rows[table])
            yield decisions.problem(
                index,
                "rowID",
                expected=f"the name of a row of {table}",
                mend=f"Did you mean '{guess}'?" if guess else "Mend the name or the table.",
            )
        earlier = first.setdefault((table, row_id), index)
        if earlier != index:
            yield decisions.problem(
                index,
                "rowID",
                expected="one decision a row",
                mend=f"{decisions.place(earlier)} decides on it already: delete one of the two.",
            )
