"""The numbers at once are those of a whole run with the choice written down."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from bonewright.body.silhouettes import Outline, shadow_of_hoops
from bonewright.errors import BonewrightError, OutsideRange
from bonewright.other_body import middle_body, tissues_used
from bonewright.pipeline import Run, run_study
from bonewright.quantity import Summary
from bonewright.remembering import StepMemory
from bonewright.study.load import load_study
from bonewright.study.model import Study
from bonewright.study.settings import Choices, RangeChoice
from bonewright.what_if import Answer, Asked, Bench

DEMO = Path(__file__).parents[2] / "demo"
N_DRAWS = 1500


@pytest.fixture(scope="module")
def study() -> Study:
    found = load_study(DEMO)
    draws = found.settings.draws.model_copy(update={"count": N_DRAWS})
    return replace(found, settings=found.settings.model_copy(update={"draws": draws}))


@pytest.fixture(scope="module")
def memory() -> StepMemory:
    return StepMemory(answers_a_step=8)


@pytest.fixture(scope="module")
def run(study: Study, memory: StepMemory) -> Run:
    return run_study(study, memory=memory)


def _moved(choices: Choices, name: str, by: float) -> RangeChoice:
    was: RangeChoice = getattr(choices, name)
    return was.model_copy(
        update={"value": was.value + by, "low": was.low + by, "high": was.high + by}
    )


def _written(study: Study, asked: Asked, memory: StepMemory) -> Run:
    """Run the study with the choices written down."""
    moved = {tissue.tissue for tissue in asked.tissues}
    others = tuple(tissue for tissue in study.tissues if tissue.tissue not in moved)
    study = replace(study, tissues=(*others, *asked.tissues))
    settings = study.settings
    choices = settings.choices.model_copy(update=dict(asked.ranges))
    tree = settings.tree
    if asked.stem_age is not None and tree is not None:
        tree = tree.model_copy(update={"stem_age": asked.stem_age})
    settings = settings.model_copy(update={"choices": choices, "tree": tree})
    return run_study(replace(study, settings=settings), memory=memory)


def _summaries(answers: tuple[Answer, ...]) -> dict[str, Summary | float | None]:
    return {one.key: one.summary if one.summary is not None else one.exact for one in answers}


def test_with_nothing_moved_the_numbers_are_those_of_the_run(run: Run) -> None:
    told = _summaries(Bench(run).answers(Asked()))
    by_key = {finding.key: finding for finding in run.findings}
    for key in ("judgement.mass", "relatives.mass.joint", "movement.indicator.femur"):
        assert told[key] == by_key[key].value.summary()  # type: ignore[union-attr]
    assert run.movement is not None
    assert told["movement.could_run"] == 100 * run.movement.share_inside


@pytest.mark.parametrize(
    ("name", "by"),
    [
        ("fat_mean_percent", 6.0),
        ("body_density", 0.06),
        ("femur_angle", 12.0),
        ("tarsometatarsus_angle", -8.0),
    ],
)
def test_a_moved_choice_gives_what_a_whole_run_with_it_gives(
    study: Study, run: Run, memory: StepMemory, name: str, by: float
) -> None:
    asked = Asked(ranges={name: _moved(study.settings.choices, name, by)})
    told = _summaries(Bench(run).answers(asked))
    whole = _summaries(Bench(_written(study, asked, memory)).answers(Asked()))
    assert told.keys() == whole.keys()
    for key, summary in whole.items():
        found = told[key]
        if isinstance(summary, Summary):
            assert isinstance(found, Summary)
            expected = (summary.median, summary.mean, summary.sd, *summary.interval95)
            got = (found.median, found.mean, found.sd, *found.interval95)
            np.testing.assert_allclose(got, expected, rtol=1e-9, err_msg=key)
        else:
            assert found == pytest.approx(summary)
    assert told != _summaries(Bench(run).answers(Asked()))


@pytest.mark.parametrize("name", ["muscle", "fat", "skin", "bone"])
def test_a_moved_density_of_one_tissue_gives_what_a_whole_run_with_it_gives(
    study: Study, run: Run, memory: StepMemory, name: str
) -> None:
    used = tissues_used(study)[name]
    asked = Asked(
        tissues=(
            replace(
                used,
                density_kg_m3=used.density_kg_m3 + 60,
                low_kg_m3=used.low_kg_m3 + 40,
                high_kg_m3=used.high_kg_m3 + 90,
            ),
        ),
        about=frozenset({"body", "judgement"}),
    )
    bench = Bench(run)
    told = _summaries(bench.answers(asked))
    other = Bench(_written(study, asked, memory))
    whole = _summaries(other.answers(Asked(about=asked.about)))
    assert told.keys() == whole.keys()
    for key, summary in whole.items():
        found = told[key]
        assert isinstance(summary, Summary)
        assert isinstance(found, Summary)
        np.testing.assert_allclose(found.interval95, summary.interval95, rtol=1e-9, err_msg=key)
    mass, before = (
        _summaries(answers)["body.grown.mass.mean"]
        for answers in (bench.answers(asked), bench.answers(Asked(about=asked.about)))
    )
    assert isinstance(mass, Summary)
    assert isinstance(before, Summary)
    # Fat is a share of the mass: its density moves its volume alone.
    assert (mass.median == pytest.approx(before.median, rel=1e-9)) == (name == "fat")
    if name == "fat":
        # The same fat, denser, makes a smaller body.
        assert _area(bench.shadow(asked)) < _area(bench.shadow(Asked()))
        assert _area(bench.shadow(asked)) == pytest.approx(_area(other.shadow(Asked())), rel=1e-4)


def _area(outlines: tuple[Outline, ...]) -> float:
    return sum(shapely.Polygon(outline).area for outline in outlines)


def test_the_shadow_of_the_middle_world_is_that_of_the_whole_body(run: Run) -> None:
    assert run.body is not None
    assert run.body.grown is not None
    grown = run.body.grown
    middle = middle_body(grown)
    for fat_kg in (0.5, 3.0):
        whole, quick = (shadow_of_hoops(one, fat_kg=fat_kg) for one in (grown, middle))
        assert len(whole) == len(quick)
        for there, here in zip(whole, quick, strict=True):
            np.testing.assert_allclose(here, there, atol=1e-6)


def test_another_place_in_the_tree_gives_what_a_whole_run_with_it_gives(
    study: Study, run: Run, memory: StepMemory
) -> None:
    asked = Asked(stem_age=(30.0, 36.0))
    told = _summaries(Bench(run).answers(asked))
    whole = _summaries(Bench(_written(study, asked, memory)).answers(Asked()))
    for key in ("relatives.mass.joint", "judgement.mass"):
        here, there = told[key], whole[key]
        assert isinstance(here, Summary)
        assert isinstance(there, Summary)
        assert here.median == pytest.approx(there.median, rel=1e-9)
    before = _summaries(Bench(run).answers(Asked()))["relatives.mass.joint"]
    assert before != told["relatives.mass.joint"]


def test_what_is_possible_for_no_animal_is_told(run: Run, study: Study) -> None:
    bench = Bench(run)
    choices = study.settings.choices
    with pytest.raises(OutsideRange):
        bench.answers(Asked(ranges={"fat_mean_percent": _moved(choices, "fat_mean_percent", 30)}))
    with pytest.raises(OutsideRange):
        bench.answers(Asked(ranges={"body_density": _moved(choices, "body_density", 3)}))
    with pytest.raises(BonewrightError):
        bench.answers(Asked(ranges={"average": choices.body_density}))
