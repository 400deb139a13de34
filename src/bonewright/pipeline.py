"""The steps joined: which result needs which.

A step that has no answer does not stop the others: what it lacks is kept in words, and
the steps that need it say so in their turn.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from functools import partial, update_wrapper
from typing import Any, TypeVar

import numpy as np

from bonewright.beside import Beside
from bonewright.body.finished_models import Workmanship
from bonewright.body.ranges import draws_of_range
from bonewright.body.weighing import BodyResult, weigh_body, with_models_checked
from bonewright.errors import BonewrightError, NotEnoughEvidence
from bonewright.evidence import (
    evidence_nodes,
    fatness_witnesses,
    mass_by_state,
    measurable_bones,
    own_ratios,
    strength_bound,
    weight_claims,
)
from bonewright.findings import Doubt, Finding
from bonewright.judgement.case import CaseResult, judge_case
from bonewright.judgement.mixture import Beliefs
from bonewright.judgement.pooling import Line, PooledMass, pool_masses
from bonewright.judgement.verdict import Verdict, deliver_verdict
from bonewright.leg_inputs import (
    fat_free_draws_kg,
    legs_inputs,
    state_mass_draws_kg,
    weight_fraction_draws,
)
from bonewright.movement.legs import LegsResult, how_legs_move
from bonewright.movement.strength import StrengthResult, strength_of_legs
from bonewright.quantity import Draws
from bonewright.relatives.in_trees import Spread, TreePlace, in_one_process
from bonewright.relatives.leg_bones import JointQuestion, RelativesResult, mass_from_leg_bones
from bonewright.remembering import Answered, NoMemory, StepMemory
from bonewright.sections.properties import SectionsResult, measure_sections
from bonewright.skeleton.average import AverageSkeleton, average_skeleton
from bonewright.skeleton.joint_average import AverageChoice
from bonewright.skeleton.proportions import Proportions, proportions_of
from bonewright.skeleton.what_next import WhatNext, what_to_measure_next
from bonewright.study.equations import shipped_equations
from bonewright.study.model import MassEquation, Relative, Study
from bonewright.study.schemas import MEASUREMENT_CODES
from bonewright.study.settings import Choices
from bonewright.study.workshop_defaults import BUILD_LIMITS
from bonewright.testimony.witnesses import TestimonyResult, hear_witnesses

__all__ = [
    "STEPS",
    "Arrived",
    "Run",
    "joint_question",
    "legs_step",
    "lines_of_evidence",
    "rows_left_out",
    "run_study",
    "stream_of",
    "strength_step",
]

STEPS = ("skeleton", "relatives", "sections", "body", "movement", "testimony", "judgement")

_Result = TypeVar("_Result")
Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """Everything computed from one study.

    A step without an answer is None, and ``unanswered`` says why, in words fit to show.
    """

    study: Study
    skeleton: AverageSkeleton | None
    relatives: RelativesResult | None
    sections: SectionsResult | None
    body: BodyResult | None
    pooled: PooledMass | None
    case: CaseResult | None
    movement: StrengthResult | None
    legs: LegsResult | None
    testimony: TestimonyResult | None
    verdict: Verdict
    unanswered: Mapping[str, str]
    findings: tuple[Finding, ...]
    doubts: tuple[Doubt, ...]
    measure_next: WhatNext | None = None
    proportions: Proportions | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Results:
    """What the steps answered so far, in the order in which their findings are told."""

    skeleton: AverageSkeleton | None = None
    measure_next: WhatNext | None = None
    proportions: Proportions | None = None
    relatives: RelativesResult | None = None
    sections: SectionsResult | None = None
    body: BodyResult | None = None
    pooled: PooledMass | None = None
    case: CaseResult | None = None
    movement: StrengthResult | None = None
    legs: LegsResult | None = None
    testimony: TestimonyResult | None = None


Arrived = Callable[[str, Run], None]
"""Called with what has its answer, and the run as far as it has come.

That is a step's name, or earlier than its step: ``bones`` for the average skeleton, ``mass``
for the pooled mass.
"""


def run_study(
    study: Study,
    *,
    memory: StepMemory | None = None,
    spread: Spread = in_one_process,
    beside: Beside | None = None,
    arrived: Arrived | None = None,
) -> Run:
    """Run every step of the job on a checked study.

    Parameters
    ----------
    study : Study
    memory : StepMemory, optional
        Answers of earlier runs: what they were given for is not computed again.
    spread : Spread, optional
        How work on many trees is shared out. The numbers do not depend on it.
    beside : Beside, optional
        A second process for the steps on relatives and sections, for a run without memory.
    arrived : Arrived, optional
        Told of each step that has its answer, for those who watch.

    Notes
    -----
    Each step has its own stream of random numbers grown from the study's seed, so that a
    change in one step leaves the draws of the others as they were, and the order in which
    steps are taken changes no number. The mass comes as early as it can.
    """
    memory = NoMemory() if memory is None else memory
    unanswered = _Unanswered()
    choices = study.settings.choices
    n_draws = study.settings.draws.count
    judged = {"kept": study.kept, "set_aside": study.set_aside}
    done = _Results()

    def tell(step: str) -> None:
        if arrived is not None:
            arrived(step, _run_of(study, done, unanswered))

    skeleton = _attempt(
        "skeleton",
        unanswered,
        lambda: memory.recall(
            "skeleton",
            average_skeleton,
            study.specimens,
            study.measurements,
            **judged,
            relative_measurements=study.relative_measurements,
            codes=study.codes,
            choice=AverageChoice(
                kind=choices.average,
                percentile=choices.average_percentile,
                both_sexes_alike=choices.average_sexes == "both alike",
            ),
            rng=stream_of(study, "skeleton"),
            n_draws=n_draws,
        ),
    )
    bone_draws = (
        {} if skeleton is None else {key: m.mean_draws_mm for key, m in skeleton.means.items()}
    )
    done = replace(done, skeleton=skeleton)
    tell("bones")

    # Bones that nobody has serve the body alone: a mass told from relatives' legs would only
    # give back what relatives put in.
    foretold = (
        {}
        if skeleton is None or skeleton.from_relatives is None
        else skeleton.from_relatives.draws_mm
    )

    pending = None if beside is None else beside.start(_relatives_and_sections, study, bone_draws)
    body = _attempt(
        "body",
        unanswered,
        lambda: memory.recall(
            "body",
            weigh_body,
            readings=study.bodies,
            scans=study.body_scans,
            segments=study.body_segments,
            hoops=study.body_hoops,
            tissues=study.tissues,
            parts=study.lost_parts,
            bone_draws_mm={**foretold, **bone_draws},
            foretold=frozenset(foretold),
            choices=choices,
            **judged,
            rng=stream_of(study, "body"),
            n_draws=n_draws,
        ),
    )
    done = replace(done, body=body)
    body_key = memory.keys.get("body.weigh_body", "")

    def check_models() -> BodyResult | None:
        return None if body is None else _with_models(study, Answered(body, body_key), memory)

    def hear() -> TestimonyResult | None:
        return _attempt("testimony", unanswered, lambda: _testimony(study, skeleton, memory=memory))

    if pending is None:
        relatives, out = _relatives(study, bone_draws, unanswered, memory=memory, spread=spread)
    else:
        # The second process is still at work: what else there is is done meanwhile.
        done = replace(done, testimony=hear(), body=check_models())
        compared = pending.result()
        relatives, out = compared.relatives, compared.out
        unanswered.add(compared.unanswered)
    done = replace(done, relatives=relatives)
    tell("relatives")
    pooled = _attempt(
        "judgement",
        unanswered,
        lambda: memory.recall(
            "judgement",
            pool_masses,
            lines_of_evidence(relatives, body, choices),
            heterogeneity_scale=choices.heterogeneity_scale,
            wrong_share=choices.gravely_wrong_percent / 100,
            decisions=study.line_decisions,
            rng=stream_of(study, "judgement"),
        ),
    )
    done = replace(done, pooled=pooled)
    tell("mass")
    if pending is None:
        done = replace(done, body=check_models())
    tell("body")
    if skeleton is not None:
        done = replace(
            done,
            measure_next=_measure_next(skeleton, relatives),
            proportions=_proportions(study, skeleton, out),
        )
    tell("skeleton")
    sections = (
        _sections(study, bone_draws, unanswered, out=out, memory=memory)
        if pending is None
        else compared.sections
    )
    done = replace(done, sections=sections)
    tell("sections")
    movement = _attempt(
        "movement",
        unanswered,
        lambda: strength_step(study, sections, pooled, body, out=out, memory=memory),
    )
    legs = _attempt(
        "movement",
        _Unanswered() if movement is None else unanswered,
        lambda: legs_step(study, bone_draws, sections, pooled, body, out=out, memory=memory),
    )
    done = replace(done, movement=movement, legs=legs)
    tell("movement")
    if pending is None:
        done = replace(done, testimony=hear())
    tell("testimony")
    if pooled is not None:
        case = _case(
            study,
            pooled,
            skeleton=skeleton,
            body=body,
            movement=movement,
            testimony=done.testimony,
            findings=() if relatives is None else relatives.findings,
            memory=memory,
        )
        done = replace(done, case=case)
    return _run_of(study, done, unanswered)


def _run_of(study: Study, done: _Results, unanswered: "_Unanswered") -> Run:
    """Put together what the steps found, with the verdict."""
    told = unanswered.in_order()
    results: dict[str, Any] = {field.name: getattr(done, field.name) for field in fields(done)}
    step_findings = tuple(
        finding for result in results.values() if result is not None for finding in result.findings
    )
    of_steps = (done.skeleton, done.relatives, done.sections, done.body, done.testimony)
    doubts = tuple(doubt for result in of_steps if result is not None for doubt in result.doubts)
    verdict = deliver_verdict(pooled=done.pooled, other_findings=step_findings, unanswered=told)
    return Run(
        study=study,
        **results,
        verdict=verdict,
        unanswered=told,
        findings=_in_order_of_steps((*step_findings, *verdict.findings)),
        doubts=(*doubts, *unanswered.doubts),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Compared:
    """The steps on relatives and on sections, and the rows of relatives that no step may use."""

    relatives: RelativesResult | None
    sections: SectionsResult | None
    out: frozenset[tuple[str, str]]
    unanswered: "_Unanswered"


def _relatives_and_sections(study: Study, bone_draws: Mapping[Key, Draws]) -> _Compared:
    unanswered = _Unanswered()
    memory = NoMemory()
    relatives, out = _relatives(study, bone_draws, unanswered, memory=memory, spread=in_one_process)
    sections = _sections(study, bone_draws, unanswered, out=out, memory=memory)
    return _Compared(relatives=relatives, sections=sections, out=out, unanswered=unanswered)


def _relatives(
    study: Study,
    bone_draws: Mapping[Key, Draws],
    unanswered: "_Unanswered",
    *,
    memory: StepMemory,
    spread: Spread,
) -> tuple[RelativesResult | None, frozenset[tuple[str, str]]]:
    """Return the step on relatives, and the rows of relatives that no step may use."""
    blind_proof = study.settings.blind_proof
    lacking = _Unanswered()
    relatives = _attempt(
        "relatives",
        lacking,
        lambda: memory.recall(
            "relatives",
            # How work is shared out changes no number, so memory need not know of it.
            update_wrapper(partial(mass_from_leg_bones, spread=spread), mass_from_leg_bones),
            study.relatives,
            study.relative_measurements,
            bone_draws_mm=bone_draws,
            retransformation=study.settings.choices.retransformation,
            blind_species=None if blind_proof is None else blind_proof.species,
            question=joint_question(study),
            equations=_equations(study),
            kept=study.kept,
            set_aside=study.set_aside,
            rng=stream_of(study, "relatives"),
        ),
    )
    unanswered.add(lacking)
    doubts = lacking.doubts if relatives is None else relatives.doubts
    return relatives, rows_left_out(study, doubts)


def _sections(
    study: Study,
    bone_draws: Mapping[Key, Draws],
    unanswered: "_Unanswered",
    *,
    out: frozenset[tuple[str, str]],
    memory: StepMemory,
) -> SectionsResult | None:
    n_draws = study.settings.draws.count
    return _attempt(
        "sections",
        unanswered,
        lambda: memory.recall(
            "sections",
            measure_sections,
            study.sections,
            average_length_draws_mm={
                element: draws for (element, code), draws in bone_draws.items() if code == "GL"
            },
            species_length_mm=_species_lengths_mm(study, out),
            weathered=frozenset(
                bone.specimen_id for bone in study.specimens if bone.preservation == "weathered"
            ),
            weathering_percent=draws_of_range(
                study.settings.choices.weathered_section_percent,
                rng=stream_of(study, "sections").spawn(1)[0],
                n_draws=n_draws,
            ),
            kept=study.kept,
            set_aside=study.set_aside,
            rng=stream_of(study, "sections"),
            n_draws=n_draws,
        ),
    )


class _Unanswered(dict[str, str]):
    """Why steps have no answer, and the doubts that they raised nevertheless."""

    def __init__(self) -> None:
        super().__init__()
        self._raised: dict[str, tuple[Doubt, ...]] = {}

    def note(self, step: str, error: BonewrightError) -> None:
        """Keep why a step has no answer."""
        self[step] = str(error)
        if isinstance(error, NotEnoughEvidence):
            doubts = tuple(doubt for doubt in error.doubts if isinstance(doubt, Doubt))
            self._raised[step] = (*self._raised.get(step, ()), *doubts)

    def add(self, others: "_Unanswered") -> None:
        """Take in what other steps lack."""
        self.update(others)
        self._raised.update(others._raised)

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """The doubts in the order of the steps, in whatever order they were taken."""
        return tuple(doubt for step in STEPS for doubt in self._raised.get(step, ()))

    def in_order(self) -> dict[str, str]:
        """Return the reasons in the order of the steps."""
        return {step: self[step] for step in STEPS if step in self}


def _attempt(step: str, unanswered: _Unanswered, compute: Callable[[], _Result]) -> _Result | None:
    try:
        return compute()
    except BonewrightError as error:
        unanswered.note(step, error)
        return None


def stream_of(study: Study, step: str, *, part: int | None = None) -> np.random.Generator:
    """Return a step's own stream of random numbers, at its beginning."""
    # A stream per step: its number is the step's place in the job, never to be reused. A step
    # that is taken in two parts has one for the second, beside those its own code spawns.
    place = (STEPS.index(step),) if part is None else (len(STEPS) + STEPS.index(step), part)
    return np.random.default_rng(np.random.SeedSequence(study.settings.draws.seed, spawn_key=place))


_FATNESS = {"lean": "lean", "mean": "middling fatness", "fat": "fat"}


def _measure_words(code: str) -> str:
    """Name a measurement of a leg bone: 'breadth of the upper end (Bp)'."""
    meaning = MEASUREMENT_CODES.get(code)
    if meaning is None:
        return code
    return f"{meaning.replace('proximal', 'upper').replace('distal', 'lower')} ({code})"


def _name_words(name: str, *, start: bool = True) -> str:
    """Write a row's name as words: 'maquette-1' becomes 'Maquette 1'."""
    words = name.replace("-", " ").replace("_", " ")
    return words[:1].upper() + words[1:] if start else words


def _measure_next(skeleton: AverageSkeleton, relatives: RelativesResult | None) -> WhatNext | None:
    exponents = {}
    if relatives is not None and relatives.chosen is not None:
        exponents = {relatives.chosen: relatives.fits[relatives.chosen].slope}
    if skeleton.joint is None:
        return None
    return what_to_measure_next(skeleton, mass_exponents=exponents)


def _with_models(study: Study, body: Answered[BodyResult], memory: StepMemory) -> BodyResult:
    return memory.recall(
        "body",
        with_models_checked,
        body,
        models=study.model_measurements,
        workmanship=_workmanship(study),
        set_aside=study.set_aside,
    )


def _workmanship(study: Study) -> Workmanship:
    limits = {limit.limit: limit.value for limit in (*BUILD_LIMITS, *study.build_limits)}
    return Workmanship(
        share=limits["workmanship (%)"] / 100, least_mm=limits["least workmanship (mm)"]
    )


def _proportions(
    study: Study, skeleton: AverageSkeleton, out: frozenset[tuple[str, str]]
) -> Proportions:
    chosen = study.settings.proportions
    return proportions_of(
        skeleton,
        relatives=_relatives_used(study, out),
        relative_measurements=study.relative_measurements,
        standard=None if chosen is None else chosen.standard,
        out=out,
    )


def lines_of_evidence(
    relatives: RelativesResult | None, body: BodyResult | None, choices: Choices
) -> tuple[Line, ...]:
    """Return every line of evidence on mass that the two steps give."""
    lines: list[Line] = []
    if relatives is not None:
        lines += _lines_of_legs(relatives)
    if body is not None:
        lines += _lines_of_body(body, choices)
    return tuple(lines)


def _lines_of_legs(relatives: RelativesResult) -> list[Line]:
    """Return all leg bones together as the line that enters, single ones beside it."""
    rests_on = ("average skeleton", "living relatives")
    joint = relatives.joint
    lines = []
    if joint is not None:
        lines.append(
            Line(
                key="relatives.mass.joint",
                title=f"Leg bones: {joint.trial.name}",
                mass_draws_kg=joint.mass_draws_kg,
                pooled=True,
                reason="Several bones fitted together at the animal's place in the tree: the"
                " choice that foretells relatives of known mass best.",
                rests_on=rests_on,
            )
        )
    for (element, code), fit in relatives.fits.items():
        stands_in = joint is None and (element, code) == relatives.chosen
        lines.append(
            Line(
                key=f"relatives.mass.{element}.{code}",
                title=f"Leg bones: {element}, {_measure_words(code)}",
                mass_draws_kg=fit.mass_draws_kg,
                pooled=stands_in,
                reason=(
                    "The leg-bone measurement that predicts left-out relatives best."
                    if stands_in
                    else "Rests on the same bones and relatives as the line that enters, so it is"
                    " no further witness."
                ),
                rests_on=rests_on,
            )
        )
    return lines


def _equations(study: Study) -> tuple[MassEquation, ...]:
    """Return the study's published equations, and those shipped that it does not replace."""
    own = {equation.equation_id for equation in study.equations}
    return (
        *(equation for equation in shipped_equations() if equation.equation_id not in own),
        *study.equations,
    )


def joint_question(study: Study) -> JointQuestion:
    """Return what is asked of the relatives: the trees, the animal's place, flight and gait."""
    animal, tree = study.settings.animal, study.settings.tree
    names = (animal.scientific_name, animal.name)
    tips = study.tree_tips or ()
    in_file = [tip for tip in tips if tip.casefold() in {name.casefold() for name in names if name}]
    age = () if tree is None else tree.stem_age
    return JointQuestion(
        trees=study.trees,
        place=TreePlace(
            name=in_file[0] if in_file else names[0] or names[1],
            beside=() if tree is None else tree.beside,
            stem_age=(age[0], age[1]) if age else None,
        ),
        flight=animal.flight,
        locomotion=study.settings.choices.comparison,
    )


def _lines_of_body(body: BodyResult, choices: Choices) -> list[Line]:
    """Return the body's lines: maquettes, scans, and the body grown from the skeleton."""
    other_state = "Shows another state of fatness than the average animal's."
    lines = [
        Line(
            key=f"body.mass.{maquette.body_id}",
            title=f"{_name_words(maquette.body_id)}, {_FATNESS[maquette.state]}",
            mass_draws_kg=maquette.mass_draws_kg,
            pooled=maquette.state == "mean",
            reason=(
                "Volume times density rests on neither relatives nor leg strength."
                if maquette.state == "mean"
                else other_state
            ),
            rests_on=("maquette", "body density"),
        )
        for maquette in body.maquettes.values()
    ]
    modelled = bool(body.maquettes)
    for scan in body.scans.values():
        pooled = scan.kind == "body" and scan.state == "mean" and not modelled
        if scan.kind == "skeleton":
            reason = "Its multiplier was found on mammals; how birds' bodies fill their hulls is"
            reason += " not known here."
        elif scan.state != "mean":
            reason = other_state
        elif pooled:
            reason = "Volume times density rests on neither relatives nor leg strength."
        else:
            reason = "Shows a modeller's flesh, as the maquette does: no further witness."
        lines.append(
            Line(
                key=f"body.scan.mass.{scan.body_id.replace(' ', '_')}",
                title=f"Scan of {_name_words(scan.body_id, start=False)}, "
                + ("hulls" if scan.kind == "skeleton" else _FATNESS[scan.state]),
                mass_draws_kg=scan.mass_draws_kg,
                pooled=pooled,
                reason=reason,
                rests_on=("scan", "body density"),
            )
        )
    if body.grown is not None:
        copied = choices.body_plan_traced_from
        leans = (copied == "maquette" and modelled) or (copied == "scan" and bool(body.scans))
        for state, grown in body.grown.states.items():
            lines.append(
                Line(
                    key=f"body.grown.mass.{state}",
                    title=f"Grown from the skeleton, {_FATNESS[state]}",
                    mass_draws_kg=grown.mass_draws_kg,
                    pooled=state == "mean" and not leans,
                    reason=(
                        other_state
                        if state != "mean"
                        else f"Its hoops were traced from the {copied}, so it is no further"
                        " witness."
                        if leans
                        else "Flesh laid on the bones by a plan that no modeller and no relative's"
                        " mass has shaped; what it shares with the others, the skeleton and the"
                        " air in the body, is drawn once for all."
                    ),
                    rests_on=(
                        "average skeleton",
                        "body plan",
                        "tissue densities",
                        *(("living relatives",) if body.foretold_bones else ()),
                    ),
                )
            )
    return lines


def rows_left_out(study: Study, doubts: Iterable[Doubt]) -> frozenset[tuple[str, str]]:
    """Return (table, row id) of rows of relatives that no step may use."""
    held_out = {
        (doubt.ref.table, doubt.ref.row_id)
        for doubt in doubts
        if doubt.held_out and doubt.decided != "keep"
    }
    return study.set_aside | held_out


def _species_lengths_mm(
    study: Study, out: frozenset[tuple[str, str]]
) -> dict[tuple[str, str], float]:
    return {
        (row.species, row.element): row.value_mm
        for row in study.relative_measurements
        if row.code == "GL" and (row.ref.table, row.ref.row_id) not in out
    }


def _relatives_used(study: Study, out: frozenset[tuple[str, str]]) -> tuple[Relative, ...]:
    return tuple(row for row in study.relatives if (row.ref.table, row.ref.row_id) not in out)


def strength_step(
    study: Study,
    sections: SectionsResult | None,
    pooled: PooledMass | None,
    body: BodyResult | None,
    *,
    out: frozenset[tuple[str, str]],
    memory: StepMemory,
) -> StrengthResult:
    """Judge the legs' strength; see :func:`bonewright.movement.strength.strength_of_legs`."""
    if sections is None or pooled is None:
        missing = "bone sections" if sections is None else "an estimate of body mass"
        tables = "sections.csv" if sections is None else "relatives.csv or bodies.csv"
        raise NotEnoughEvidence(
            "The strength of the legs could not be judged.",
            needed="bone sections and an estimate of body mass",
            found=f"no {missing}",
            would_help=f"rows in {tables}",
        )
    choices = study.settings.choices
    rng = stream_of(study, "movement")
    return memory.recall(
        "movement",
        strength_of_legs,
        modulus_over_arm_draws_mm2=sections.modulus_over_arm_draws_mm2,
        species_modulus_over_arm_mm2=sections.species_modulus_over_arm_mm2,
        relatives=_relatives_used(study, out),
        mass_draws_kg=pooled.mass_draws_kg,
        weight_fraction_draws=weight_fraction_draws(
            choices, rng=rng, n_draws=study.settings.draws.count
        ),
        comparison=choices.comparison,
        kept=study.kept,
        bounds=choices.comparison_bounds,
        count_published=choices.comparison_with_published,
        own_indicators=tuple(
            row
            for row in study.strength_indicators
            if (row.ref.table, row.ref.row_id) not in study.set_aside
        ),
        state_mass_draws_kg=state_mass_draws_kg(body),
        fat_free_draws_kg=fat_free_draws_kg(pooled, body, choices, rng=rng),
    )


def legs_step(
    study: Study,
    bone_draws: Mapping[Key, Draws],
    sections: SectionsResult | None,
    pooled: PooledMass | None,
    body: BodyResult | None,
    *,
    out: frozenset[tuple[str, str]],
    memory: StepMemory,
) -> LegsResult:
    """Judge standing, walking and running; see :func:`bonewright.movement.legs.how_legs_move`."""
    trackway = study.settings.trackway
    return memory.recall(
        "movement",
        how_legs_move,
        **legs_inputs(
            choices=study.settings.choices,
            sections=sections,
            pooled=pooled,
            body=body,
            bone_draws_mm=bone_draws,
            species_length_mm=_species_lengths_mm(study, out),
            relatives=_relatives_used(study, out),
            stride=None if trackway is None else trackway.stride(),
            rng=stream_of(study, "movement"),
            n_draws=study.settings.draws.count,
        ),
    )


def _testimony(
    study: Study, skeleton: AverageSkeleton | None, *, memory: StepMemory
) -> TestimonyResult:
    means = {} if skeleton is None else skeleton.means
    witness = study.settings.witness
    return memory.recall(
        "testimony",
        hear_witnesses,
        pictures=study.pictures,
        marks=study.picture_marks,
        landmarks=study.landmarks,
        accounts=study.accounts,
        claims=study.claims,
        mount=study.mount_measurements,
        bone_mean_draws_mm={key: mean.mean_draws_mm for key, mean in means.items()},
        bone_between_sd_mm={key: mean.between_sd_mm for key, mean in means.items()},
        witness_years=None if witness is None else (witness.earliest, witness.latest + 1.0),
        kept=study.kept,
        set_aside=study.set_aside,
        rng=stream_of(study, "testimony"),
    )


def _case(
    study: Study,
    pooled: PooledMass,
    *,
    skeleton: AverageSkeleton | None,
    body: BodyResult | None,
    movement: StrengthResult | None,
    testimony: TestimonyResult | None,
    findings: tuple[Finding, ...],
    memory: StepMemory,
) -> CaseResult:
    choices = study.settings.choices
    fasting = None if body is None else body.fasting
    return memory.recall(
        "judgement",
        judge_case,
        pooled=pooled,
        nodes=evidence_nodes(
            pooled,
            body=body,
            movement=movement,
            testimony=testimony,
            findings=findings,
            comparison=choices.comparison,
        ),
        bound=strength_bound(movement),
        comparison=choices.comparison,
        beliefs=Beliefs(heterogeneity_scale=choices.heterogeneity_scale),
        outside_weight=choices.outside_window_weight,
        measurable=measurable_bones(pooled, skeleton),
        hypotheses=study.hypotheses,
        mass_by_state_kg=mass_by_state(pooled, body),
        fasting_days=None if fasting is None else fasting.days,
        pictures=fatness_witnesses(testimony),
        claims=weight_claims(testimony),
        own_ratios=own_ratios(testimony),
        rng=stream_of(study, "judgement", part=1),
    )


def _in_order_of_steps(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: STEPS.index(finding.step)))
