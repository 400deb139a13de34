"""The workshop pack: one figure, its drawings, hoops, prints, lists, and the booklet that leads."""

import csv
import io
import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from bonewright import __version__
from bonewright.body.lost_parts import LostPartsResult
from bonewright.workshop.armature import Armature, armature_of
from bonewright.workshop.armature_drawing import armature_bars, bar_letters
from bonewright.workshop.booklet import booklet_pdf
from bonewright.workshop.build_rules import BuildRules, build_rules
from bonewright.workshop.cut_list import CutPlan, cut_plan
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import filling_of, fitting_fill
from bonewright.workshop.materials import materials_of
from bonewright.workshop.order_list import order_csv, order_lines, order_xlsx
from bonewright.workshop.pack_chapters import PackContent, chapters_of, cover_of, facts_of
from bonewright.workshop.pack_choices import PackChoices, figure_words
from bonewright.workshop.pack_drawings import drawing_files, pack_drawings
from bonewright.workshop.pack_prints import print_files
from bonewright.workshop.print_parts import print_sets
from bonewright.workshop.shaping import figure_to_build
from bonewright.workshop.standing import standing_of
from bonewright.workshop.whole_folder import write_folder

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["MARK", "content_of_figure", "pack_content", "pack_files", "write_pack"]

MARK = "pack.json"
"""The file by which a pack's folder is known."""

# A fixed time, so that the same study and choices give the same bytes: noon of 1 January 2000.
_STAMP = 946_728_000
Progress = Callable[[str, float], None]


def write_pack(
    run: "Run", choices: PackChoices, out: Path, *, progress: Progress | None = None
) -> Path:
    """Write a workshop pack into a folder, in the place of an earlier pack there.

    Parameters
    ----------
    run : Run
        A study's results, with a body grown from its skeleton.
    choices : PackChoices
    out : Path
        The folder; it is replaced whole if it holds a pack, and refused if it holds anything
        else.
    progress : callable, optional
        Told what is being done, in words, and the share of the work that is done, 0 to 1.

    Returns
    -------
    Path
        The booklet, to be opened first.

    Raises
    ------
    NotEnoughEvidence
        If no body could be grown.
    OutsideRange
        If a choice cannot be built.
    BonewrightError
        If the folder holds other files or cannot be written.
    """
    tell = progress or _say_nothing
    content = pack_content(run, choices, progress=tell)
    files = pack_files(content, progress=tell)
    tell("Writing the folder", 0.95)
    write_folder(out, files, mark=MARK)
    tell("Done", 1.0)
    return out / "booklet.pdf"


def _say_nothing(words: str, share: float) -> None:
    del words, share


def pack_content(
    run: "Run", choices: PackChoices, *, progress: Progress = _say_nothing
) -> PackContent:
    """Compute everything that goes into a pack, from the results of a study."""
    progress("Taking the figure out of the results", 0.0)

    def taken(layer: str) -> FigureToBuild:
        return figure_to_build(
            run, scale_denominator=choices.scale_denominator, state=choices.state, layer=layer
        )

    return content_of_figure(
        taken(choices.layer),
        taken("naked") if choices.layer == "feathered" else None,
        choices=choices,
        rules=build_rules(run.study),
        lost=None if run.body is None else run.body.parts,
        progress=progress,
    )


def content_of_figure(
    figure: FigureToBuild,
    within: FigureToBuild | None,
    *,
    choices: PackChoices,
    rules: BuildRules,
    lost: LostPartsResult | None,
    progress: Progress = _say_nothing,
) -> PackContent:
    """Compute everything that goes into a pack, from a figure.

    Parameters
    ----------
    within : FigureToBuild or None
        The figure without its feathers, where it has any.
    lost : LostPartsResult or None
        Sizes of the parts that do not fossilise.
    """
    core = within or figure
    progress("Laying out the armature", 0.2)
    filling = filling_of(core, choices.fill or fitting_fill(core), rules)
    armature = armature_of(core, filling, rules)
    plans = _cut_plans(armature, rules)
    materials = materials_of(figure, filling, rules, lost)
    standing = standing_of(figure, armature, rules)
    orders = order_lines(
        materials=materials,
        armature=armature,
        cuts=plans,
        base=standing.base,
        rules=rules,
        cast=filling.fill == "cast shell",
    )
    progress("Drawing", 0.4)
    drawings = pack_drawings(
        figure,
        within,
        paper=choices.paper,
        covering_mm=choices.covering_mm,
        bars=armature_bars(armature),
    )
    progress("Cutting for the printer", 0.5)
    return PackContent(
        choices=choices,
        figure=figure,
        within=within,
        armature=armature,
        plans=plans,
        materials=materials,
        standing=standing,
        orders=orders,
        drawings=drawings,
        prints=print_sets(core, choices.printing),
    )


def _cut_plans(armature: Armature, rules: BuildRules) -> dict[str, CutPlan]:
    """Plan the cutting of each stock; its pieces have the letters of the drawing."""
    letters = bar_letters(armature.bars)
    pieces: dict[str, list[tuple[str, float]]] = {}
    lengths: dict[str, float] = {}
    for bar in armature.bars:
        name = letters[bar.course.name]
        lengths[bar.stock.stock_id] = bar.stock.length_mm
        for number, piece in enumerate(bar.pieces, start=1):
            text = f"{name} piece {number}" if len(bar.pieces) > 1 else name
            pieces.setdefault(bar.stock.stock_id, []).append((text, piece.cut_mm))
    saw = rules.limit("saw cut (mm)")
    return {
        stock: cut_plan(wanted, [lengths[stock]], saw_cut_mm=saw)
        for stock, wanted in pieces.items()
    }


def pack_files(content: PackContent, *, progress: Progress = _say_nothing) -> dict[str, bytes]:
    """Return the pack's files by their names below its folder."""
    choices, figure = content.choices, content.figure
    words = figure_words(
        scale_denominator=choices.scale_denominator, state=choices.state, layer=choices.layer
    )
    made_with = f"Bonewright {__version__}"
    progress("Writing drawings", 0.6)
    files = drawing_files(
        content.drawings,
        figure_words=f"{figure.animal}, {words}",
        made_with=made_with,
        invented=figure.invented,
        stamp=_STAMP,
    )
    progress("Writing prints", 0.75)
    files |= print_files(figure, content.within, content.prints)
    progress("Setting the booklet", 0.9)
    files["tables/order-list.csv"] = order_csv(content.orders)
    files["tables/order-list.xlsx"] = order_xlsx(content.orders)
    files["tables/hoops.csv"] = _hoop_rows(content)
    files["tables/prints.csv"] = _print_rows(content)
    files["booklet.pdf"] = booklet_pdf(
        chapters_of(content),
        title=figure.title,
        animal=figure.animal,
        figure_words=words,
        facts=facts_of(content),
        cover=cover_of(content),
        invented=figure.invented,
        made_with=made_with,
        stamp=_STAMP,
    )
    files[MARK] = _mark(content, files)
    return files


def _mark(content: PackContent, files: Iterable[str]) -> bytes:
    choices = content.choices
    told = {
        "made_with": f"Bonewright {__version__}",
        "animal": content.figure.animal,
        "invented": content.figure.invented,
        "scale": f"1:{choices.scale_denominator:g}",
        "state": choices.state,
        "layer": choices.layer,
        "filling": content.materials.filling.fill,
        "paper": choices.paper.name,
        "bed_mm": list(choices.bed.sizes),
        "wall_mm": choices.wall_mm,
        "infill_percent": choices.infill_percent,
        "hollow": choices.hollow,
        "covering_mm": choices.covering_mm,
        "files": sorted(files),
    }
    return (json.dumps(told, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _table(rows: Iterable[Sequence[object]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode("utf-8")


def _hoop_rows(content: PackContent) -> bytes:
    header = ("hoop", "segment", "station_percent", "from_joint_mm", "half_width_mm", "above_mm")
    return _table(
        [
            (*header, "below_mm", "cut"),
            *(
                (
                    card.name,
                    card.segment.segment,
                    round(100 * card.hoop.station, 1),
                    round(card.hoop.along_mm, 2),
                    round(card.hoop.half_width_mm, 2),
                    round(card.hoop.dorsal_mm, 2),
                    round(card.hoop.ventral_mm, 2),
                    card.copies,
                )
                for card in content.drawings.cards
            ),
        ]
    )


def _print_rows(content: PackContent) -> bytes:
    header = ("set", "piece", "length_mm", "depth_mm", "height_mm", "volume_cm3", "mass_g")
    return _table(
        [
            (*header, "lies", "pegs_mm"),
            *(
                (
                    one.name,
                    part.name,
                    *(round(float(size), 1) for size in part.size_mm),
                    round(part.volume_mm3 / 1000, 3),
                    round(part.mass_g, 1),
                    part.face_down,
                    " ".join(f"{side:g}" for side in part.sockets),
                )
                for one in content.prints
                for part in one.parts
            ),
        ]
    )
