"""A fault of one cell, before it is known where the cell stands."""

from dataclasses import dataclass

__all__ = ["Fault"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What a cell should hold instead, and how to mend it.

    ``instead`` are the texts that would each put the cell right, if one of them is meant.
    """

    expected: str
    mend: str
    instead: tuple[str, ...] = ()
