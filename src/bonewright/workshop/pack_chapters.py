"""The booklet's chapters in the order of the work, and its cover."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bonewright.workshop.booklet_blocks import Caution, Chapter, Picture, Steps, Text
from bonewright.workshop.build_plan import BuildPlan
from bonewright.workshop.chapters_finishing import (
    base_chapter,
    caution_at,
    check_chapter,
    filling_chapter,
    moving_chapter,
    order_chapter,
    surface_chapter,
)
from bonewright.workshop.chapters_making import (
    armature_chapter,
    drawings_chapter,
    hoops_chapter,
    prints_chapter,
)
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.pack_choices import PackChoices
from bonewright.workshop.pack_drawings import PackDrawings
from bonewright.workshop.print_parts import PrintSet
from bonewright.workshop.telling import told

__all__ = ["PackContent", "chapters_of", "cover_of", "facts_of"]

_FILLS: Final = {"clay": "clay", "clay on foam": "clay on foam", "cast shell": "resin shell"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackContent:
    """Everything a pack is made of."""

    choices: PackChoices
    plan: BuildPlan
    drawings: PackDrawings
    prints: tuple[PrintSet, ...]

    @property
    def within(self) -> FigureToBuild | None:
        """The figure without its feathers, where it has any."""
        return self.plan.body if self.plan.figure.layer == "feathered" else None


def cover_of(content: PackContent) -> Picture:
    """Return the cover's picture: the side view without its dimensions."""
    view = content.drawings.views["side"]
    kept = ("plumage", "body", "bone", "ground")
    side = float(content.plan.figure.size_mm.max())
    drawing = type(view)(
        title=view.title,
        lines=tuple(
            line
            for line in view.lines
            if line.layer in kept and not (line.layer == "ground" and _short(line.points, side))
        ),
    )
    return Picture(
        drawing=drawing,
        caption="",
        alt="The figure from its right side, with the bones inside.",
        height_mm=135.0,
    )


def _short(points: Sequence[tuple[float, float]], side: float) -> bool:
    return bool(np.max(np.ptp(np.array(points), axis=0)) < 0.5 * side)


def facts_of(content: PackContent) -> tuple[tuple[str, str], ...]:
    """Return what the cover says about the figure."""
    figure, standing = content.plan.figure, content.plan.standing
    length, width, height = (f"{size:.0f} mm" for size in figure.size_mm)
    low, high = _spread(figure)
    filling = content.plan.filling
    living_low, living_high = figure.living_mass95_kg
    return (
        ("Height", height),
        ("Length", length),
        ("Width", width),
        ("Open by the bones", f"{low:+.0f} to {high:+.0f} % in length (95 %)"),
        ("Filled with", _FILLS[filling.fill]),
        ("Mass, with armature", told(content.plan.armature.mass_kg)),
        ("With its base", told(standing.mass_kg)),
        (
            "Living animal",
            f"{figure.living_mass_kg:.3g} kg ({living_low:.3g} to {living_high:.3g})",
        ),
        ("Sheets of drawings", str(content.drawings.n_sheets)),
        ("Sheets of hoops", str(content.drawings.n_card_sheets)),
    )


def _spread(figure: FigureToBuild) -> tuple[float, float]:
    """Return how far, in %, the bones leave the size open: the largest segment's length."""
    largest = max(figure.segments, key=lambda segment: segment.length_mm)
    low, high = largest.length95_mm
    return 100 * (low / largest.length_mm - 1), 100 * (high / largest.length_mm - 1)


def chapters_of(content: PackContent) -> tuple[Chapter, ...]:
    """Return the chapters in the order of the work."""
    choices, figure = content.choices, content.plan.figure
    hoops = (
        (hoops_chapter(content.drawings, choices, feathered=content.within is not None),)
        if content.drawings.cards
        else ()
    )
    return (
        _start_chapter(content),
        order_chapter(content.plan.order),
        drawings_chapter(content.drawings, choices),
        armature_chapter(
            content.plan.body, content.plan.armature, content.plan.cuts, caution_at("armature")
        ),
        *hoops,
        prints_chapter(content.plan.body, content.prints, choices, _print_cautions()),
        filling_chapter(content.plan.filling, content.plan.materials),
        surface_chapter(content.plan.materials),
        base_chapter(content.plan.standing),
        *(
            (check_chapter(content.plan.card, figure.scale_denominator),)
            if content.plan.card
            else ()
        ),
        moving_chapter(content.plan.standing),
    )


def _print_cautions() -> tuple[Caution, ...]:
    return (
        Caution(
            title="Take care",
            items=(
                (
                    "Printing and sanding",
                    "Molten filament gives off fine particles and resin for printers sensitises"
                    " the skin: ventilate, wear nitrile gloves, sand wet and with a mask. Decides:"
                    " the maker's safety data sheets and local rules of work.",
                ),
            ),
        ),
    )


def _start_chapter(content: PackContent) -> Chapter:
    figure = content.plan.figure
    invented = (
        " The animal, its island and its collections are invented: this is a demonstration."
        if figure.invented
        else ""
    )
    outermost = {
        "skeleton": "The skeleton is built: measured bones in simple forms, rods for the others.",
        "naked": "The body is built up to its skin, without feathers.",
        "feathered": "Armature, hoops and filling give the body up to its skin; feathers are set"
        " on it. Outlines show both surfaces.",
    }[figure.layer]
    return Chapter(
        title="Read this first",
        blocks=(
            Text(
                text="This booklet leads through the building of one figure: the animal standing,"
                " at the median size that its bones give, its centre of mass over its feet."
                f" {outermost}{invented}"
            ),
            Text(
                lead="What is sure and what is not.",
                text="Lengths of the long bones are measured. The outline of the flesh follows a"
                " body plan and the soft parts that the study states; the pose is one in which the"
                " animal could stand. Where a number has a range in brackets, the true one lies in"
                " it 19 times in 20, as far as the study knows.",
            ),
            Steps(
                items=(
                    "Read the cautions in the red boxes, each where the danger arises. Local"
                    " codes, the conservator and a licensed structural engineer decide.",
                    "Order what is on the list; feathers and bars take longest.",
                    "Print one sheet of drawings and check its bars of 100 mm before you print"
                    " the rest.",
                    "Work in the order of the chapters and tick each step.",
                    "Measure the finished figure with the check card, and give the numbers back.",
                )
            ),
            Text(
                lead="The folder.",
                text="booklet.pdf is this booklet. drawings and hoops hold sheets at true scale as"
                " PDF, SVG and DXF; prints holds STL and 3MF in mm; screen holds the figure as GLB"
                " to turn on a screen; tables holds lists for a spreadsheet; pack.json tells which"
                " choices it was made with. Made again, the folder is replaced whole: keep notes"
                " elsewhere.",
            ),
        ),
    )
