"""What the person decided about rows, and doubts that know of it."""

from dataclasses import dataclass
from typing import Literal

from bonewright.findings import Doubt, RowRef

__all__ = ["Decisions"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """Rows kept and set aside by the person, as (table, row id)."""

    kept: frozenset[tuple[str, str]]
    set_aside: frozenset[tuple[str, str]]

    def of(self, ref: RowRef) -> Literal["keep", "set aside"] | None:
        """Return what was decided about a row."""
        place = (ref.table, ref.row_id)
        if place in self.kept:
            return "keep"
        return "set aside" if place in self.set_aside else None

    def doubt(
        self,
        ref: RowRef,
        *,
        column: str,
        kind: str,
        found: str,
        expected: str,
        mend: str,
        grave: bool = False,
    ) -> Doubt:
        """Make a doubt; a grave one holds the row out unless it is kept."""
        decided = self.of(ref)
        return Doubt(
            ref=ref,
            column=column,
            kind=kind,
            found=found,
            expected=expected,
            mend=mend,
            held_out=decided == "set aside" or (grave and decided is None),
            decided=decided,
        )
