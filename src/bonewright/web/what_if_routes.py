"""What-if questions over HTTP: what can be moved on a page, and the numbers when it is."""

from typing import TYPE_CHECKING, Annotated

import numpy as np
from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.quantity import Summary
from bonewright.report.wording import amount_words, interval_words
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.sliders import ControlMessage, asked_of, controls_on
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.what_if import Answer, Bench

__all__ = ["router"]

router = APIRouter(prefix="/api")

Room = Annotated[Workroom, Depends(workroom_of)]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


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
    bench = room.bench()
    if bench is None:
        raise Refusal(409, "There are no results yet.", remedy="Wait for the computing to end.")
    controls = controls_on(request.view, bench)
    asked = asked_of(request.view, request.values, controls, bench)
    return WhatIfMessage(
        controls=controls,
        answers=[_answer_message(one, bench) for one in bench.answers(asked)],
        shadow=[list(outline) for outline in bench.shadow(asked)] if request.view == "body" else [],
        legs_mm=_legs_mm(bench) if request.view == "movement" else [],
    )


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
