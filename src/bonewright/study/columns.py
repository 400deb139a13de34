"""What a column and a table are: the vocabulary the schemas are written in."""

from dataclasses import dataclass, field
from typing import Literal

__all__ = ["Column", "ColumnKind", "Limit", "Table"]

ColumnKind = Literal["text", "number", "integer", "choice", "date", "unit", "file", "yes-no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Plausible range of a number in ``unit``; outside it takes a reason in decisions.csv."""

    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a study table.

    ``kind`` is how a cell is read. ``refers_to`` names the table whose key the cell must
    hold. ``choices`` lists what a choice may be. ``unit_column`` names the column that
    holds the unit of this number; ``dimension`` is what the unit must measure. ``limit``
    is the plausible range after conversion. ``extended_by`` names a table whose column of
    the same name adds to the choices. ``minimum`` is a hard bound that no reason
    overrides (``exclusive`` bars the bound itself).
    """

    name: str
    title: str
    description: str
    kind: ColumnKind = "text"
    required: bool = False
    example: str = ""
    choices: tuple[str, ...] = ()
    extended_by: str | None = None
    refers_to: str | None = None
    unit_column: str | None = None
    dimension: Literal["length", "mass", "volume", "area", "angle", "none"] | None = None
    limit: Limit | None = None
    minimum: float | None = None
    maximum: float | None = None
    exclusive: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of a study. ``key`` is the column whose cells name the rows.

    ``step`` is the step of the job that the table feeds.
    """

    name: str
    title: str
    description: str
    key: str
    step: str
    columns: tuple[Column, ...] = field(default=())

    def column(self, name: str) -> Column:
        """Return the column of that name.

        Raises
        ------
        KeyError
            If the table has no such column.
        """
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)
