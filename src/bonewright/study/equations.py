"""Published equations of mass: those that come with the program, and the study's own."""

import csv
from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files
from typing import TypedDict

import numpy as np

from bonewright.errors import Problem
from bonewright.study.model import MassEquation
from bonewright.study.table_cells import TableCells
from bonewright.study.table_rows import TableRow

__all__ = ["equation_of_row", "equation_rules", "shipped_equations"]


class _Inside(TypedDict):
    slope: float
    intercept_ln: float
    factor: float
    standard_error_ln: float | None
    range_low_mm: float | None
    range_high_mm: float | None
    printed: str


_MASS_KG = {"g": 1e-3, "kg": 1.0}
_LENGTH_MM = {"mm": 1.0, "cm": 10.0}
_SOUND_KG = (2e-4, 2e5)
_TRIED_MM = 30.0


@lru_cache(maxsize=1)
def shipped_equations() -> tuple[MassEquation, ...]:
    """Return the catalogue that comes with the program."""
    text = files("bonewright.study").joinpath("published_equations.csv").read_text("utf-8")
    return tuple(_shipped(row) for row in csv.DictReader(text.splitlines()))


def _shipped(row: dict[str, str]) -> MassEquation:
    def number(column: str) -> float | None:
        return float(row[column]) if row[column] else None

    count = number("individualCount")
    return MassEquation(
        ref=None,
        equation_id=row["equationID"],
        animals=row["animals"],
        element=row["element"],
        code=row["measurementType"],
        n=None if count is None else int(count),
        source=row["literatureKey"],
        status=row["status"],
        **_converted(
            logarithm=row["logarithm"],
            intercept=float(row["intercept"]),
            slope=float(row["slope"]),
            mass_unit=row["massUnit"],
            length_unit=row["lengthUnit"],
            code=row["measurementType"],
            factor=number("measurementFactor"),
            standard_error=number("standardError"),
            low=number("rangeLow"),
            high=number("rangeHigh"),
        ),
    )


def equation_of_row(row: TableRow) -> MassEquation:
    """Return a row of equations.csv in kg and mm."""
    return MassEquation(
        ref=row.ref,
        equation_id=row.text("equationID"),
        animals=row.text("animals"),
        element=row.text("element"),
        code=row.text("measurementType"),
        n=row.count("individualCount"),
        source=row.optional_text("sourceID"),
        status="as the study's table has it",
        **_converted(
            logarithm=row.text("logarithm"),
            intercept=row.number("intercept"),
            slope=row.number("slope"),
            mass_unit=row.text("massUnit"),
            length_unit=row.text("lengthUnit"),
            code=row.text("measurementType"),
            factor=row.optional_number("measurementFactor"),
            standard_error=row.optional_number("standardError"),
            low=row.optional_number("rangeLow"),
            high=row.optional_number("rangeHigh"),
        ),
    )


def _converted(
    *,
    logarithm: str,
    intercept: float,
    slope: float,
    mass_unit: str,
    length_unit: str,
    code: str,
    factor: float | None,
    standard_error: float | None,
    low: float | None,
    high: float | None,
) -> _Inside:
    base_ln = float(np.log(10.0)) if logarithm == "10" else 1.0
    in_mm = _LENGTH_MM[length_unit]
    log = "log10" if logarithm == "10" else "ln"
    times = "" if factor is None else f"{factor:g} × "
    return {
        "slope": slope,
        "intercept_ln": base_ln * intercept
        + float(np.log(_MASS_KG[mass_unit]))
        - slope * float(np.log(in_mm)),
        "factor": 1.0 if factor is None else factor,
        "standard_error_ln": None if standard_error is None else base_ln * standard_error,
        "range_low_mm": None if low is None else low * in_mm,
        "range_high_mm": None if high is None else high * in_mm,
        "printed": (
            f"{log}(mass/{mass_unit}) = {intercept:g}"
            f" + {slope:g} {log}({times}{code}/{length_unit})"
        ).replace("= -", "= −"),
    }


def equation_rules(equations: TableCells, overruled: frozenset[str]) -> Iterator[Problem]:
    """Check that ranges are in order, and that no equation gives masses no animal has."""
    for index in equations.sound_rows():
        row = TableRow(equations, index)
        low, high = row.optional_number("rangeLow"), row.optional_number("rangeHigh")
        if low is not None and high is not None and low > high:
            yield equations.problem(
                index,
                "rangeHigh",
                expected="a largest measurement above the smallest",
                mend="Look the two up again.",
            )
            continue
        faulty = any(
            equations.columns[column.name][index] is None
            for column in equations.table.columns
            if column.required
        )
        if faulty or equations.key(index) in overruled:
            continue
        equation = equation_of_row(row)
        tried = [mm for mm in (equation.range_low_mm, equation.range_high_mm) if mm is not None]
        for mm in tried or [_TRIED_MM]:
            mass_kg = float(
                np.exp(equation.intercept_ln + equation.slope * np.log(equation.factor * mm))
            )
            if not _SOUND_KG[0] <= mass_kg <= _SOUND_KG[1]:
                yield equations.problem(
                    index,
                    "intercept",
                    expected=f"an equation that gives an animal's mass (at {mm:g} mm it gives"
                    f" {mass_kg:.3g} kg)",
                    mend="Look up intercept, slope, units and logarithm again",
                    keepable=True,
                )
                break
