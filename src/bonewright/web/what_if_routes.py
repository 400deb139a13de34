"""What-if questions over HTTP: what can be moved on a page, and the numbers when it is."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import numpy as np
from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.quantity import Summary
from bonewright.report.wording import amount_words, interval_words
from bonewright.study.settings import RangeChoice
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.what_if import Answer, Asked, Bench

__all__ = ["router"]

router = APIRouter(prefix="/api")

Room = Annotated[Workroom, Depends(workroom_of)]

STEM = "stem_age"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Movable:
    """A choice that can be moved: its slider's ends (None: given by other choices)."""

    title: str
    least: float | None
    most: float | None
    step: float


_MOVABLE = {
    "fat_mean_percent": _Movable(title="Fat over the year", least=None, most=None, step=0.5),
    "body_density": _Movable(title="Density of the body", least=0.6, most=1.2, step=0.01),
    "femur_angle": _Movable(title="Femur from the vertical", least=0, most=89, step=1),
    "tibiotarsus_angle": _Movable(title="Tibiotarsus from the vertical", least=0, most=89, step=1),
    "tarsometatarsus_angle": _Movable(
        title="Tarsometatarsus from the vertical", least=0, most=89, step=1
    ),
}
_ON_VIEW = {
    "relatives": (STEM,),
    "body": ("fat_mean_percent", "body_density"),
    "movement": ("femur_angle", "tibiotarsus_angle", "tarsometatarsus_angle", "fat_mean_percent"),
    "judgement": ("fat_mean_percent", "body_density", STEM),
}


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ControlMessage(_Message):
    """One slider: its ends, and the range that is written in study.toml."""

    name: str
    title: str
    unit: str
    least: float
    most: float
    step: float
    low: float
    value: float
    high: float
    reason: str


class AnswerMessage(_Message):
    """One number in words, and its intervals to draw; ``href`` opens how it was got."""

    key: str
    about: str
    title: str
    unit: str
    words: str
    pooled: bool
    href: str
    middle: float
    half: tuple[float, float] | None
    most: tuple[float, float] | None


class WhatIfMessage(_Message):
    """Everything a page needs to draw its what-if figures."""

    controls: list[ControlMessage]
    answers: list[AnswerMessage]
    shadow: list[list[tuple[float, float]]]
    """Outlines of the body from the side, mm."""
    legs_mm: list[float]
    """Lengths of femur, tibiotarsus and tarsometatarsus; empty if one is unknown."""


class WhatIfRequest(_Message):
    """Other best values, by the names of the choices; ranges move along with them."""

    view: Annotated[str, Field(max_length=40)]
    values: dict[str, float] = {}


@router.post("/what-if")
def what_if(request: WhatIfRequest, room: Room) -> WhatIfMessage:
    """Answer a what-if question about the last whole run."""
    names = _ON_VIEW.get(request.view)
    if names is None:
        raise Refusal(404, "Nothing can be moved on this page.", remedy="Reload the page.")
    bench = room.bench()
    if bench is None:
        raise Refusal(409, "There are no results yet.", remedy="Wait for the computing to end.")
    controls = [control for name in names if (control := _control(name, bench)) is not None]
    asked = _asked(request, controls, bench)
    return WhatIfMessage(
        controls=controls,
        answers=[_answer_message(one, bench) for one in bench.answers(asked)],
        shadow=[list(outline) for outline in bench.shadow(asked)] if request.view == "body" else [],
        legs_mm=_legs_mm(bench) if request.view == "movement" else [],
    )


def moved(control: ControlMessage, value: float) -> tuple[float, float, float]:
    """Return low, best and high with the best value moved: the range moves along.

    It is cut off where the slider ends, so that no part of it is impossible.
    """
    by = value - control.value
    low, high = control.low + by, control.high + by
    return (
        min(value, max(control.least, low)) if low < control.low else low,
        value,
        max(value, min(control.most, high)) if high > control.high else high,
    )


def _control(name: str, bench: "Bench") -> ControlMessage | None:
    settings = bench.run.study.settings
    if name == STEM:
        limits = bench.stem_limits()
        if limits is None or settings.tree is None:
            return None
        low, high = settings.tree.stem_age or limits
        return ControlMessage(
            name=STEM,
            title="When its line left theirs",
            unit="before the present, in the tree's unit",
            least=limits[0],
            most=limits[1],
            step=(limits[1] - limits[0]) / 200 or 1.0,
            low=low,
            value=(low + high) / 2,
            high=high,
            reason=settings.tree.stem_age_reason,
        )
    choices, movable = settings.choices, _MOVABLE[name]
    present: RangeChoice = getattr(choices, name)
    least, most = movable.least, movable.most
    if name == "fat_mean_percent":
        least, most = choices.fat_lean_percent.value, choices.fat_fat_percent.value
    if least is None or most is None:
        raise TypeError(f"the slider of {name} has no ends")
    return ControlMessage(
        name=name,
        title=movable.title,
        unit={"deg": "°", "1": ""}.get(present.unit, present.unit),
        least=min(least, present.value),
        most=max(most, present.value),
        step=movable.step,
        low=present.low,
        value=present.value,
        high=present.high,
        reason=present.reason,
    )


def _asked(request: WhatIfRequest, controls: list[ControlMessage], bench: "Bench") -> "Asked":
    from bonewright.what_if import Asked

    known = {control.name: control for control in controls}
    ranges: dict[str, RangeChoice] = {}
    stem_age = None
    for name, value in request.values.items():
        if name not in known:
            raise Refusal(422, f"{name[:60]} cannot be moved here.", remedy="Reload the page.")
        if value == known[name].value:
            continue
        low, best, high = moved(known[name], value)
        if name == STEM:
            stem_age = (low, high)
        else:
            present = getattr(bench.run.study.settings.choices, name)
            update = {"low": low, "value": best, "high": high}
            ranges[name] = present.model_copy(update=update)
    about = frozenset({request.view, "judgement"})
    return Asked(ranges=ranges, stem_age=stem_age, about=about)


def _answer_message(answer: "Answer", bench: "Bench") -> AnswerMessage:
    known = {finding.key: finding.step for finding in bench.run.findings}
    summary: Summary | None = answer.summary
    if summary is None:
        middle = 0.0 if answer.exact is None else answer.exact
        words = amount_words(middle, answer.unit)
    else:
        middle = summary.median
        words = interval_words(summary, answer.unit)
    return AnswerMessage(
        key=answer.key,
        about=answer.about,
        title=answer.title,
        unit=answer.unit,
        words=words,
        pooled=answer.pooled,
        href=f"/{known[answer.key]}#{answer.key}" if answer.key in known else "",
        middle=middle,
        half=None if summary is None else summary.interval50,
        most=None if summary is None else summary.interval95,
    )


def _legs_mm(bench: "Bench") -> list[float]:
    skeleton = bench.run.skeleton
    names = ("femur", "tibiotarsus", "tarsometatarsus")
    if skeleton is None or any((name, "GL") not in skeleton.means for name in names):
        return []
    return [float(np.median(skeleton.means[name, "GL"].mean_draws_mm)) for name in names]
