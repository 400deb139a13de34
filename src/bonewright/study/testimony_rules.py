"""Rules that join cells of the tables of pictures, accounts, the old mount and decisions."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bonewright.errors import Problem
from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan
from bonewright.study.settings import Witness
from bonewright.study.spelling import nearest
from bonewright.study.table_cells import TableCells
from bonewright.study.units import Measures, factor_to_inside

__all__ = [
    "CLAIM_MEASURES",
    "UnitAmount",
    "chain_rules",
    "claim_rules",
    "decision_rules",
    "mark_rules",
    "mount_rules",
    "old_units",
    "testimony_date_rules",
    "unit_rules",
]

CLAIM_MEASURES: dict[str, Measures] = {"weight": "mass", "height": "length", "length": "length"}
# As wide as the limits of the measured tables: 2 g to 1,500 kg, and 20 mm to 10 m.
_CLAIM_LIMITS: dict[Measures, tuple[float, float, str]] = {
    "mass": (0.002, 1500.0, "0.002 to 1500 kg"),
    "length": (20.0, 10_000.0, "0.02 to 10 m"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitAmount:
    """A row of the units table: what one of it was, in kg or mm."""

    row: int
    measures: Measures
    value: float
    low: float
    high: float


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
        # A photograph of a mount is no witness of the animal.
        is_mount = "shows" in cells.columns and cells.text("shows", index) == "mount"
        outside = (not is_mount and witness is not None) and (
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
                mend="Mend the date that is wrong, or copyOf",
                keepable=True,
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


def old_units(units: TableCells) -> dict[str, UnitAmount]:
    """Return the sound rows of the units table by name."""
    found: dict[str, UnitAmount] = {}
    for index in units.sound_rows():
        for measures in ("mass", "length"):
            factor = factor_to_inside(units.written["measurementUnit"][index], measures)
            numbers = [units.number(c, index) for c in ("unitLow", "unitValue", "unitHigh")]
            low, value, high = (
                n * factor if n and isinstance(factor, float) else None for n in numbers
            )
            if low is not None and value is not None and high is not None:
                found[units.key(index)] = UnitAmount(
                    row=index, measures=measures, value=value, low=low, high=high
                )
    return found


def unit_rules(units: TableCells, overruled: frozenset[str]) -> Iterator[Problem]:
    """Check that an old unit is a mass or a length, with a range that is in order and not wild."""
    for index in units.sound_rows():
        unit = units.written["measurementUnit"][index]
        faults = [factor_to_inside(unit, measures) for measures in ("mass", "length")]
        if unit and all(isinstance(fault, Fault) for fault in faults):
            yield units.problem(
                index,
                "measurementUnit",
                expected="a unit of mass or length: kg, g, lb, m, cm, mm, ft, in",
                mend="Write one of them.",
            )
        low, value, high = (units.number(c, index) for c in ("unitLow", "unitValue", "unitHigh"))
        if low is None or value is None or high is None:
            continue
        for column, fits in (("unitLow", low <= value), ("unitHigh", value <= high)):
            if not fits:
                yield units.problem(
                    index,
                    column,
                    expected="low, best value and high in that order",
                    mend="Look the three up again.",
                )
        if value > 0 and units.key(index) not in overruled:
            for column, wide in (("unitLow", low < value / 2), ("unitHigh", high > value * 2)):
                if wide:
                    yield units.problem(
                        index,
                        column,
                        expected="within twice the best value, either way",
                        mend="Look at the decimal point",
                        keepable=True,
                    )


def claim_rules(
    claims: TableCells, overruled: frozenset[str], units: Mapping[str, UnitAmount]
) -> Iterator[Problem]:
    """Check that numbers claimed have a unit that fits, and that other claims have none.

    A likelihood ratio needs what it speaks for, and the other way round.
    """
    for index in claims.sound_rows():
        filled = {c: claims.filled(c, index) for c in ("likelihoodRatio", "likelihoodRatioFor")}
        if sum(filled.values()) == 1:
            yield claims.problem(
                index,
                next(column for column, is_filled in filled.items() if not is_filled),
                expected="a likelihood ratio with what it speaks for, or neither",
                mend="Fill in both cells or empty both.",
            )
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
            yield from _claim_amount(
                claims, index, measures=measures, overruled=overruled, units=units
            )


def _claim_amount(
    claims: TableCells,
    index: int,
    *,
    measures: Measures,
    overruled: frozenset[str],
    units: Mapping[str, UnitAmount],
) -> Iterator[Problem]:
    written = claims.written["measurementUnit"][index]
    old = units.get(written)
    factor: float | Fault
    if old is not None and old.measures != measures:
        factor = Fault(
            expected=f"a unit of {measures}", mend=f"'{written}' is an old unit of {old.measures}."
        )
    else:
        factor = factor_to_inside(written, measures) if old is None else old.value
    if isinstance(factor, Fault):
        names = [name for name, unit in units.items() if unit.measures == measures]
        guess = nearest(written, names)
        yield claims.problem(
            index,
            "measurementUnit",
            expected=", ".join([factor.expected, *names]),
            mend=f"Did you mean '{guess}'?" if guess else factor.mend,
            instead=(guess,) if guess else factor.instead,
        )
        return
    value = claims.number("measurementValue", index)
    low, high, words = _CLAIM_LIMITS[measures]
    if value is None or low <= value * factor <= high or claims.key(index) in overruled:
        return
    yield claims.problem(
        index,
        "measurementValue",
        expected=f"a plausible value, {words}",
        mend="Mend the value or its unit",
        keepable=True,
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
                instead=(guess,) if guess else (),
            )
        earlier = first.setdefault((table, row_id), index)
        if earlier != index:
            yield decisions.problem(
                index,
                "rowID",
                expected="one decision a row",
                mend=f"{decisions.place(earlier)} decides on it already: delete one of the two.",
            )
