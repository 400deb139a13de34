import csv
import json
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest
from palmerpenguins import load_penguins

from bonewright.relatives.symmetric_lines import common_slope, fit_symmetric_line

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
REPOSITORY = Path(__file__).parents[3]
REFERENCE = Path(os.environ.get("BONEWRIGHT_REFERENCE", REPOSITORY.parent / "shared/reference"))
RELATIVE = SOURCE["tolerance"]["relative"]


def penguins():
    table = load_penguins().dropna(subset=["flipper_length_mm", "body_mass_g"])
    return [
        (
            np.log10(group["flipper_length_mm"].to_numpy(float)),
            np.log10(group["body_mass_g"].to_numpy(float)),
        )
        for _, group in table.groupby("species")
    ]


def agrees(line, given, prefix=""):
    assert line.slope == pytest.approx(given[prefix + "slope"], rel=RELATIVE)
    limits = (line.slope_low, line.slope_high)
    assert limits == pytest.approx(tuple(given[prefix + "slope_limits"]), rel=RELATIVE)
    assert line.elevation == pytest.approx(given[prefix + "elevation"], rel=RELATIVE)
    limits = (line.elevation_low, line.elevation_high)
    assert limits == pytest.approx(tuple(given[prefix + "elevation_limits"]), rel=RELATIVE)


def test_both_axes_of_the_penguins_agree_with_their_limits():
    x, y = (np.concatenate(parts) for parts in zip(*penguins(), strict=True))
    given = SOURCE["penguins_log10"]
    line = fit_symmetric_line(x, y)
    agrees(line, given)
    assert line.r_squared == pytest.approx(given["r_squared"], rel=RELATIVE)
    agrees(fit_symmetric_line(x, y, axis="major axis"), given, "major_axis_")


def test_the_common_slope_of_three_penguins_agrees():
    given = SOURCE["penguins_common_slope"]
    found = common_slope(tuple(penguins()))
    assert found.slope == pytest.approx(given["slope"], rel=SOURCE["tolerance"]["common_slope"])
    assert found.statistic == pytest.approx(given["statistic"], rel=1e-7)
    assert found.p_value == pytest.approx(given["p_value"], rel=1e-7)
    assert found.degrees_of_freedom == given["degrees_of_freedom"]
    assert (found.low, found.high) == pytest.approx(
        tuple(given["limits"]), rel=SOURCE["tolerance"]["common_slope_limits"]
    )


@pytest.mark.skipif(
    not (REFERENCE / "line_fits_and_trends.json").exists(),
    reason="the reference folder (BONEWRIGHT_REFERENCE) is not on this machine",
)
@pytest.mark.parametrize(("table", "key"), SOURCE["files"].items())
@pytest.mark.parametrize(
    ("axis", "name"), [("standardised major axis", "sma_smatr"), ("major axis", "ma_smatr")]
)
def test_brain_on_body_mass_agrees_with_its_limits(table, key, axis, name):
    fits = json.loads((REFERENCE / "line_fits_and_trends.json").read_text(encoding="utf-8"))
    given = fits[key][name]
    with (REFERENCE / "data" / f"{table}.csv").open(encoding="utf-8") as opened:
        rows = list(csv.DictReader(opened))
    body, brain = (np.log10([float(row[name]) for row in rows]) for name in ("body", "brain"))
    line = fit_symmetric_line(body, brain, axis=axis)
    agrees(
        line,
        {
            "slope": given["slope"],
            "slope_limits": given["slope_ci"],
            "elevation": given["elevation"],
            "elevation_limits": given["elevation_ci"],
        },
    )
    assert line.r_squared == pytest.approx(given["r2"], rel=RELATIVE)
