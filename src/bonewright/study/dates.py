"""Dates known to the year, the month or the day, and spans of them.

A date is read as the whole time it leaves open: 1650 runs from the first moment of that
year to the last. Years count in the Gregorian calendar, as ISO 8601 does; a date that a
source gives in another calendar is converted by the person, who knows which one it was.
"""

import calendar
import re

from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan

__all__ = ["read_date"]

_DATE = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?")
_EXPECTED = "a date: 1650, 1650-03, 1650-03-14, or two of them with a slash (1650/1655)"


def read_date(text: str) -> DateSpan | Fault:
    """Read a date or a span of dates as decimal years.

    Parameters
    ----------
    text : str
        Year, year-month, year-month-day, or two of them with a slash.
    """
    parts = [part.strip() for part in text.split("/")]
    if len(parts) > 2:
        return Fault(expected=_EXPECTED, mend="Write the year first, with hyphens: year-month-day.")
    spans: list[tuple[float, float]] = []
    for part in parts:
        span = _one_date(part)
        if isinstance(span, Fault):
            return span
        spans.append(span)
    earliest, latest = spans[0][0], spans[-1][1]
    if spans[0][0] > spans[-1][0]:
        return Fault(expected=_EXPECTED, mend=f"Write the earlier date first: {_swapped(parts)}.")
    return DateSpan(earliest=earliest, latest=latest, text=text)


def _swapped(parts: list[str]) -> str:
    return "/".join(reversed(parts))


def _one_date(text: str) -> tuple[float, float] | Fault:
    match = _DATE.fullmatch(text)
    if match is None:
        return Fault(
            expected=_EXPECTED,
            mend="Write all four digits of the year, and words such as 'about' as a span of years.",
        )
    year, month, day = int(match[1]), match[2], match[3]
    if year == 0:
        return Fault(expected=_EXPECTED, mend="There is no year 0000.")
    if month is None:
        return float(year), float(year + 1)
    if not 1 <= int(month) <= 12:
        return Fault(expected=_EXPECTED, mend=f"There is no month {month}.")
    days_in_month = calendar.monthrange(year, int(month))[1]
    first = 1 if day is None else int(day)
    if not 1 <= first <= days_in_month:
        return Fault(
            expected=_EXPECTED,
            mend=f"Month {match[1]}-{month} has no day {day}, only {days_in_month}.",
        )
    last = days_in_month if day is None else first
    return _decimal_year(year, int(month), first - 1), _decimal_year(year, int(month), last)


def _decimal_year(year: int, month: int, days_gone: int) -> float:
    before = sum(calendar.monthrange(year, earlier)[1] for earlier in range(1, month))
    return year + (before + days_gone) / (366 if calendar.isleap(year) else 365)
