from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bonewright.study.cells import DecimalMark, bare, cell_reader, decimal_mark, read_number
from bonewright.study.columns import Column
from bonewright.study.dates import read_date
from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan

NUMBER = Column(name="n", title="N", description="A number.", kind="number")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_comes_back_as_it_was_written(value: float) -> None:
    assert read_number(repr(value), ".") == value
    assert read_number(repr(value).replace(".", ","), ",") == value


@given(st.text())
def test_no_text_gives_anything_but_a_finite_number_or_a_fault(text: str) -> None:
    for mark in (".", ",", None):
        value = read_number(bare(text), mark)
        assert isinstance(value, Fault) or abs(value) < float("inf")


@pytest.mark.parametrize(
    "text",
    ["nan", "inf", "-inf", "1e999", "1_000", "0x10", "١٢", "1 234", "1.234,5", "12 mm", "1/2"],
)
def test_what_is_no_plain_number_is_refused(text: str) -> None:
    assert isinstance(read_number(text, "."), Fault)


def test_a_number_with_its_unit_is_told_where_the_unit_belongs() -> None:
    fault = read_number("12.5 mm", ".")
    assert isinstance(fault, Fault)
    assert "12.5" in fault.mend
    assert "mm" in fault.mend


@pytest.mark.parametrize(
    ("cells", "delimiter", "mark"),
    [
        (["12.5", "1"], ",", "."),
        (["12,5", "1"], ",", ","),
        (["1,234"], ",", "."),
        (["12,5"], ";", ","),
        (["12.5"], ";", "."),
        (["1.234"], ";", ","),
        (["12,5"], "\t", ","),
        (["12.5"], "\t", "."),
        (["1.234"], "\t", None),
        (["1,234"], "\t", None),
        (["12", "13"], "\t", "."),
        (["12.5", "13.5", "1,234"], ",", "."),
        (["12,5", "13,5", "1.234"], ";", ","),
    ],
)
def test_the_decimal_mark_is_decided_for_the_whole_file(
    cells: list[str], delimiter: str, mark: str | None
) -> None:
    assert decimal_mark(cells, delimiter) == mark


def test_a_number_that_could_be_read_two_ways_is_refused_with_both_ways_named() -> None:
    fault = read_number("1,234", ".")
    assert isinstance(fault, Fault)
    assert "1.234" in fault.mend
    assert "1234" in fault.mend


@given(st.sampled_from(["\u00a0", "\u202f", " ", "\t", "\u200b", "\ufeff"]))
def test_spaces_of_every_sort_around_a_cell_are_stripped(space: str) -> None:
    assert bare(f"{space}12.5{space}") == "12.5"


def test_bounds_are_kept_and_an_exclusive_bound_is_barred_itself() -> None:
    above = cell_reader(replace(NUMBER, minimum=0.0, exclusive=True), ".")
    assert isinstance(above("0"), Fault)
    assert isinstance(above("-1"), Fault)
    assert above("0.001") == 0.001
    between = cell_reader(replace(NUMBER, minimum=1.0, maximum=5.0), ".")
    assert between("5") == 5.0
    assert isinstance(between("5.01"), Fault)


def test_a_whole_number_may_not_have_decimals() -> None:
    read = cell_reader(replace(NUMBER, kind="integer", minimum=1.0), ".")
    assert read("12") == 12
    assert isinstance(read("12.5"), Fault)
    assert isinstance(read("0"), Fault)


def test_choices_ignore_capitals_and_spaces_and_suggest_the_nearest() -> None:
    column = replace(NUMBER, kind="choice", choices=("dead specimen", "life"))
    read = cell_reader(column, ".")
    assert read("Dead  Specimen") == "dead specimen"
    fault = read("live")
    assert isinstance(fault, Fault)
    assert "'life'" in fault.mend


def test_codes_that_differ_in_capitals_alone_must_be_written_exactly() -> None:
    read = cell_reader(replace(NUMBER, kind="choice", choices=("LM", "Lm", "GL")), ".")
    assert read("Lm") == "Lm"
    assert read("LM") == "LM"
    assert read("gl") == "GL"
    assert isinstance(read("lm"), Fault)


def test_formulas_are_refused_in_every_kind_of_column() -> None:
    for kind in ("text", "number", "choice", "date", "file", "unit"):
        assert isinstance(cell_reader(replace(NUMBER, kind=kind), ".")("=1+1"), Fault)


@pytest.mark.parametrize("text", ["/etc/passwd", "../x.csv", "a/../../x", "C:\\x.csv", "a//b"])
def test_a_file_outside_the_files_folder_is_refused(text: str) -> None:
    assert isinstance(cell_reader(replace(NUMBER, kind="file"), ".")(text), Fault)


def test_a_file_may_be_written_with_backslashes_or_with_the_folder_itself() -> None:
    read = cell_reader(replace(NUMBER, kind="file"), ".")
    assert read("outlines\\a.csv") == "outlines/a.csv"
    assert read("files/outlines/a.csv") == "outlines/a.csv"


def test_yes_and_no_are_read() -> None:
    read = cell_reader(replace(NUMBER, kind="yes-no"), ".")
    assert read("Yes") is True
    assert read("no") is False
    assert isinstance(read("perhaps"), Fault)


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("1650", 1650.0, 1651.0),
        ("1650/1655", 1650.0, 1656.0),
        ("1650-01", 1650.0, 1650 + 31 / 365),
        ("1652-02-29", 1652 + 59 / 366, 1652 + 60 / 366),
        ("1650-12-31", 1650 + 364 / 365, 1651.0),
        ("1650-06/1651-02", 1650 + 151 / 365, 1651 + 59 / 365),
    ],
)
def test_a_date_is_the_whole_time_it_leaves_open(text: str, earliest: float, latest: float) -> None:
    span = read_date(text)
    assert isinstance(span, DateSpan)
    assert span.earliest == pytest.approx(earliest, abs=1e-9)
    assert span.latest == pytest.approx(latest, abs=1e-9)
    assert span.text == text


@pytest.mark.parametrize(
    "text",
    [
        "1650-13",
        "1650-00",
        "1650-02-29",
        "1655/1650",
        "c. 1650",
        "1650s",
        "650",
        "14/03/1650",
        "1650/55",
        "0000",
        "",
        "1650/",
    ],
)
def test_a_date_that_does_not_exist_or_is_not_plain_is_refused(text: str) -> None:
    assert isinstance(read_date(text), Fault)


@given(st.dates())
def test_every_day_of_the_calendar_is_read_in_order(day: object) -> None:
    span = read_date(str(day))
    assert isinstance(span, DateSpan)
    assert 0 < span.latest - span.earliest < 1 / 364


@pytest.mark.parametrize(
    ("text", "mark", "instead"),
    [
        ("12,5", ".", ("12.5",)),
        ("1,234", ".", ("1.234", "1234")),
        ("1 234", ".", ("1234",)),
        ("1.234,5", ".", ("1234.5",)),
        ("1'234'567", ".", ("1234567",)),
        ("1.234,567", ",", ("1234,567",)),
        ("1,234,567", ".", ("1234567",)),
        ("12.5 mm", ".", ("12.5",)),
        ("12,5 mm", ".", ("12.5",)),
        ("12.5mm", ",", ("12,5",)),
        ("12,5 blue", ".", ("12.5",)),
        ("1:8", ".", ("8",)),
        ("l2.5", ".", ("12.5",)),
        ("n/a", ".", ("",)),
        ("about twelve", ".", ()),
    ],
)
def test_a_faulty_number_says_what_may_stand_there_instead_and_that_reads(
    text: str, mark: DecimalMark, instead: tuple[str, ...]
) -> None:
    fault = read_number(text, mark)
    assert isinstance(fault, Fault)
    assert fault.instead == instead
    assert all(isinstance(read_number(one, mark), float) for one in instead if one)
