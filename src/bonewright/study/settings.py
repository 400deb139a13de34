"""study.toml: the animal, the question, the choices made (each with a reason), the seed."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

__all__ = [
    "Animal",
    "BlindProof",
    "Choices",
    "DrawSettings",
    "RangeChoice",
    "Settings",
    "StudyHeader",
    "Tree",
    "Witness",
    "Word",
]

Word = Annotated[str, Field(min_length=1, max_length=2000)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class StudyHeader(_Part):
    """What the study is. ``invented`` marks a made-up study wherever it is shown."""

    title: Word
    question: Word
    invented: bool = False
    format: Literal[1] = 1


class Animal(_Part):
    """The lost animal."""

    name: Word
    scientific_name: str = ""
    place: str = ""


class DrawSettings(_Part):
    """How many imagined worlds, and the seed they grow from."""

    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = 1
    count: Annotated[int, Field(ge=500, le=1_000_000)] = 20_000


class RangeChoice(_Part):
    """A best value with the range that holds it 19 times in 20, and why."""

    value: float
    low: float
    high: float
    unit: str
    reason: Word

    @model_validator(mode="after")
    def _in_order(self) -> "RangeChoice":
        if not self.low <= self.value <= self.high:
            raise ValueError("low, value and high must stand in that order")
        return self


class Choices(_Part):
    """The choices a reader could dispute. Each names its reason."""

    retransformation: Literal["lognormal", "smearing", "ratio", "none"] = "lognormal"
    retransformation_reason: Word = (
        "The mean mass is wanted, and a line on logarithms predicts the median."
    )
    body_density: RangeChoice = RangeChoice(
        value=0.95,
        low=0.85,
        high=1.05,
        unit="kg/L",
        reason="Living ground bird with lungs and air sacs, plumage not counted (common practice).",
    )
    maquette_shape_percent: RangeChoice = RangeChoice(
        value=0.0,
        low=-20.0,
        high=20.0,
        unit="%",
        reason="How far a modeller's guess of the flesh may be off in volume (common practice).",
    )
    weight_on_legs: RangeChoice = RangeChoice(
        value=1.0,
        low=1.0,
        high=1.0,
        unit="1",
        reason="A two-legged animal carries its whole weight on one pair of legs.",
    )
    comparison: Literal["runner", "walker", "wader"] = "runner"
    comparison_reason: Word = "The question is whether it could run."
    heterogeneity_scale: Annotated[float, Field(gt=0, le=2)] = 0.2
    heterogeneity_reason: Word = (
        "Honest methods for one animal's mass commonly differ by up to a fifth or two"
        " (common practice)."
    )


class BlindProof(_Part):
    """The living relative whose known mass the leg-bone method must find unseen."""

    species: Word
    reason: Word


class Tree(_Part):
    """The file that holds the tree of relatives, below files/."""

    file: Word


class Witness(_Part):
    """The years between which pictures and accounts can lie."""

    earliest: Annotated[int, Field(ge=-3000, le=2100)]
    latest: Annotated[int, Field(ge=-3000, le=2100)]

    @model_validator(mode="after")
    def _in_order(self) -> "Witness":
        if self.earliest > self.latest:
            raise ValueError("earliest must not come after latest")
        return self


class Settings(_Part):
    """All of study.toml."""

    study: StudyHeader
    animal: Animal
    draws: DrawSettings = DrawSettings()
    choices: Choices = Choices()
    blind_proof: BlindProof | None = None
    tree: Tree | None = None
    witness: Witness | None = None
