"""What a person chooses of a workshop pack, with defaults that suit a first model."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from bonewright.errors import OutsideRange
from bonewright.workshop.filling import FILLS
from bonewright.workshop.paper import PAPERS, Paper, roll
from bonewright.workshop.print_cutting import Bed
from bonewright.workshop.print_parts import PrintChoices

__all__ = ["PackChoices", "bed_from", "figure_words", "paper_from", "scale_from"]

_STATE_WORDS: Final[Mapping[str, str]] = {
    "lean": "lean",
    "mean": "average fatness",
    "fat": "fat",
}
_LAYER_WORDS: Final[Mapping[str, str]] = {
    "skeleton": "skeleton",
    "naked": "without feathers",
    "feathered": "with feathers",
}
_NARROWEST_ROLL_MM, _WIDEST_ROLL_MM = 170.0, 2000.0
_THINNEST_MM, _THICKEST_MM = 0.4, 20.0
# The bed of a common desktop printer (common practice).
DESKTOP_BED: Final = Bed(width_mm=220.0, depth_mm=220.0, height_mm=250.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackChoices:
    """Which figure is built, and with what it is drawn and printed.

    ``scale_denominator`` is n of 1:n. The defaults make a table-top model: a quarter of life
    size shows the whole stance and still fits a small printer and a few sheets of A4; the
    mean over the year is what a label speaks of; feathered, since that is what visitors see.
    ``covering_mm`` is how far hoops lie below the surface: 0 where clay is filled in flush
    between them. ``fill`` is how the figure is filled, or None for what suits its size.
    """

    scale_denominator: float = 4.0
    state: str = "mean"
    layer: str = "feathered"
    fill: str | None = None
    paper: Paper = PAPERS["A4"]
    bed: Bed = DESKTOP_BED
    wall_mm: float = 2.0
    infill_percent: float = 10.0
    hollow: bool = False
    covering_mm: float = 0.0

    def __post_init__(self) -> None:
        for word, known, kind in (
            (self.state, tuple(_STATE_WORDS), "state"),
            (self.layer, tuple(_LAYER_WORDS), "layer"),
            (self.fill or FILLS[0], FILLS, "filling"),
        ):
            if word not in known:
                raise OutsideRange(
                    f"There is no {kind} '{word}'.", remedy=f"Choose one of: {', '.join(known)}."
                )
        for value, low, high, name, unit in (
            (self.wall_mm, _THINNEST_MM, _THICKEST_MM, "wall of a print", " mm"),
            (self.infill_percent, 0.0, 100.0, "filling of a print", " %"),
            (self.covering_mm, 0.0, 100.0, "covering over the hoops", " mm"),
        ):
            if not low <= value <= high:
                raise OutsideRange(
                    f"A {name} of {value:g}{unit} cannot be made.",
                    remedy=f"Give a number between {low:g} and {high:g}{unit}.",
                )

    @property
    def folder_name(self) -> str:
        """A folder's name for the pack: 'workshop-1-4-feathered-mean'."""
        scale = f"{self.scale_denominator:g}".replace(".", "p")
        return f"workshop-1-{scale}-{self.layer}-{self.state}"

    @property
    def printing(self) -> PrintChoices:
        """How pieces are printed."""
        return PrintChoices(
            bed=self.bed,
            wall_mm=self.wall_mm,
            infill_percent=self.infill_percent,
            hollow=self.hollow,
        )


def scale_from(words: str) -> float:
    """Read a scale: '4' or '1:4' for a quarter of life size, '1' or '1:1' for life size.

    Raises
    ------
    OutsideRange
        If it is no number above 0.
    """
    first, colon, second = words.strip().replace(",", ".").partition(":")
    try:
        denominator = float(second) / float(first) if colon else float(first)
    except (ValueError, ZeroDivisionError):
        denominator = 0.0
    if not 0 < denominator < float("inf"):
        raise OutsideRange(
            f"'{words}' is no scale.",
            remedy="Give n of the scale 1:n, as in: 4 or 1:4; 1 is life size.",
        )
    return denominator


def paper_from(words: str) -> Paper:
    """Read a paper: A4, A3, letter, or a roll by its width, as 'roll 914'.

    Raises
    ------
    OutsideRange
        If there is no such paper.
    """
    name = words.strip().casefold()
    for known, paper in PAPERS.items():
        if name == known.casefold():
            return paper
    found = re.fullmatch(r"roll[ -]?(\d+(?:\.\d+)?)(?: ?mm)?", name)
    if found and _NARROWEST_ROLL_MM <= float(found.group(1)) <= _WIDEST_ROLL_MM:
        return roll(float(found.group(1)))
    raise OutsideRange(
        f"There is no paper '{words}'.",
        remedy=f"Choose one of {', '.join(PAPERS)}, or a roll by its width in mm, from"
        f" {_NARROWEST_ROLL_MM:g} to {_WIDEST_ROLL_MM:g}, as in: roll 914.",
    )


def bed_from(words: str) -> Bed:
    """Read a printer's bed: width, depth and height in mm, as '220x220x250'.

    Raises
    ------
    OutsideRange
        If it is not three sizes, or too small to print on.
    """
    parts = re.split(r"\s*[x×*,;]\s*", words.strip().casefold().removesuffix("mm").strip())
    try:
        width, depth, height = (float(part) for part in parts)
    except ValueError as error:
        raise OutsideRange(
            f"'{words}' is no printer's bed.",
            remedy="Give its width, depth and height in mm, as in: 220x220x250.",
        ) from error
    return Bed(width_mm=width, depth_mm=depth, height_mm=height)


def figure_words(*, scale_denominator: float, state: str, layer: str) -> str:
    """Say which figure it is: 'scale 1:4, with feathers, average fatness'."""
    scale = "life size" if scale_denominator == 1 else f"scale 1:{scale_denominator:g}"
    return f"{scale}, {_LAYER_WORDS[layer]}, {_STATE_WORDS[state]}"
