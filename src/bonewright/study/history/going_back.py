"""Which step is meant: the one to take back, the one to do again, the one of a moment."""

import re
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from bonewright.errors import BonewrightError
from bonewright.study.history.journal import FileChange, Step

__all__ = ["last_undoable", "last_undone", "listed_files", "moment_of"]

_BEFORE = re.compile(r"(before\s+)?(.*)", re.IGNORECASE | re.DOTALL)
_STEP = re.compile(r"(?:step\s+)?(\d{1,6})", re.IGNORECASE)
_DATES = ("%Y-%m-%d", "%d.%m.%Y", "%d %B %Y", "%d %b %Y")
_DATES_WITH_A_YEAR = ("%d %B %Y", "%d %b %Y")
_SHOWN_FILES = 3


def _stacks(steps: Sequence[Step]) -> tuple[list[Step], list[Step]]:
    """Return the steps that stand and those taken back, each with the next one last."""
    by_number: dict[int, Step] = {}
    standing: list[Step] = []
    undone: list[Step] = []
    for step in steps:
        by_number[step.number] = step
        if step.undoes is not None:
            undone.append(by_number.get(step.undoes, step))
            if standing:
                standing.pop()
        elif step.redoes is not None:
            standing.append(by_number.get(step.redoes, step))
            if undone:
                undone.pop()
        elif step.by != "as found":
            standing.append(step)
            undone.clear()
    return standing, undone


def last_undoable(steps: Sequence[Step]) -> Step | None:
    """Return the step that undoing takes back next."""
    standing, _ = _stacks(steps)
    return standing[-1] if standing else None


def last_undone(steps: Sequence[Step]) -> Step | None:
    """Return the step that redoing does again next."""
    _, undone = _stacks(steps)
    return undone[-1] if undone else None


def listed_files(changes: Sequence[FileChange]) -> str:
    """Name the files of a step in a few words."""
    names = [change.path for change in changes]
    more = len(names) - _SHOWN_FILES
    return ", ".join(names[:_SHOWN_FILES]) + (f" and {more} more" if more > 0 else "")


def moment_of(words: str, steps: Sequence[Step], *, now: datetime) -> int:
    """Return the number of the step after which the study stood as at a moment.

    Parameters
    ----------
    words : str
        ``12`` or ``step 12`` (after it), a date (the end of that day: ``2026-05-03``,
        ``3 May``, ``3 May 2026``), a date and time, or a time of today; any of them with
        ``before``.
    steps : sequence of Step
    now : datetime
        With the person's time zone.

    Raises
    ------
    BonewrightError
        If the words are no moment, or the history does not go back as far.
    """
    if not steps:
        raise BonewrightError(
            "The study has no history yet.",
            remedy="It begins when the study is first opened as a page or changed by a command.",
        )
    match = _BEFORE.fullmatch(words.strip())
    before, rest = (bool(match[1]), match[2]) if match else (False, words)
    found = _STEP.fullmatch(rest)
    if found:
        number = int(found[1])
        if number not in {step.number for step in steps}:
            raise BonewrightError(
                f"There is no step {number}: the last is {steps[-1].number}.",
                remedy="See the steps with: bonewright history FOLDER",
            )
        reached = [step for step in steps if step.number < number + (not before)]
    else:
        start, end = _span_of(rest, now)
        reached = [step for step in steps if (step.when < start if before else step.when <= end)]
    if not reached:
        raise _too_early(steps)
    return reached[-1].number


def _too_early(steps: Sequence[Step]) -> BonewrightError:
    first = steps[0].when.astimezone().strftime("%Y-%m-%d %H:%M:%S")
    return BonewrightError(
        f"The history begins with step {steps[0].number} on {first}.",
        remedy="Name that step or a later moment.",
    )


def _span_of(words: str, now: datetime) -> tuple[datetime, datetime]:
    """Return the first and the last instant that the words take in."""
    day = _day_of(words, now)
    if day is not None:
        start, length = datetime.combine(day, time(), tzinfo=now.tzinfo), timedelta(days=1)
    else:
        start = _instant_of(words, now)
        if start.microsecond:
            return start, start
        length = timedelta(seconds=1) if start.second else timedelta(minutes=1)
    return start, start + length - timedelta(microseconds=1)


def _day_of(words: str, now: datetime) -> date | None:
    for form in _DATES:
        day = _date(words, form)
        if day is not None:
            return day
    for form in _DATES_WITH_A_YEAR:
        for year in (now.year, now.year - 1):
            day = _date(f"{words} {year}", form)
            if day is not None and day <= now.date():
                return day
    return None


def _instant_of(words: str, now: datetime) -> datetime:
    try:
        instant = datetime.fromisoformat(words)
    except ValueError:
        instant = _time_of_day(words, now)
    return instant if instant.tzinfo else instant.replace(tzinfo=now.tzinfo)


def _date(words: str, form: str) -> date | None:
    try:
        return datetime.strptime(words, form).date()  # noqa: DTZ007 - a day has no zone
    except ValueError:
        return None


def _time_of_day(words: str, now: datetime) -> datetime:
    try:
        return datetime.combine(now.date(), time.fromisoformat(words))
    except ValueError:
        raise BonewrightError(
            f"'{words[:60]}' is no moment.",
            remedy="Write a step (12, or 'before 12'), a day (2026-05-03, or '3 May') or a day and"
            " a time (2026-05-03 12:03).",
        ) from None
