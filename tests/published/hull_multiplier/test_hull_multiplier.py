import tomllib
from pathlib import Path

import pytest

from bonewright.body.scans import HULL_MULTIPLIER
from bonewright.literature import PUBLICATIONS

MAMMALS = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))[
    "mammals"
]


def test_multiplier_is_that_of_the_paper_and_its_range_holds_both_readings_of_it() -> None:
    middle, low, high = HULL_MULTIPLIER
    short = float(MAMMALS["hull_falls_short_percent"]) / 100
    assert middle == pytest.approx(float(MAMMALS["multiplier"]), abs=0.005)
    assert middle == pytest.approx(1 + short, abs=0.005)
    assert low < middle < 1 / (1 - short) < high
    assert "Sellers2012" in PUBLICATIONS
