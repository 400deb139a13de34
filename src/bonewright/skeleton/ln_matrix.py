"""Measurements as a table of natural logarithms: a row an individual, a column a code."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum, log, sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange

__all__ = ["Code", "Entry", "LnMatrix", "ln_matrix"]

Code = tuple[str, str]
"""Element and measurement code, as ('femur', 'GL')."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One measurement of one individual (or of one bone), in mm.

    ``relative_error`` is the technical error of measurement as a share of the value.
    """

    row: str
    code: Code
    value_mm: float
    relative_error: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LnMatrix:
    """Natural logarithms of lengths in mm, with a mask in place of NaN.

    ``values_ln`` (n_rows, n_codes) is 0 where ``present`` is False; ``error_sd_ln`` is
    the known standard deviation of measuring, which for small errors is the relative
    technical error. Rows are individuals, or single bones where nothing joins them.
    """

    rows: tuple[str, ...]
    codes: tuple[Code, ...]
    values_ln: NDArray[np.float64]
    present: NDArray[np.bool_]
    error_sd_ln: NDArray[np.float64]

    def __post_init__(self) -> None:
        shape = (len(self.rows), len(self.codes))
        present = np.array(self.present, dtype=np.bool_)
        values = np.array(np.broadcast_to(self.values_ln, shape), dtype=np.float64)
        error = np.array(np.broadcast_to(self.error_sd_ln, shape), dtype=np.float64)
        if present.shape != shape:
            raise OutsideRange(
                f"The mask has shape {present.shape}, the table {shape}.",
                remedy="Give one mask cell for each row and code.",
            )
        # A mask may stand over anything, NaN included: what it hides must not leak.
        values = np.where(present, values, 0.0)
        error = np.where(present, error, 0.0)
        if not np.all(np.isfinite(values)) or not np.all(np.isfinite(error) & (error >= 0)):
            raise OutsideRange(
                "A logarithm of a length or its measuring error is not a usable number.",
                remedy="Lengths must be above 0 mm, errors 0 or more.",
            )
        for name, array in (("present", present), ("values_ln", values), ("error_sd_ln", error)):
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    @property
    def element_of_code(self) -> NDArray[np.intp]:
        """Number of each code's element, (n_codes,), in order of first appearance."""
        numbers: dict[str, int] = {}
        return np.array(
            [numbers.setdefault(element, len(numbers)) for element, _ in self.codes], dtype=np.intp
        )

    def only(self, cells: NDArray[np.bool_]) -> Self:
        """Return the same table with only the ``cells`` (n_rows, n_codes) that are True."""
        return type(self)(
            rows=self.rows,
            codes=self.codes,
            values_ln=self.values_ln,
            present=self.present & cells,
            error_sd_ln=self.error_sd_ln,
        )

    def known_part(self) -> Self:
        """Return the table without empty rows.

        Raises
        ------
        NotEnoughEvidence
            If a code has no value at all: its mean does not exist.
        """
        empty = [self.codes[column] for column in np.flatnonzero(~self.present.any(axis=0))]
        if empty or not self.codes:
            names = ", ".join(" ".join(code) for code in empty) or "any code"
            raise NotEnoughEvidence(
                f"No individual has {names}.",
                needed="at least one value for each measurement code",
                found="none",
                would_help="a measurement of that bone, or living relatives that have it",
            )
        keep = self.present.any(axis=1)
        if keep.all():
            return self
        return type(self)(
            rows=tuple(self.rows[number] for number in np.flatnonzero(keep)),
            codes=self.codes,
            values_ln=self.values_ln[keep],
            present=self.present[keep],
            error_sd_ln=self.error_sd_ln[keep],
        )


def ln_matrix(entries: Iterable[Entry]) -> LnMatrix:
    """Lay measurements out as a table.

    Rows and codes come in order of first appearance, the codes of one element together.
    Several entries for one row and code (repeats, left and right) become their mean on
    the logarithmic scale, their errors shrinking with the square root of their number.

    Raises
    ------
    OutsideRange
        If a value is not above 0 mm.
    """
    gathered: dict[str, dict[Code, list[Entry]]] = {}
    elements: dict[str, dict[Code, None]] = {}
    for entry in entries:
        if not entry.value_mm > 0:
            raise OutsideRange(
                f"{' '.join(entry.code)} of {entry.row} is {entry.value_mm} mm.",
                remedy="A length must be above 0 mm.",
            )
        gathered.setdefault(entry.row, {}).setdefault(entry.code, []).append(entry)
        elements.setdefault(entry.code[0], {})[entry.code] = None
    codes = tuple(code for of_element in elements.values() for code in of_element)
    column = {code: number for number, code in enumerate(codes)}
    shape = (len(gathered), len(codes))
    values, error, present = np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=np.bool_)
    for row, of_row in enumerate(gathered.values()):
        for code, members in of_row.items():
            cell = row, column[code]
            values[cell] = fsum(log(member.value_mm) for member in members) / len(members)
            squares = fsum(member.relative_error**2 for member in members)
            error[cell] = sqrt(squares) / len(members)
            present[cell] = True
    return LnMatrix(
        rows=tuple(gathered), codes=codes, values_ln=values, present=present, error_sd_ln=error
    )
