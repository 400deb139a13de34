"""Dangers of the work, by the stage at which they arise, and to whom to defer."""

from dataclasses import dataclass
from typing import Final

__all__ = ["BUILD_CAUTIONS", "STAGES", "BuildCaution", "cautions_at"]

STAGES: Final = ("armature", "modelling", "casting", "finish", "feathers", "base", "moving")


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildCaution:
    """A danger: at which stage, what it is, what to do, who decides."""

    stage: str
    title: str
    text: str
    defers_to: str


def _caution(stage: str, title: str, text: str, defers_to: str) -> BuildCaution:
    return BuildCaution(stage=stage, title=title, text=text, defers_to=defers_to)


BUILD_CAUTIONS: Final[tuple[BuildCaution, ...]] = (
    _caution(
        "armature",
        "Wire ends and hot metal",
        "Cut wire springs and pierces: goggles, gloves, and a loop or a cork on every end. Brazing"
        " and welding burn, and zinc-coated stock gives off harmful fume.",
        "the workshop's safety officer",
    ),
    _caution(
        "modelling",
        "Dust of foam, plaster and bone",
        "Sawing and sanding raise dust that harms the lungs. Extract it where it arises, wear a"
        " mask made for fine dust, sweep nothing dry. Dust of old bone and casts counts too.",
        "the workshop's safety officer",
    ),
    _caution(
        "casting",
        "Resin and silicone",
        "Epoxy, polyester and polyurethane sensitise skin and lungs, polyurethane through its"
        " isocyanates: choose the least harmful that serves, ventilate, wear nitrile gloves, never"
        " sand what has not fully cured. Large pours heat up and may catch fire.",
        "the maker's safety data sheets and local rules of work",
    ),
    _caution(
        "casting",
        "Plaster on skin",
        "Setting plaster heats up: never cast around a hand or foot. Wet plaster burns the skin.",
        "the maker's safety data sheets",
    ),
    _caution(
        "finish",
        "Paints and solvents",
        "Solvents and aerosols burn and stupefy; some pigments are poisonous as dust.",
        "the maker's safety data sheets",
    ),
    _caution(
        "feathers",
        "Old skins and mounts",
        "Old taxidermy commonly holds arsenic and often mercury. Take no part of it without a"
        " test; gloves, a mask for fine dust, and no food or pencils in the room. Waste from it is"
        " hazardous waste.",
        "a conservator",
    ),
    _caution(
        "feathers",
        "Protected birds",
        "Feathers of wild birds are protected in many countries, whether found, shed or old; some"
        " species need permits for trade, loan or travel. Dyed feathers of domestic fowl are the"
        " usual stand-in.",
        "national and international law, and the registrar",
    ),
    _caution(
        "base",
        "Tipping",
        "A figure that people can reach is climbed on, leaned against and pulled. It is anchored"
        " or kept out of reach, and nobody works beneath it before it is fixed.",
        "local building codes and a licensed structural engineer",
    ),
    _caution(
        "moving",
        "Lifting",
        "Lift with the crate, close to the body, never by neck, wing or beak. Heavier than one"
        " person's share: two people, a trolley or a hoist.",
        "local rules of work",
    ),
)


def cautions_at(stage: str) -> tuple[BuildCaution, ...]:
    """Return the cautions of a stage, in order."""
    return tuple(caution for caution in BUILD_CAUTIONS if caution.stage == stage)
