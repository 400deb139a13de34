"""What the last edit moved, in words for the judgement's view."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.report.compared import moved_words, share_words, worth_telling

if TYPE_CHECKING:
    from bonewright.report.compared import Compared

__all__ = ["ChangesShown", "changes_shown"]

_MOST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangesShown:
    """Changes in words, conclusions that moved with their reasons, and how many moved little."""

    changes: tuple[str, ...]
    moved: tuple[tuple[str, tuple[str, ...]], ...]
    further: int


def changes_shown(compared: "Compared | None") -> ChangesShown | None:
    """Write what was changed and what moved; None if nothing was."""
    if compared is None or not compared.changes:
        return None
    telling = worth_telling(compared)
    return ChangesShown(
        changes=tuple(change.words for change in compared.changes[:_MOST]),
        moved=tuple(
            (moved_words(moved), share_words(compared.shares.get(moved.key, ())))
            for moved in telling[:_MOST]
        ),
        further=len(compared.moved) - len(telling[:_MOST]),
    )
