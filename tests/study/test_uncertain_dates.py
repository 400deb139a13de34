"""Dates of the Extended Date/Time Format, by the examples of its specification and by hand."""

import pytest

from bonewright.study.dates import read_date
from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan


def span(text: str) -> tuple[float, float]:
    found = read_date(text)
    assert isinstance(found, DateSpan), found
    assert found.text == text
    return found.earliest, found.latest


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("1650", 1650, 1651),
        ("1650-01", 1650, 1650 + 31 / 365),
        ("1652-02-29", 1652 + 59 / 366, 1652 + 60 / 366),
        ("1650/1655", 1650, 1656),
        ("1650?", 1650, 1651),
        ("1650~", 1645, 1656),
        ("1650%", 1645, 1656),
        ("1650-01~", 1649.5, 1650.5 + 31 / 365),
        ("165X", 1650, 1660),
        ("16XX", 1600, 1700),
        ("165X~", 1645, 1665),
        ("1650-XX", 1650, 1651),
        ("1650-01-XX", 1650, 1650 + 31 / 365),
        ("1650~/1652", 1645, 1653),
        ("1650/1652~", 1650, 1658),
        ("[1650,1655]", 1650, 1656),
        ("[1650..1655]", 1650, 1656),
        ("1651-25", 1651 + 59 / 365, 1651 + 151 / 365),
        ("1651-30", 1651 + 334 / 365, 1652 + 60 / 366),
        ("1651-36", 1651 + 273 / 365, 1652),
        ("1651-41", 1651 + 181 / 365, 1652),
    ],
)
def test_a_date_is_the_whole_time_it_leaves_open(text: str, earliest: float, latest: float) -> None:
    assert span(text) == (pytest.approx(earliest), pytest.approx(latest))


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("1650-21", "hemisphere"),
        ("1650/..", "open end"),
        ("../1650", "open end"),
        ("1700-02-29", "28"),
        ("about 1650", "1650~"),
        ("1655/1650", "earlier date first"),
        ("1650~?", "One sign|one sign"),
        ("1650-13", "no month 13"),
        ("0000", "0000"),
        ("{1650,1651}", "four digits"),
        ("1650/1651/1652", "year-month-day"),
    ],
)
def test_a_date_that_cannot_be_read_says_how_to_write_it(text: str, hint: str) -> None:
    found = read_date(text)
    assert isinstance(found, Fault)
    assert any(word in found.mend for word in hint.split("|"))
