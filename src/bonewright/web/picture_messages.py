"""What the marking desk and its server say to each other."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "DeskMessage",
    "MarkMessage",
    "MarksMessage",
    "MarksRequest",
    "NamedPoint",
    "PictureMessage",
    "ScoreKind",
    "ScoresRequest",
]

Name = Annotated[str, Field(min_length=1, max_length=200)]
Pixel = Annotated[float, Field(ge=0, le=1_000_000)]
Round = Annotated[int, Field(ge=1, le=20)]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class PictureMessage(_Message):
    """A picture that can be marked, or why it cannot (``fault``)."""

    id: str
    title: str
    width: int = 0
    height: int = 0
    checksum: str = ""
    notes: list[str] = []
    fault: str = ""
    scale_length: str = ""
    scale_unit: str = ""
    marked: list[str] = []


class NamedPoint(_Message):
    """A point that may be marked, and where it lies on the animal."""

    name: str
    where: str


class ScoreKind(_Message):
    """A kind of score, and what its points mean."""

    kind: str
    points: str


class DeskMessage(_Message):
    """Everything the marking desk offers."""

    pictures: list[PictureMessage]
    points: list[NamedPoint]
    outline: str
    scores: list[ScoreKind]


class MarkMessage(_Message):
    """One mark in px of the upright picture; ``order`` for points of the outline."""

    name: Name
    order: Annotated[int, Field(ge=1, le=100_000)] | None = None
    x: Pixel
    y: Pixel


class MarksMessage(_Message):
    """One observer's marks of one picture in one round; ``version`` names that state."""

    version: str
    points: list[MarkMessage]
    scores: dict[str, str] = {}


class MarksRequest(_Message):
    """Marks to keep in place of those of the same observer and round."""

    observer: Name
    round: Round
    checksum: Annotated[str, Field(max_length=64)]
    version: str
    points: Annotated[list[MarkMessage], Field(max_length=5000)]
    scale_length: Annotated[str, Field(max_length=40)] = ""
    scale_unit: Annotated[str, Field(max_length=40)] = ""


class ScoresRequest(_Message):
    """One scorer's scores of one picture, as written; an empty score takes it away."""

    scorer: Name
    scores: dict[Name, Annotated[str, Field(max_length=10)]]
