"""Words for problems: what was found, what was probably meant."""

import difflib
from collections.abc import Iterable

__all__ = ["listed", "nearest", "shown"]

_LONGEST_SHOWN = 60


def shown(text: str) -> str:
    """Show a cell's text in a message: quoted, on one line, shortened."""
    flat = " ".join(text.split())
    if not flat:
        return "nothing"
    if len(flat) > _LONGEST_SHOWN:
        flat = flat[: _LONGEST_SHOWN - 1] + "…"
    return f"'{flat}'"


def listed(words: Iterable[str], *, last: str = "or") -> str:
    """Join words as a sentence does: 'left, right or unknown'."""
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def nearest(word: str, candidates: Iterable[str]) -> str | None:
    """Find what a misspelled word was probably meant to be, or None."""
    by_folded: dict[str, str] = {}
    for candidate in candidates:
        by_folded.setdefault(candidate.casefold(), candidate)
    folded = word.strip().casefold()
    if folded in by_folded:
        return by_folded[folded]
    close = difflib.get_close_matches(folded, by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None
