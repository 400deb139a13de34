"""Two runs compared, in words."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from bonewright.attribution import Share, attribute
from bonewright.comparison import Change, Inputs, Moved, changes_between, what_moved
from bonewright.remembering import StepMemory
from bonewright.report.wording import plural, value_words

__all__ = [
    "Compared",
    "by_words",
    "compare_inputs",
    "compared_words",
    "moved_words",
    "share_words",
    "what_differs",
    "worth_telling",
]

# How many conclusions are traced to their rows: each is worth reading, all would not be.
_TRACED = 6
_SHOWN = 20
_MAIN = ("judgement.verdict.mass", "judgement.mass", "movement.could_run")
_ODDS = "judgement.odds."
_WORTH_TELLING = 0.05
_POINTS_WORTH_TELLING = 1.0
_WORDS_IN_FULL = 30
_WORDS_AROUND = 6
_SEEN = 0.005
_FIGURE = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What was changed, what moved, and what each change brought to the most moved."""

    changes: tuple[Change, ...]
    moved: tuple[Moved, ...]
    shares: Mapping[str, tuple[Share, ...]]


def compare_inputs(before: Inputs, after: Inputs, *, memory: StepMemory) -> Compared:
    """Run both and compare them.

    Raises
    ------
    StudyProblems
        If either holds problems.
    """
    earlier, later = before.run(memory), after.run(memory)
    moved = what_moved(earlier.findings, later.findings, write=value_words)
    changes = changes_between(before, after)
    by_key = {item.key: item for item in moved if item.by is not None}
    main = [key for key in _MAIN if key in by_key]
    traced = [*main, *(key for key in by_key if key not in main)][:_TRACED]
    shares = attribute(before, after, changes=changes, keys=traced, memory=memory)
    return Compared(changes=changes, moved=moved, shares=shares)


def compared_words(before: Inputs, after: Inputs) -> tuple[str, ...]:
    """Compare two runs and say it line by line."""
    compared = compare_inputs(before, after, memory=StepMemory(answers_a_step=16))
    count = plural(len(compared.changes), "row, choice or file", many="rows, choices or files")
    lines = [f"Changed: {count}"]
    lines += [f"  {change.words}" for change in compared.changes[:_SHOWN]]
    if len(compared.changes) > _SHOWN:
        lines.append(f"  and {len(compared.changes) - _SHOWN} more")
    if not compared.moved:
        lines.append("No conclusion moved.")
        return tuple(lines)
    telling = worth_telling(compared)
    lines.append("Moved (in halves of the earlier 95 % interval):")
    for moved in telling[:_SHOWN]:
        lines.append(f"  {moved.title}: {moved_words(moved)}")
        lines += [f"    {words}" for words in share_words(compared.shares.get(moved.key, ()))]
    if len(telling) > _SHOWN:
        lines.append(f"  and {plural(len(telling) - _SHOWN, 'further conclusion')}")
    near = len(compared.moved) - len(telling)
    if near:
        lines.append(f"  and {plural(near, 'conclusion')} by less than {_WORTH_TELLING:g}")
    return tuple(lines)


def worth_telling(compared: Compared) -> tuple[Moved, ...]:
    """Return the verdict's and the odds' movement, then what moved by a twentieth or in words."""
    main = [item for item in compared.moved if item.key in _MAIN or _odds_moved(item)]
    far = [
        item
        for item in compared.moved
        if item not in main
        and not item.key.startswith(_ODDS)
        and item.before != item.after
        and (not _as_good_as_same(item) if item.by is None else abs(item.by) >= _WORTH_TELLING)
    ]
    return (*main, *far)


def _as_good_as_same(moved: Moved) -> bool:
    """Say whether two wordings differ in nothing but figures, and those by a twentieth at most."""
    pairs = _figures_apart(moved.before, moved.after)
    return pairs is not None and all(
        abs(new - old) <= _WORTH_TELLING * max(abs(old), abs(new)) for old, new in pairs
    )


def _figures_apart(before: str, after: str) -> tuple[tuple[float, float], ...] | None:
    """Return the figures of two wordings that are the same otherwise; None if they are not."""
    if _FIGURE.sub("#", before) != _FIGURE.sub("#", after):
        return None
    old, new = (_FIGURE.findall(words) for words in (before, after))
    return tuple((float(one), float(other)) for one, other in zip(old, new, strict=True))


def _odds_moved(moved: Moved) -> bool:
    whole = moved.step is None or abs(moved.step) >= _POINTS_WORTH_TELLING
    return moved.key.startswith(_ODDS) and whole


def moved_words(moved: Moved) -> str:
    """Say from what to what a conclusion moved; of long words only what differs."""
    if not moved.before:
        return f"new: {moved.after}"
    if not moved.after:
        return f"no longer given (was {moved.before})"
    if moved.by is not None:
        return f"{moved.before} → {moved.after} ({by_words(moved.by)})"
    before, after = what_differs(moved.before, moved.after)
    return f"{before} → {after}"


def by_words(by: float) -> str:
    """Say how many halves of the earlier interval a conclusion moved."""
    return f"{by:+.2f}".replace("-", "−") if abs(by) >= _SEEN else f"less than {_SEEN:g}"


def what_differs(before: str, after: str) -> tuple[str, str]:
    """Shorten two long wordings to where they part, with a few words on either side."""
    old, new = before.split(), after.split()
    if len(old) + len(new) <= _WORDS_IN_FULL:
        return before, after
    if _figures_apart(before, after) is not None:
        return _only_figures(old, new)
    shorter = min(len(old), len(new))
    start = next((i for i in range(shorter) if old[i] != new[i]), shorter)
    left = shorter - start
    end = next((i for i in range(left) if old[-1 - i] != new[-1 - i]), left)
    first, last = max(0, start - _WORDS_AROUND), max(0, end - _WORDS_AROUND)

    def cut(words: list[str]) -> str:
        opening, closing = ("… " if first else ""), (" …" if last else "")
        return opening + " ".join(words[first : len(words) - last]) + closing

    return cut(old), cut(new)


def _only_figures(old: list[str], new: list[str]) -> tuple[str, str]:
    """Shorten two wordings that differ in figures to the one that differs most."""

    def apart(place: int) -> float:
        pairs = _figures_apart(old[place], new[place]) or ()
        return max((abs(a - b) / max(abs(a), abs(b), 1e-12) for a, b in pairs), default=0.0)

    place = max(range(len(old)), key=apart)
    first, last = max(0, place - _WORDS_AROUND), place + _WORDS_AROUND + 1

    def cut(words: list[str]) -> str:
        opening, closing = ("… " if first else ""), (" …" if last < len(words) else "")
        return opening + " ".join(words[first:last]) + closing

    return cut(old), cut(new)


def share_words(shares: tuple[Share, ...]) -> tuple[str, ...]:
    """Say which changes brought a movement, the greatest first; of a single change nothing."""
    if len(shares) < 2:
        return ()
    telling = sorted(shares, key=lambda share: -abs(share.by))
    return tuple(
        f"{by_words(share.by)} because of {share.change.words}"
        for share in telling[:5]
        if abs(share.by) >= _SEEN
    )
