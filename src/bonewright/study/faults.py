"""A fault of one cell, before it is known where the cell stands."""

from dataclasses import dataclass

__all__ = ["Fault"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What a cell should hold instead, and how to mend it."""

    expected: str
    mend: str
