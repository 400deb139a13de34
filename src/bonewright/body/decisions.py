"""What the person decided about a row."""

from typing import Literal

from bonewright.findings import RowRef

__all__ = ["Places", "decision_on"]

Places = frozenset[tuple[str, str]]
"""Rows as (table, row id)."""


def decision_on(
    ref: RowRef, kept: Places, set_aside: Places
) -> Literal["keep", "set aside"] | None:
    """Return the decision on a row, None where none was taken."""
    place = (ref.table, ref.row_id)
    if place in kept:
        return "keep"
    return "set aside" if place in set_aside else None
