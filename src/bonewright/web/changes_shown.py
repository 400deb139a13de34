"""What the last edit moved, in words for the judgement's view."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.report.compared import by_words, share_words, what_differs, worth_telling

if TYPE_CHECKING:
    from bonewright.comparison import Moved
    from bonewright.report.compared import Compared

__all__ = ["ChangesShown", "changes_shown"]

_MOST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedShown:
    """A conclusion that moved: where the page shows it, from what to what, how far, and why."""

    title: str
    href: str
    before: str
    after: str
    by: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangesShown:
    """Changes in words, the conclusions that moved most, and how many more did."""

    changes: tuple[str, ...]
    moved: tuple[MovedShown, ...]
    further: int


def changes_shown(compared: "Compared | None") -> ChangesShown | None:
    """Write what was changed and what moved; None if nothing was."""
    if compared is None or not compared.changes:
        return None
    telling = worth_telling(compared)
    return ChangesShown(
        changes=tuple(change.words for change in compared.changes[:_MOST]),
        moved=tuple(_moved(item, compared) for item in telling[:_MOST]),
        further=len(compared.moved) - len(telling[:_MOST]),
    )


def _moved(moved: "Moved", compared: "Compared") -> MovedShown:
    before, after = moved.before, moved.after
    if before and after and moved.by is None:
        before, after = what_differs(before, after)
    return MovedShown(
        title=moved.title,
        href=f"/{moved.key.partition('.')[0]}#{moved.key}" if moved.after else "",
        before=before or "not given",
        after=after or "no longer given",
        by="" if moved.by is None else by_words(moved.by),
        reasons=share_words(compared.shares.get(moved.key, ())),
    )
