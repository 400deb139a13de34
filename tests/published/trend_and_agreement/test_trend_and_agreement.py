import json
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest
import statsmodels.datasets.nile
from scipy.stats import kendalltau, theilslopes
from statsmodels.stats.inter_rater import cohens_kappa

from bonewright.testimony.agreement import weighted_kappa
from bonewright.testimony.change_point import formula_p, pettitt_statistic
from bonewright.testimony.trend import kendall_statistic, slope_interval

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def as_printed(printed: str) -> object:
    digits, _, power = printed.partition("e")
    places = len(digits.partition(".")[2]) - int(power or 0)
    return pytest.approx(float(printed), abs=0.5 * 10.0**-places)


def nile() -> tuple[np.ndarray, np.ndarray]:
    table = statsmodels.datasets.nile.load_pandas().data
    return table["year"].to_numpy(dtype=float), table["volume"].to_numpy(dtype=float)


def reference(name: str) -> dict[str, object]:
    beside = Path(__file__).resolve().parents[4] / "shared" / "reference"
    folder = Path(os.environ.get("BONEWRIGHT_REFERENCE", beside))
    path = folder / "line_fits_and_trends.json"
    if not path.is_file():
        pytest.skip("the folder of reference values is not beside the repository")
    values: dict[str, object] = json.loads(path.read_text(encoding="utf-8"))[name]
    return values


def test_the_flow_of_the_nile_falls_as_mann_kendall_and_sen_say() -> None:
    row = SOURCE["nile"]
    kendall = kendall_statistic(*nile())
    assert kendall.s == as_printed(row["s"])
    assert kendall.variance == as_printed(row["variance"])
    assert kendall.z == as_printed(row["z"])
    assert kendall.p == as_printed(row["p"])
    assert kendall.tau_b == as_printed(row["tau_b"])
    low, slope, high = slope_interval(*nile())
    assert slope == as_printed(row["sens_slope"])
    assert (low, high) == (as_printed(row["sens_low"]), as_printed(row["sens_high"]))


def test_the_example_worked_by_hand_comes_out_with_its_tie() -> None:
    row = SOURCE["by_hand"]
    values = np.array(row["values"])
    kendall = kendall_statistic(np.arange(14.0), values)
    assert kendall.s == as_printed(row["s"])
    assert kendall.variance == as_printed(row["variance"])
    assert kendall.z == as_printed(row["z"])


def test_twelve_uneven_years_of_the_nile_agree_with_r() -> None:
    known = reference("nile_uneven12")
    years, flow = (np.array(known[name], dtype=float) for name in ("year", "y"))
    assert kendall_statistic(years, flow).tau_b == pytest.approx(known["kendall_tau"], rel=1e-12)
    assert slope_interval(years, flow)[1] == pytest.approx(known["theil_sen"], rel=1e-12)
    statistic, before = pettitt_statistic(flow)
    assert (statistic, before) == (known["pettitt_U"], known["pettitt_index"])
    assert formula_p(statistic, 12) == pytest.approx(known["pettitt_p"], rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_tau_and_slope_agree_with_scipy_with_ties_in_time_and_score(seed: int) -> None:
    rng = np.random.default_rng(seed)
    times, values = rng.integers(1640, 1660, 30) * 1.0, rng.integers(2, 11, 30) / 2
    assert kendall_statistic(times, values).tau_b == pytest.approx(
        kendalltau(times, values).statistic, rel=1e-12
    )
    # scipy leaves pairs of one time out as well.
    ours = slope_interval(times, values)[1]
    assert ours == pytest.approx(theilslopes(values, times).slope, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_weighted_kappa_agrees_with_statsmodels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    first = rng.integers(1, 6, 40)
    second = np.clip(first + rng.integers(-1, 2, 40), 1, 5)
    table = np.zeros((5, 5))
    np.add.at(table, (first - 1, second - 1), 1)
    known = cohens_kappa(table, wt="quadratic", return_results=True).kappa
    assert weighted_kappa(first * 1.0, second * 1.0) == pytest.approx(known, rel=1e-12)
