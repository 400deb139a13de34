import tomllib
from pathlib import Path

import numpy as np
import pytest
import statsmodels.datasets.nile

from bonewright.study.model import DateSpan
from bonewright.testimony.change_point import find_change, formula_p, pettitt_statistic

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def as_printed(printed: str) -> object:
    digits, _, power = printed.partition("e")
    places = len(digits.partition(".")[2]) - int(power or 0)
    return pytest.approx(float(printed), abs=0.5 * 10.0**-places)


def nile() -> tuple[np.ndarray, np.ndarray]:
    table = statsmodels.datasets.nile.load_pandas().data
    return table["year"].to_numpy(dtype=float), table["volume"].to_numpy(dtype=float)


def test_the_flow_of_the_nile_changes_after_1898() -> None:
    years, flow = nile()
    row = SOURCE["nile"]
    assert (flow.sum(), len(flow)) == (row["sum"], row["n"])
    statistic, before = pettitt_statistic(flow)
    assert statistic == as_printed(row["statistic"])
    assert before == row["years_before"]
    assert (years[before - 1], years[before]) == (row["last_year_before"], row["first_year_after"])
    assert formula_p(statistic, len(flow)) == as_printed(row["p"])


def test_the_whole_test_finds_the_change_in_the_flow_of_the_nile() -> None:
    years, flow = nile()
    row = SOURCE["nile"]
    change = find_change(
        flow,
        tuple(DateSpan(earliest=year, latest=year, text=f"{year:.0f}") for year in years),
        with_copies=False,
        rng=np.random.default_rng(1),
    )
    assert (change.last_before, change.first_after) == (
        row["last_year_before"],
        row["first_year_after"],
    )
    assert change.mean_before == as_printed(row["mean_before"])
    assert change.mean_after == as_printed(row["mean_after"])
    # None of 9,999 random orders divides as well.
    assert change.p_permutation == pytest.approx(1e-4)


def test_the_formula_gives_the_p_printed_for_pages_data() -> None:
    row = SOURCE["page_1955"]
    assert formula_p(float(row["statistic"]), row["n"]) == as_printed(row["p"])
