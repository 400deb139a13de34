import tomllib
from pathlib import Path

import pytest

from bonewright.workshop.cut_list import cut_plan

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def test_the_paper_mills_order_is_cut_from_the_fewest_rolls() -> None:
    pieces = [
        (width, float(width))
        for width, count in zip(SOURCE["widths_mm"], SOURCE["wanted"], strict=True)
        for _ in range(int(count))
    ]
    plan = cut_plan(pieces, [float(SOURCE["roll_mm"])], saw_cut_mm=0.0)
    assert len(plan.bars) == int(SOURCE["fewest_rolls"])
    assert plan.best
    assert plan.waste_percent == pytest.approx(float(SOURCE["waste_percent"]), abs=5e-4)
