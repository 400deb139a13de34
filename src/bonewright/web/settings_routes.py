"""The settings of study.toml over HTTP: the few lines to begin with, and choices with reasons."""

from typing import Annotated, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.study.settings import Choices, RangeChoice
from bonewright.study.settings_edit import Setting
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

__all__ = ["ChoiceRequest", "router"]

router = APIRouter(prefix="/api")

Room = Annotated[Workroom, Depends(workroom_of)]
Line = Annotated[str, Field(max_length=2000)]
Reason = Annotated[str, Field(min_length=1, max_length=2000, pattern=r"\S")]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class AboutRequest(_Message):
    """What the study is about."""

    title: Annotated[str, Field(min_length=1, max_length=300, pattern=r"\S")]
    question: Annotated[str, Field(min_length=1, max_length=2000, pattern=r"\S")]
    name: Annotated[str, Field(min_length=1, max_length=300, pattern=r"\S")]
    scientific_name: Line = ""
    place: Line = ""
    flight: Literal["flying", "flightless", "unknown"] = "unknown"


class ChoiceRequest(_Message):
    """Choices of study.toml by name, each a best value with its range; one reason for all."""

    ranges: dict[str, tuple[float, float, float]] = {}
    """Low, best and high, by the name of a choice."""
    stem_age: tuple[float, float] | None = None
    reason: Reason


class WrittenMessage(_Message):
    """What was written into study.toml."""

    written: list[str]


@router.post("/about")
def about(request: AboutRequest, room: Room) -> WrittenMessage:
    """Write what the study is about."""
    changes: dict[str, Setting] = {
        "study.title": request.title.strip(),
        "study.question": request.question.strip(),
        "animal.name": request.name.strip(),
        "animal.scientific_name": request.scientific_name.strip(),
        "animal.place": request.place.strip(),
        "animal.flight": request.flight,
    }
    room.change_settings(changes, what="study.toml: what the study is about")
    return WrittenMessage(written=sorted(changes))


@router.post("/choices")
def choose(request: ChoiceRequest, room: Room) -> WrittenMessage:
    """Write choices with their reason."""
    settings = room.look().settings
    if settings is None:
        raise Refusal(409, "study.toml holds problems.", remedy="Mend it first.")
    changes: dict[str, Setting | dict[str, Setting]] = {}
    reason = request.reason.strip()
    for name, (low, value, high) in request.ranges.items():
        present = getattr(settings.choices, name, None) if name in Choices.model_fields else None
        if not isinstance(present, RangeChoice):
            raise Refusal(422, f"There is no choice {name[:60]}.", remedy="Reload the page.")
        changes[f"choices.{name}"] = {
            "value": value,
            "low": low,
            "high": high,
            "unit": present.unit,
            "reason": reason,
        }
    if request.stem_age is not None:
        if settings.tree is None:
            raise Refusal(422, "study.toml names no tree.", remedy="Name one under [tree].")
        changes["tree"] = {"stem_age": list(request.stem_age), "stem_age_reason": reason}
    if not changes:
        raise Refusal(422, "There is nothing to write.", remedy="Move a slider first.")
    room.change_settings(changes, what=f"study.toml: {', '.join(changes)}")
    return WrittenMessage(written=sorted(changes))
