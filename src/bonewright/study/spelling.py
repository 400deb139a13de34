"""Words for problems: what was found, what was probably meant."""

import difflib
from collections.abc import Iterable

__all__ = ["equally_near", "listed", "nearest", "shown", "with_article"]

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
    """Find what a misspelled word was probably meant to be.

    None if nothing is near, or if several candidates are equally near: a guess between
    them would send the person the wrong way.
    """
    near = equally_near(word, candidates)
    return near[0] if len(near) == 1 else None


def equally_near(word: str, candidates: Iterable[str]) -> list[str]:
    """Find every candidate that a misspelled word is nearest to, one if no other is as near."""
    by_folded: dict[str, str] = {}
    for candidate in candidates:
        by_folded.setdefault(candidate.casefold(), candidate)
    folded = word.strip().casefold()
    if folded in by_folded:
        return [by_folded[folded]]
    close = difflib.get_close_matches(folded, by_folded, n=max(len(by_folded), 1), cutoff=0.6)
    if not close:
        return []
    likeness = [difflib.SequenceMatcher(None, one, folded).ratio() for one in close]
    return [by_folded[one] for one, r in zip(close, likeness, strict=True) if r == likeness[0]]


def with_article(word: str) -> str:
    """Put 'a' or 'an' before a bone's or a thing's name: 'an ulna', 'a femur'."""
    an = word[:1].casefold() in "aeiou" and not word.casefold().startswith(("uni", "eu"))
    return f"{'an' if an else 'a'} {word}"
