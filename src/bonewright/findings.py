"""Findings: every number that reaches a person, with how it was got.

A finding holds one of three kinds of value: a :class:`~bonewright.quantity.Quantity`
(draws), an :class:`Exact` number that has no interval for a stated reason (a count, a
test statistic), or a :class:`Statement` in words.
"""

from dataclasses import dataclass
from typing import Literal

from bonewright.quantity import Quantity

__all__ = ["Caveat", "Doubt", "Exact", "Finding", "HowGot", "RowRef", "Statement"]


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class RowRef:
    """A row of a study table: ``row`` as a spreadsheet shows it (header is row 1)."""

    table: str
    row: int
    row_id: str

    def words(self) -> str:
        """Say where the row stands."""
        return f"tables/{self.table}.csv, row {self.row} ({self.row_id})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caveat:
    """A reason to trust a number less. ``code`` is stable, ``text`` is for the person."""

    code: str
    text: str
    rows: tuple[RowRef, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HowGot:
    """How a number was got.

    ``formula`` is in words or plain symbols; ``inputs`` are keys of other findings or of
    choices in study.toml; ``rows`` the table rows used; ``sources`` the keys in
    ``literature.py`` of the methods.
    """

    formula: str
    inputs: tuple[str, ...] = ()
    rows: tuple[RowRef, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Exact:
    """A number without an interval, and why it has none."""

    value: float
    unit: str
    why_no_interval: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A finding in words."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finding:
    """One result of one step.

    ``key`` is stable and dotted, beginning with the step (``relatives.mass.femur.CD``).
    ``title`` is what it is, in sentence case. ``n`` counts what it rests on (individuals,
    species, pictures), where counting makes sense, and ``n_of`` names them.
    """

    key: str
    step: str
    title: str
    value: Quantity | Exact | Statement
    how: HowGot
    n: int | None = None
    n_of: str = ""
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A row that is probably a mistake, and what it probably is.

    ``kind`` is stable ('factor of ten', 'wrong element', ...). ``held_out`` says whether
    the row is kept out of the results until the person decides; ``decided`` is what
    decisions.csv says of it. Nothing is dropped silently: every doubt is shown.
    """

    ref: RowRef
    column: str
    kind: str
    found: str
    expected: str
    mend: str
    held_out: bool
    decided: Literal["keep", "set aside"] | None = None
