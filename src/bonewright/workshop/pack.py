"""The workshop pack: one figure, its drawings, hoops, prints, lists, and the booklet that leads."""

import csv
import io
import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from bonewright import __version__
from bonewright.study.spreadsheet_text import harmless
from bonewright.workshop.armature_drawing import armature_bars
from bonewright.workshop.booklet import booklet_pdf
from bonewright.workshop.build_plan import BuildPlan, build_plan
from bonewright.workshop.check_card import check_card_csv
from bonewright.workshop.order_list import order_csv, order_xlsx
from bonewright.workshop.pack_chapters import PackContent, chapters_of, cover_of, facts_of
from bonewright.workshop.pack_choices import PackChoices, figure_words
from bonewright.workshop.pack_drawings import drawing_files, pack_drawings
from bonewright.workshop.pack_prints import print_files
from bonewright.workshop.print_parts import print_sets
from bonewright.workshop.shaping import figure_to_build
from bonewright.workshop.whole_folder import write_folder

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["MARK", "content_of_plan", "pack_content", "pack_files", "write_pack"]

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
    """Compute everything that goes into a pack."""
    progress("Taking the figure out of the results", 0.0)
    figure = figure_to_build(
        run,
        scale_denominator=choices.scale_denominator,
        state=choices.state,
        layer=choices.layer,
    )
    progress("Laying out the armature", 0.15)
    plan = build_plan(run, figure, fill=choices.fill)
    return content_of_plan(plan, choices, progress=progress)


def content_of_plan(
    plan: BuildPlan, choices: PackChoices, *, progress: Progress = _say_nothing
) -> PackContent:
    """Draw and cut what was planned."""
    progress("Drawing", 0.4)
    drawings = pack_drawings(
        plan.figure,
        plan.body if plan.figure.layer == "feathered" else None,
        paper=choices.paper,
        covering_mm=choices.covering_mm,
        bars=armature_bars(plan.armature),
    )
    progress("Cutting for the printer", 0.5)
    return PackContent(
        choices=choices,
        plan=plan,
        drawings=drawings,
        prints=print_sets(
            plan.body,
            choices.printing,
            bars=armature_bars(plan.armature, kinds=("leg", "spine")),
        ),
    )


def pack_files(content: PackContent, *, progress: Progress = _say_nothing) -> dict[str, bytes]:
    """Return the pack's files by their names below its folder."""
    choices, plan, figure = content.choices, content.plan, content.plan.figure
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
    files["tables/order-list.csv"] = order_csv(plan.order)
    files["tables/order-list.xlsx"] = order_xlsx(plan.order)
    if plan.card:
        model = choices.folder_name.removeprefix("workshop-")
        files["tables/check-card.csv"] = check_card_csv(figure, plan.card, model)
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
        "animal": content.plan.figure.animal,
        "invented": content.plan.figure.invented,
        "scale": f"1:{choices.scale_denominator:g}",
        "state": choices.state,
        "layer": choices.layer,
        "filling": content.plan.filling.fill,
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
    csv.writer(text, lineterminator="\n").writerows(
        [harmless(cell) for cell in row] for row in rows
    )
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
