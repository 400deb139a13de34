"""A finished model is held against the figure and the bones, at its own scale."""

import numpy as np
import pytest

from bonewright.body.finished_models import Workmanship, check_models, measures_of
from bonewright.body.grown import GrownBody
from bonewright.findings import Quantity, RowRef, Statement
from bonewright.study.workshop_rows import ModelMeasurement

BENCH = Workmanship(share=0.01, least_mm=0.5)
NOBODY: frozenset[tuple[str, str]] = frozenset()


def measured(
    measure: str, value: float, *, name: str = "mm-01", scale: float = 4.0
) -> ModelMeasurement:
    return ModelMeasurement(
        ref=RowRef(table="model_measurements", row=2, row_id=name),
        model_id="model-1",
        measure=measure,
        state="mean",
        layer="naked",
        scale_denominator=scale,
        value_mm=value,
    )


def judged(bird: GrownBody, *rows: ModelMeasurement) -> list[str]:
    checks, _ = check_models(bird, rows, workmanship=BENCH, set_aside=NOBODY)
    return [check.judgement for check in checks]


def test_a_shank_is_as_long_as_its_bone_at_scale(bird: GrownBody) -> None:
    measures = measures_of(bird, state="mean", layer="naked")
    shank = measures["left knee to left ankle"]
    bone = float(np.mean(bird.lofts["shank"].length_mm))
    assert shank.figure_mm == pytest.approx(bone)
    assert float(np.std(shank.draws_mm) / np.mean(shank.draws_mm)) == pytest.approx(
        float(np.std(bird.lofts["shank"].length_mm)) / bone, rel=0.02
    )


def test_height_and_girth_are_those_of_the_body(bird: GrownBody) -> None:
    measures = measures_of(bird, state="mean", layer="naked")
    assert measures["height over all"].figure_mm == pytest.approx(
        1000 * float(np.median(bird.height_m)), rel=0.02
    )
    # The trunk's widest hoop lies at 70 % and is nearly an ellipse: Ramanujan's way around it,
    # half above and half below the axis.
    loft = bird.lofts["trunk"]
    across, up, down = (
        float(np.mean(x[:, 4])) for x in (loft.half_width_mm, loft.dorsal_mm, loft.ventral_mm)
    )

    def half(a: float, b: float) -> float:
        return float(np.pi / 2 * (3 * (a + b) - np.sqrt((3 * a + b) * (a + 3 * b))))

    girth = measures["girth of the trunk at hoop 4"].figure_mm
    assert girth == pytest.approx(half(across, up) + half(across, down), rel=0.05)


def test_measures_within_the_bench_the_bones_and_beyond_are_told_apart(bird: GrownBody) -> None:
    name = "left knee to left ankle"
    shank = measures_of(bird, state="mean", layer="naked")[name]
    built, high = shank.figure_mm / 4, float(np.quantile(shank.draws_mm, 0.975)) / 4
    exact = Workmanship(share=0.0, least_mm=0.1)
    rows = [
        measured(name, value)
        for value in (built + 0.05, (built + high) / 2, high + 0.05, high + 0.15, 0.9 * built)
    ]
    checks, _ = check_models(bird, rows, workmanship=exact, set_aside=NOBODY)
    assert [check.judgement for check in checks] == [
        "met",
        "within the bones",
        "off the figure",
        "left the bones",
        "left the bones",
    ]
    assert checks[3].beyond_mm == pytest.approx(0.05)


def test_the_findings_say_where_the_model_left_the_bones(bird: GrownBody) -> None:
    built = measures_of(bird, state="mean", layer="naked")["left knee to left ankle"].figure_mm
    row = measured("left knee to left ankle", 1.1 * built / 4)
    (check,), findings = check_models(bird, [row], workmanship=BENCH, set_aside=NOBODY)
    by_key = {finding.key: finding for finding in findings}
    summary = by_key["body.models.model-1"].value
    assert isinstance(summary, Statement)
    assert "10 % too large" in summary.text
    assert check.beyond_mm > 0
    expected = by_key["body.model.mm-01.expected"].value
    assert isinstance(expected, Quantity)
    assert float(np.median(expected.draws)) == pytest.approx(built / 4)


def test_a_model_at_another_scale_is_held_against_its_own(bird: GrownBody) -> None:
    name = "left hip to left knee"
    life = measures_of(bird, state="mean", layer="naked")[name].figure_mm
    assert judged(bird, measured(name, life, scale=1), measured(name, life / 10, scale=10)) == [
        "met",
        "met",
    ]


def test_a_measure_nobody_knows_is_not_judged_and_the_likeliest_is_offered(bird: GrownBody) -> None:
    row = measured("left knee to left ankel", 60.0)
    (check,), findings = check_models(bird, [row], workmanship=BENCH, set_aside=NOBODY)
    assert check.judgement == "unknown"
    assert "left knee to left ankle" in check.words
    assert len(findings) == 2


def test_a_row_set_aside_is_not_heard(bird: GrownBody) -> None:
    row = measured("left hip to left knee", 1.0)
    checks, findings = check_models(
        bird,
        [row],
        workmanship=BENCH,
        set_aside=frozenset({("model_measurements", "mm-01")}),
    )
    assert checks == ()
    assert findings == ()


def caveats_of(bird: GrownBody, *rows: ModelMeasurement) -> dict[str, set[str]]:
    _, findings = check_models(bird, rows, workmanship=BENCH, set_aside=NOBODY)
    return {finding.key: {caveat.code for caveat in finding.caveats} for finding in findings}


def test_a_measure_entered_at_another_scale_than_its_model_is_told_of(bird: GrownBody) -> None:
    shank = measures_of(bird, state="mean", layer="naked")["left knee to left ankle"].figure_mm
    rows = [
        measured("left knee to left ankle", shank / 4, name=f"mm-0{n}", scale=scale)
        for n, scale in enumerate((4.0, 4.0, 0.4))
    ]
    told = caveats_of(bird, *rows)
    assert told["body.model.mm-02"] == {"another scale", "slip suspected"}
    assert told["body.model.mm-02.expected"] == told["body.model.mm-02"]
    assert told["body.model.mm-00"] == set()


def test_a_tape_read_in_inches_is_suspected_and_a_fault_of_the_hand_is_not(
    bird: GrownBody,
) -> None:
    shank = measures_of(bird, state="mean", layer="naked")["left knee to left ankle"].figure_mm
    for factor, codes in ((1 / 25.4, {"slip suspected"}), (1.3, set())):
        told = caveats_of(bird, measured("left knee to left ankle", factor * shank / 4))
        assert told["body.model.mm-01"] == codes
