"""The demo can be built, and its finished study model gives its two faults away."""

import pytest

from bonewright.pipeline import Run
from bonewright.workshop.build_plan import build_plan
from bonewright.workshop.order_list import order_csv
from bonewright.workshop.shaping import figure_to_build


def test_the_study_models_long_foot_and_full_belly_are_found_and_nothing_else(run: Run) -> None:
    assert run.body is not None
    left = {
        check.measurement.measure
        for check in run.body.models
        if check.judgement in ("left the bones", "unknown")
    }
    assert left == {"left ankle to left middle toe joint", "girth of the trunk at hoop 4"}


@pytest.mark.parametrize(("scale", "layer"), [(4.0, "naked"), (1.0, "feathered")])
def test_the_demo_can_be_built(run: Run, scale: float, layer: str) -> None:
    figure = figure_to_build(run, scale_denominator=scale, state="mean", layer=layer)
    plan = build_plan(run, figure)
    assert plan.figure.invented
    for bar in plan.armature.bars:
        assert bar.stress.value <= bar.allowed_mpa
    assert all(cut.best for cut in plan.cuts.values())
    cut = sum(len(bar.pieces) for cut in plan.cuts.values() for bar in cut.bars)
    assert cut == sum(len(bar.pieces) for bar in plan.armature.bars)
    assert plan.standing.least_tilt.value >= 10
    assert bool(plan.materials.feathers) == (layer == "feathered")
    assert plan.body.layer == "naked"
    assert len(order_csv(plan.order).splitlines()) == len(plan.order) + 1
    assert len({line.item for line in plan.order}) == len(plan.order)
    assert {line.measure for line in plan.card} >= {"left knee to left ankle", "height over all"}
