import pytest

from bonewright.findings import Exact, Finding, HowGot, Statement
from bonewright.report.wording import (
    amount_words,
    count_words,
    counted_words,
    plural,
    raised,
    range_words,
    short_title,
    typeset,
    unit_words,
    value_words,
    year_words,
)


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (25.0, "1", "25"),
        (20000.0, "1", "20\u202f000"),
        (0.0123, "1", "0.0123"),
        (0.0000012, "1", "below 0.001"),
        (170.25, "mm", "170 mm"),
        (300.4, "mm3", "300 mm³"),
    ],
)
def test_numbers_without_an_interval_keep_three_digits(value: float, unit: str, words: str) -> None:
    assert amount_words(value, unit) == words


def test_units_are_written_as_print_has_them() -> None:
    assert unit_words("GPa^-1") == "GPa⁻¹"
    assert unit_words("1") == ""
    assert unit_words("kg") == "kg"


def test_a_range_keeps_the_digits_its_width_deserves() -> None:
    assert range_words(8.8, 25.1) == "9 to 25"


def test_counts_and_years_are_whole() -> None:
    assert plural(1, "bone") == "1 bone"
    assert plural(3, "bone") == "3 bones"
    assert plural(2, "species", many="species") == "2 species"
    assert count_words(1234567) == "1\u202f234\u202f567"
    assert year_words(1686.97) == "1686"


@pytest.mark.parametrize(
    ("count", "things", "words"),
    [
        (1, "lines of evidence", "1 line of evidence"),
        (3, "lines of evidence", "3 lines of evidence"),
        (1, "degrees of freedom", "1 degree of freedom"),
        (1, "runner species", "1 runner species"),
        (1, "independent pictures", "1 independent picture"),
        (1, "bodies", "1 body"),
        (1200, "rows", "1\u202f200 rows"),
    ],
)
def test_what_a_number_rests_on_agrees_with_its_count(count: int, things: str, words: str) -> None:
    assert counted_words(count, things) == words


def test_a_title_is_cut_so_that_the_bone_can_still_be_told() -> None:
    title = "Leg bones: femur, breadth of the upper end (Bp)"
    assert short_title(title, letters=60) == title
    assert short_title(title, letters=36) == "Leg bones: femur (Bp)"
    assert short_title("Published: beasts (two legs for four) (femur CD)", letters=40).endswith(
        "(femur CD)"
    )
    assert short_title("a very long title of a drawing indeed", letters=20).endswith(" …")


def test_a_finding_in_words_is_its_words() -> None:
    how = HowGot(formula="said")
    said = Finding(key="a.b", step="a", title="t", value=Statement(text="It ran."), how=how)
    counted = Finding(
        key="a.c",
        step="a",
        title="t",
        value=Exact(value=3.0, unit="1", why_no_interval="a count"),
        how=how,
    )
    assert value_words(said) == "It ran."
    assert value_words(counted) == "3"


def test_powers_typed_on_one_line_are_raised() -> None:
    assert raised("tau^2, V^-1, x^(3)") == "tau², V⁻¹, x³"
    assert raised("mass^(-1/3)") == "mass^(-1/3)"


def test_a_line_is_set_with_true_minus_signs_and_units_tied_to_their_numbers() -> None:
    assert typeset("0 % (-20 to 20)") == "0\u00a0% (−20 to 20)"
    assert typeset("about 16 kg (13 to 19), n = 8, p = 0.51") == (
        "about 16\u00a0kg (13 to 19), n\u00a0=\u00a08, p\u00a0=\u00a00.51"
    )


def test_dates_names_and_powers_are_set_as_they_were_typed() -> None:
    for typed in ("1652-08-14", "pic-14 and bone-3", "GPa^-1", "16 gates", "5 kgs", "a-3"):
        assert typeset(typed) == typed
