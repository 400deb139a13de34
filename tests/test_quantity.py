import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bonewright.quantity import Summary, format_amount, format_interval

SIZES = st.floats(min_value=1e-6, max_value=1e6)
SIGNS = st.sampled_from([-1.0, 1.0])


def a_summary(median: float, low: float, high: float) -> Summary:
    return Summary(
        median=median,
        mean=median,
        sd=1.0,
        interval50=(median, median),
        interval95=(low, high),
    )


def as_number(written: str) -> float:
    return float(written.replace("\u202f", ""))


@given(size=SIZES, sign=SIGNS, share=st.floats(min_value=1e-4, max_value=19.0))
def test_writing_a_number_moves_it_by_a_twentieth_at_most(
    size: float, sign: float, share: float
) -> None:
    value = sign * size
    written = as_number(format_amount(value, spread=size * share))
    assert math.isclose(written, value, rel_tol=0.05 + 1e-9)


@given(
    middle=SIZES,
    below=st.floats(min_value=1e-3, max_value=0.999),
    above=st.floats(min_value=1e-3, max_value=10.0),
)
def test_the_middle_of_an_interval_moves_by_a_twentieth_at_most(
    middle: float, below: float, above: float
) -> None:
    words = format_interval(a_summary(middle, middle * (1 - below), middle * (1 + above)), "kg")
    written = words.removeprefix("about ").partition(" kg")[0]
    assert math.isclose(as_number(written), middle, rel_tol=0.05 + 1e-9)


@given(value=SIZES, sign=SIGNS, spread=SIZES)
def test_no_number_is_written_as_less_than_nothing_at_all(
    value: float, sign: float, spread: float
) -> None:
    written = format_amount(sign * value, spread=spread)
    assert not (written.startswith("-") and as_number(written) == 0)


@given(value=SIZES, spread=SIZES)
def test_digits_below_a_fiftieth_of_the_spread_are_not_written(value: float, spread: float) -> None:
    assume(value > spread)
    digits = format_amount(value, spread=spread).partition(".")[2]
    assert not digits or 10.0 ** -len(digits) >= spread / 500


@pytest.mark.parametrize(
    ("median", "low", "high", "words"),
    [
        (21.3, 17.2, 26.4, "about 21 kg (17 to 26)"),
        (4.49, 3.1, 7.2, "about 4.5 kg (3.1 to 7.2)"),
        (16.2, 13.1, 20.3, "about 16 kg (13 to 20)"),
        (0.0, -0.12, 0.13, "about 0 kg (-0.1 to 0.1)"),
        (0.0003, -1.2, 1.3, "about 0 kg (-1.2 to 1.3)"),
        (1234.0, 1004.0, 1502.0, "about 1\u202f200 kg (1\u202f000 to 1\u202f500)"),
    ],
)
def test_an_interval_reads_as_a_person_would_say_it(
    median: float, low: float, high: float, words: str
) -> None:
    assert format_interval(a_summary(median, low, high), "kg") == words
