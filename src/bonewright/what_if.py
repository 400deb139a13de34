"""What the results would be with another choice, at once, from draws that are kept.

Moving one choice changes little of what a run computed: the bones, the relatives' lines, the
flesh without its fat all stay. What does change is taken by the same functions as in a whole
run, from the same random numbers, so that the answer is the one that a run with the choice
written into the study gives. Two things are left as they are and said so: the stance of the
grown body and where in it its mass lies, which a whole run balances anew, and for a sample of
many trees only some of them are asked.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.silhouettes import Outline, shadow_of_hoops
from bonewright.body.weighing import BodyResult
from bonewright.errors import BonewrightError
from bonewright.judgement.pooling import PooledMass, pooled_draws_kg
from bonewright.movement.legs import hip_of_legs
from bonewright.other_body import middle_body, other_body
from bonewright.pipeline import (
    Run,
    legs_step,
    lines_of_evidence,
    rows_left_out,
    stream_of,
    strength_step,
)
from bonewright.quantity import Draws, Quantity, Summary
from bonewright.relatives.in_trees import draws_on_tree, fit_on_tree, stem_limits
from bonewright.relatives.kin_and_size import KinAndSize
from bonewright.relatives.results import RelativesResult
from bonewright.remembering import NoMemory
from bonewright.study.model import Study, Tissue
from bonewright.study.recent import Recent
from bonewright.study.settings import Choices, RangeChoice

__all__ = ["Answer", "Asked", "Bench", "answers_of"]

_MOST_TREES = 6
_KEPT_SHADOWS = 200
_LEG_BONES = ("femur", "tibiotarsus", "tarsometatarsus")
_TITLES = {"lean": "when lean", "mean": "over the year", "fat": "when fat"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Other choices: ranges by their names in study.toml, densities of tissues, age of the stem."""

    ranges: Mapping[str, RangeChoice] = field(default_factory=dict)
    tissues: tuple[Tissue, ...] = ()
    stem_age: tuple[float, float] | None = None
    about: frozenset[str] = frozenset({"judgement", "body", "movement"})
    """The steps whose numbers are wanted; the pooled mass and its lines always are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One number: draws summed up, or an ``exact`` one where it has no interval.

    ``about`` is the step it belongs to, ``pooled`` whether it enters the mass.
    """

    key: str
    about: str
    title: str
    unit: str
    summary: Summary | None = None
    exact: float | None = None
    pooled: bool = False


class Bench:
    """Answers what-if questions about one whole run, keeping fits between them.

    Parameters
    ----------
    run : Run
    """

    def __init__(self, run: Run) -> None:
        self.run = run
        self._fits: dict[int, KinAndSize] = {}
        self._last_body: tuple[Asked, BodyResult | None] = (Asked(), run.body)
        self._middle: GrownBody | None = None
        self._shadows: Recent[tuple[Outline, ...]] = Recent(kept=_KEPT_SHADOWS)

    def answers(self, asked: Asked) -> tuple[Answer, ...]:
        """Return the numbers as they would be.

        Raises
        ------
        BonewrightError
            If the choices are possible for no animal.
        """
        run = self.run
        study = _with_choices(run.study, asked)
        body = self._body(asked)
        relatives = run.relatives
        if asked.stem_age is not None and relatives is not None:
            relatives = self._placed(relatives, asked.stem_age)
        pooled = run.pooled
        if pooled is not None:
            lines = lines_of_evidence(relatives, body, study.settings.choices)
            pooled = replace(
                pooled,
                lines=lines,
                mass_draws_kg=pooled_draws_kg(
                    lines,
                    heterogeneity_scale=study.settings.choices.heterogeneity_scale,
                    decisions=study.line_decisions,
                    rng=stream_of(study, "judgement"),
                ),
            )
        return answers_of(
            run, study, body=body, relatives=relatives, pooled=pooled, about=asked.about
        )

    def shadow(self, asked: Asked) -> tuple[Outline, ...]:
        """Return the grown body's shadow from the side as it would be, mm; empty without one."""
        body, written = self._body(asked), self.run.body
        if body is None or body.grown is None or written is None or written.grown is None:
            return ()
        if self._middle is None:
            self._middle = middle_body(written.grown)
        fat_m3 = float(
            np.median(body.grown.states["mean"].fat_draws_kg)
            / np.median(body.grown.lean.fat_density_kg_m3)
        )
        middle = self._middle
        fat_kg = fat_m3 * float(middle.lean.fat_density_kg_m3[0])
        return self._shadows.recall("side", fat_m3, lambda: shadow_of_hoops(middle, fat_kg=fat_kg))

    def _body(self, asked: Asked) -> BodyResult | None:
        """Return the body as it would be; numbers and shadow of one question share it."""
        was, body = self._last_body
        if (was.ranges, was.tissues) != (asked.ranges, asked.tissues):
            body = self.run.body
            if body is not None:
                choices = _with_choices(self.run.study, asked).settings.choices
                body = other_body(body, self.run.study, choices, tissues=asked.tissues)
            self._last_body = (asked, body)
        return body

    def stem_limits(self) -> tuple[float, float] | None:
        """Return between which ages the stem may be left; None where nothing can be moved."""
        joint = None if self.run.relatives is None else self.run.relatives.joint
        if joint is None or not joint.tasks:
            return None
        task = joint.tasks[0]
        if not task.place.beside or task.place.name in task.tree.tip_names:
            return None
        return stem_limits(task.tree, task.place.beside)

    def _placed(self, relatives: RelativesResult, stem_age: tuple[float, float]) -> RelativesResult:
        """Hang the lost animal elsewhere on its stem, by fits that are kept."""
        joint = relatives.joint
        if joint is None or not joint.tasks or not joint.tasks[0].place.beside:
            return relatives
        step = max(1, len(joint.tasks) // _MOST_TREES)
        asked = range(0, len(joint.tasks), step)
        mass_kg = np.array(joint.mass_draws_kg)
        for number in asked:
            task = joint.tasks[number]
            if number not in self._fits:
                self._fits[number] = fit_on_tree(task)
            moved = replace(task, place=replace(task.place, stem_age=stem_age))
            mass_kg[number :: len(joint.tasks)] = np.exp(draws_on_tree(moved, self._fits[number]))
        if step > 1:
            # The trees that were asked stand for those between them.
            told = np.concatenate([mass_kg[number :: len(joint.tasks)] for number in asked])
            mass_kg = np.quantile(told, _ranks(joint.mass_draws_kg))
        return replace(relatives, joint=replace(joint, mass_draws_kg=mass_kg))


def _ranks(draws: Draws) -> Draws:
    """Return each draw's place among the others, above 0 and below 1."""
    order = np.empty(len(draws))
    order[np.argsort(draws, kind="stable")] = np.arange(len(draws))
    return (order + 0.5) / len(draws)


def _with_choices(study: Study, asked: Asked) -> Study:
    choices = study.settings.choices
    for name in asked.ranges:
        if name not in Choices.model_fields or not isinstance(getattr(choices, name), RangeChoice):
            raise BonewrightError(f"There is no choice {name}.", remedy="Reload the page.")
    choices = choices.model_copy(update=dict(asked.ranges))
    return replace(study, settings=study.settings.model_copy(update={"choices": choices}))


def answers_of(
    run: Run,
    study: Study,
    *,
    body: BodyResult | None,
    relatives: RelativesResult | None,
    pooled: PooledMass | None,
    about: frozenset[str],
) -> tuple[Answer, ...]:
    """Return the numbers that a choice can move, from a body, relatives and a pooled mass."""
    told: list[Answer] = []
    if pooled is not None:
        told.append(
            _answer("judgement.mass", "All lines together", "kg", pooled.mass_draws_kg, pooled=True)
        )
        told += [
            _answer(line.key, line.title, "kg", line.mass_draws_kg, pooled=line.pooled)
            for line in pooled.lines
            if line.pooled or line.key.startswith("body.")
        ]
    if "body" in about and body is not None and body.grown is not None:
        told += [
            _answer(
                f"body.grown.fat.{state}",
                f"Fat of the grown body, {_TITLES[state]}",
                "kg",
                one.fat_draws_kg,
            )
            for state, one in body.grown.states.items()
        ]
    if "movement" in about:
        out = rows_left_out(study, () if relatives is None else relatives.doubts)
        told += _strength(run, study, pooled, body, out=out)
        told += _legs(run, study, pooled, body, out=out)
    return tuple(told)


def _answer(key: str, title: str, unit: str, draws: Draws, *, pooled: bool = False) -> Answer:
    summary = Quantity(draws=draws, unit=unit).summary()
    about = key.partition(".")[0]
    return Answer(key=key, about=about, title=title, unit=unit, summary=summary, pooled=pooled)


def _strength(
    run: Run,
    study: Study,
    pooled: PooledMass | None,
    body: BodyResult | None,
    *,
    out: frozenset[tuple[str, str]],
) -> list[Answer]:
    if run.movement is None or pooled is None:
        return []
    found = strength_step(study, run.sections, pooled, body, out=out, memory=NoMemory())
    comparison = study.settings.choices.comparison
    return [
        Answer(
            key="movement.could_run",
            about="movement",
            title=f"Imagined worlds in which its legs are as strong as living {comparison}s'",
            unit="%",
            exact=100 * found.share_inside,
        ),
        *(
            _answer(
                f"movement.indicator.{element}",
                f"Strength indicator of the {element}",
                "GPa^-1",
                bone.indicator_draws_per_gpa,
            )
            for element, bone in found.bones.items()
        ),
    ]


def _legs(
    run: Run,
    study: Study,
    pooled: PooledMass | None,
    body: BodyResult | None,
    *,
    out: frozenset[tuple[str, str]],
) -> list[Answer]:
    bone_draws: dict[tuple[str, str], Draws] = {}
    if run.skeleton is not None:
        bone_draws = {key: mean.mean_draws_mm for key, mean in run.skeleton.means.items()}
    told = []
    if run.legs is not None:
        legs = legs_step(study, bone_draws, run.sections, pooled, body, out=out, memory=NoMemory())
        told = [
            _answer(
                f"movement.safety.{element}.{gait}",
                f"Safety factor of the {element}, {gait}",
                "1",
                draws,
            )
            for (element, gait), draws in legs.safety.items()
            if gait != "standing"
        ]
    lengths = {name: bone_draws[name, "GL"] for name in _LEG_BONES if (name, "GL") in bone_draws}
    if len(lengths) == len(_LEG_BONES):
        choices = study.settings.choices
        angles = {
            name: np.deg2rad(np.full(1, getattr(choices, f"{name}_angle").value))
            for name in _LEG_BONES
        }
        hip = hip_of_legs(lengths, angles).draws_m
        told.append(_answer("movement.hip_of_legs", "Hip over the toes at these angles", "m", hip))
    return told
