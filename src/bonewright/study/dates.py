"""Dates of the Extended Date/Time Format (EDTF), read as spans of decimal years.

A date is read as the whole time it leaves open: 1650 runs from the first moment of that
year to the last, 165X through the whole decade, ``[1650,1655]`` from the one to the other.
Years count in the Gregorian calendar, as ISO 8601 does; a date that a source gives in
another calendar is converted by the person, who knows which one it was.

The format leaves open how far 'about' reaches. Here ``~`` and ``%`` widen a span by five
years on either side, half a year for a month or day (common practice); ``?`` doubts the
date as a whole and widens nothing, so it is only carried along.
"""

import calendar
import re

from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan

__all__ = ["read_date"]

_Span = tuple[float, float]

_DATE = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?")
_OPEN_DIGITS = re.compile(r"[0-9]{3}X|[0-9]{2}XX")
_OPEN_MONTH = re.compile(r"([0-9]{4})-XX(?:-XX)?")
_OPEN_DAY = re.compile(r"([0-9]{4}-[0-9]{2})-XX")
_ONE_OF = re.compile(r"\[([^\[\]]+)\]")
_EXPECTED = (
    "a date: 1650, 1650-03, 1650-03-14, two of them with a slash (1650/1655), about (1650~),"
    " doubtful (1650?), a decade (165X) or century (16XX)"
)
_ABOUT_YEARS, _ABOUT_MONTH_YEARS = 5.0, 0.5
# Codes of the format for seasons that say their hemisphere, and quarters: first month, months.
_PARTS_OF_YEAR = {
    "25": (3, 3), "26": (6, 3), "27": (9, 3), "28": (12, 3),
    "29": (9, 3), "30": (12, 3), "31": (3, 3), "32": (6, 3),
    "33": (1, 3), "34": (4, 3), "35": (7, 3), "36": (10, 3),
    "37": (1, 4), "38": (5, 4), "39": (9, 4), "40": (1, 6), "41": (7, 6),
}  # fmt: skip


def read_date(text: str) -> DateSpan | Fault:
    """Read a date or a span of dates as decimal years.

    Parameters
    ----------
    text : str
        A date of EDTF level 0 or 1, a season with its hemisphere, or one of a set in
        square brackets.
    """
    one_of = _ONE_OF.fullmatch(text.strip())
    parts = re.split(r",|\.\.", one_of[1]) if one_of else text.split("/")
    parts = [part.strip() for part in parts]
    if not one_of and (len(parts) > 2 or (("" in parts or ".." in parts) and len(parts) == 2)):
        open_end = len(parts) == 2
        return Fault(
            expected=_EXPECTED,
            mend="Put a year at the open end: the earliest or latest that can be meant."
            if open_end
            else "Write the year first, with hyphens: year-month-day.",
        )
    spans: list[_Span] = []
    for part in parts:
        span = _one_date(part)
        if isinstance(span, Fault):
            return span
        spans.append(span)
    if one_of:
        return DateSpan(
            earliest=min(s[0] for s in spans), latest=max(s[1] for s in spans), text=text
        )
    earliest, latest = spans[0][0], spans[-1][1]
    if earliest >= latest:
        swapped = _swapped(parts)
        return Fault(
            expected=_EXPECTED,
            mend=f"Write the earlier date first: {swapped}.",
            instead=(swapped,),
        )
    return DateSpan(earliest=earliest, latest=latest, text=text)


def _swapped(parts: list[str]) -> str:
    return "/".join(reversed(parts))


def _one_date(text: str) -> _Span | Fault:
    bare = text.rstrip("?~%")
    if len(text) - len(bare) > 1:
        return Fault(expected=_EXPECTED, mend="Put one sign only: ~ about, ? doubtful, % both.")
    span = _span_of(bare)
    if isinstance(span, Fault) or text == bare or text.endswith("?"):
        return span
    about = _ABOUT_YEARS if "-" not in bare else _ABOUT_MONTH_YEARS
    return span[0] - about, span[1] + about


def _span_of(text: str) -> _Span | Fault:
    if _OPEN_DIGITS.fullmatch(text):
        years = 10 ** text.count("X")
        first = int(text.replace("X", "0"))
        return (float(first), float(first + years)) if first else _no_year_zero()
    if month_open := _OPEN_MONTH.fullmatch(text):
        text = month_open[1]
    if day_open := _OPEN_DAY.fullmatch(text):
        text = day_open[1]
    match = _DATE.fullmatch(text)
    if match is None:
        return Fault(
            expected=_EXPECTED,
            mend="Write all four digits of the year; 'about 1650' is 1650~, 'the 1650s' is 165X.",
        )
    year, month, day = int(match[1]), match[2], match[3]
    if year == 0:
        return _no_year_zero()
    if month is None:
        return float(year), float(year + 1)
    if day is None and month in {"21", "22", "23", "24"}:
        return Fault(
            expected=_EXPECTED,
            mend="A season needs its hemisphere: 25 to 28 are spring to winter in the north, 29"
            " to 32 spring to winter in the south.",
        )
    if day is None and month in _PARTS_OF_YEAR:
        return _part_of_year(year, *_PARTS_OF_YEAR[month])
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


def _no_year_zero() -> Fault:
    return Fault(expected=_EXPECTED, mend="There is no year 0000.")


def _part_of_year(year: int, first_month: int, months: int) -> _Span:
    """Return whole months from the first; a winter that begins in December ends next year."""
    after = first_month + months
    end = float(year + 1) if after == 13 else _decimal_year(year + after // 13, after % 12, 0)
    return _decimal_year(year, first_month, 0), end


def _decimal_year(year: int, month: int, days_gone: int) -> float:
    before = sum(calendar.monthrange(year, earlier)[1] for earlier in range(1, month))
    return year + (before + days_gone) / (366 if calendar.isleap(year) else 365)
