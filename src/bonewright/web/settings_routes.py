"""The settings of study.toml over HTTP: the few lines to begin with, and choices with reasons."""

from collections.abc import Mapping
from typing import Annotated, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from bonewright.errors import StudyProblems
from bonewright.study.settings import Choices, RangeChoice
from bonewright.study.settings_edit import Setting
from bonewright.web.clash import Sheet
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.sheets import table_of, version_of
from bonewright.web.tables_shown import decimal_mark_of
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
    tissues: dict[str, tuple[float, float, float]] = {}
    """Densities in kg/L, by tissue."""
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
    """Write choices into study.toml, and densities into the table of tissues, with the reason."""
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
    if not changes and not request.tissues:
        raise Refusal(422, "There is nothing to write.", remedy="Move a slider first.")
    if changes:
        room.change_settings(changes, what=f"study.toml: {', '.join(changes)}")
    if request.tissues:
        _write_tissues(request.tissues, reason, room)
    return WrittenMessage(written=sorted((*changes, *request.tissues)))


def _write_tissues(
    tissues: Mapping[str, tuple[float, float, float]], reason: str, room: Workroom
) -> None:
    """Write densities into rows of the table of tissues, new ones where there are none."""
    table, sheet = room.sheet("tissues")
    decimals = decimal_mark_of(table) or "."
    place = {name: number for number, name in enumerate(sheet.header)}
    rows = {row[place["tissue"]].strip(): list(row) for row in sheet.rows}
    for tissue, (low, value, high) in tissues.items():
        row = rows.setdefault(tissue, [""] * len(sheet.header))
        row[place["tissue"]] = tissue
        for column, number in (("density", value), ("densityLow", low), ("densityHigh", high)):
            row[place[column]] = f"{number:.4g}".replace(".", decimals)
        # Whatever source stood there did not give this number.
        row[place["sourceID"]] = ""
        row[place["tissueRemarks"]] = reason
    changed = Sheet(header=sheet.header, rows=tuple(tuple(row) for row in rows.values()))
    problems = room.check({"tissues": table_of(table, changed, saved=True)})
    if problems:
        raise StudyProblems(problems)
    what = f"Density of {', '.join(tissues)}"
    room.save("tissues", changed, version=version_of(table), what=what)
