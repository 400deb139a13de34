"""Chapters of the booklet about what is made first: armature, hoops and drawings, prints."""

from collections import Counter
from collections.abc import Mapping, Sequence

from bonewright.workshop.armature import Armature, BarChosen
from bonewright.workshop.armature_drawing import armature_drawing, bar_letters
from bonewright.workshop.booklet_blocks import (
    Block,
    Caution,
    Chapter,
    Column,
    Picture,
    Steps,
    Table,
    Text,
)
from bonewright.workshop.cut_list import CutPlan
from bonewright.workshop.dimensions import number
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.pack_choices import PackChoices
from bonewright.workshop.pack_drawings import PackDrawings
from bonewright.workshop.pack_prints import pieces_drawing
from bonewright.workshop.print_bores import PLAY_MM
from bonewright.workshop.print_parts import FILAMENT_G_CM3, PrintPart, PrintSet
from bonewright.workshop.print_pegs import CLEARANCE_MM
from bonewright.workshop.telling import plain_number, told

__all__ = ["armature_chapter", "drawings_chapter", "hoops_chapter", "prints_chapter"]


def armature_chapter(
    figure: FigureToBuild,
    armature: Armature,
    plans: Mapping[str, CutPlan],
    cautions: Sequence[Caution],
) -> Chapter:
    """Tell how the armature is cut, bent and joined."""
    letters = bar_letters(armature.bars)
    named = {
        piece.name: f"{letters[bar.course.name].split()[0]} {piece.name}"
        for bar in armature.bars
        for piece in bar.pieces
    }
    blocks: list[Block] = [
        *cautions,
        Text(
            text=f"The armature weighs {_mass(armature.steel_kg)}; figure and armature together"
            f" {told(armature.mass_kg)}. Every bar is the lightest of the stock list that keeps"
            " its limits of stress and sag, handling and knocks in it."
        ),
        Picture(
            drawing=armature_drawing(figure, armature),
            caption="The bars inside the figure, from the right side and from the front. The"
            " letters are those of the tables. Not to scale: measure on the sheets.",
            alt="Side and front outline of the figure with the armature's bars named by letters.",
            height_mm=82.0,
        ),
        _stock_table(armature, letters),
        _cut_table(plans, named),
        Text(
            lead="How to bend.",
            text="Measure every mark from the start of the cut piece and put it at the middle of"
            " the bend. The angle is how far the bar is bent out of the straight. Where a turn is"
            " given, turn the bar about itself by that much first, anticlockwise as seen from the"
            " end that is still straight. Check each bend on the side view before the next.",
        ),
        _bend_table(armature.bars, named),
    ]
    return Chapter(title="Cut and bend the armature", blocks=tuple(blocks))


def _mass(value: float) -> str:
    return f"{plain_number(1000 * value)} g" if value < 1 else f"{plain_number(value)} kg"


def _stock_table(armature: Armature, letters: Mapping[str, str]) -> Table:
    return Table(
        caption="Bars and what they bear",
        columns=(
            Column(head="Bar", share=1.9),
            Column(head="Stock", share=2.0),
            Column(head="Stress, MPa", share=1.5, align="right"),
            Column(head="allowed", share=0.8, align="right"),
            Column(head="Sag of its tip, mm", share=1.7, align="right"),
            Column(head="allowed", share=0.8, align="right"),
        ),
        rows=tuple(
            (
                f"{letters[bar.course.name].split()[0]} {bar.course.name}",
                bar.stock.stock_id,
                _range(bar.stress.value, bar.stress.low, bar.stress.high),
                f"{bar.allowed_mpa:.0f}",
                _range(bar.sag.value, bar.sag.low, bar.sag.high),
                f"{bar.sag_allowed_mm:.1f}" if bar.sag_allowed_mm else "–",
            )
            for bar in armature.bars
            if bar.course.side != "right"
        ),
        notes=(
            "Left and right bars are alike; the left one is listed. In brackets: 95 % range, from"
            " the mass of the filling. Stress: greatest under the weight, a factor for handling in"
            " it, by beam theory.",
            *(caveat.text for caveat in armature.caveats),
        ),
    )


def _range(value: float, low: float, high: float) -> str:
    digits = 0 if value >= 10 else 1 if value >= 1 else 2
    return f"{value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def _cut_table(plans: Mapping[str, CutPlan], named: Mapping[str, str]) -> Table:
    rows, notes = [], []
    for stock, plan in plans.items():
        for count, (length, pieces, left) in enumerate(
            ((bar.stock_mm, bar.pieces, bar.left_mm) for bar in plan.bars), start=1
        ):
            rows.append(
                (
                    stock if count == 1 else "",
                    f"{length:.0f}",
                    ", ".join(f"{named[name]} {size:.0f}" for name, size in pieces),
                    f"{left:.0f}",
                )
            )
        best = "no plan buys less" if plan.best else "a shorter plan may exist"
        notes.append(f"{stock}: {plan.bought_mm / 1000:.1f} m bought; {best}.")
    return Table(
        caption="Cut list: what to saw from each length of stock, in mm",
        columns=(
            Column(head="Stock", share=1.6),
            Column(head="Length", share=0.7, align="right"),
            Column(head="Pieces", share=4.2),
            Column(head="Left over", share=0.8, align="right"),
        ),
        rows=tuple(rows),
        notes=(*notes, "Pieces hold their allowances for overlaps; saw cuts are taken off."),
    )


def _bend_table(bars: Sequence[BarChosen], named: Mapping[str, str]) -> Table:
    """Give one table of all bends, a row a bend; straight pieces one row."""
    rows = []
    for bar in bars:
        for piece in bar.pieces:
            first = (named[piece.name], f"{piece.cut_mm:.0f}", f"{piece.radius_mm:.0f}")
            if not piece.bends:
                rows.append((*first, "straight", "", "", ""))
            for place, bend in enumerate(piece.bends):
                rows.append(
                    (
                        *(first if place == 0 else ("", "", "")),
                        bend.joint,
                        f"{bend.mark_mm:.0f}" if bend.mark_mm >= 100 else f"{bend.mark_mm:.1f}",
                        f"{bend.turn_deg:+.0f}°" if abs(bend.turn_deg) >= 0.5 else "–",
                        f"{bend.angle_deg:.0f}°",
                    )
                )
    return Table(
        caption="Bends, in the order in which they are made",
        columns=(
            Column(head="Piece", share=1.5),
            Column(head="Cut, mm", share=0.9, align="right"),
            Column(head="Radius, mm", share=0.9, align="right"),
            Column(head="Bend at", share=2.6),
            Column(head="Mark, mm", share=1.0, align="right"),
            Column(head="Turn first", share=1.0, align="right"),
            Column(head="Bend by", share=0.9, align="right"),
        ),
        rows=tuple(rows),
        notes=("The radius is that of the middle of the bar.",),
    )


def drawings_chapter(drawings: PackDrawings, choices: PackChoices) -> Chapter:
    """Tell how the sheets are printed, checked and joined."""
    rows = tuple(
        (
            one.drawing.title,
            str(len(one.tiling.printed)),
            f"{one.tiling.rows} × {one.tiling.columns}" if len(one.tiling.tiles) > 1 else "–",
            f"drawings/{name}.svg, .dxf",
        )
        for name, one in zip(drawings.views, drawings.view_sheets, strict=True)
    )
    steps = [
        "Print drawings/drawings.pdf at 100 %, never “fit to page” or “shrink”.",
        "Lay a ruler on the two bars of each sheet. Both must be 100 mm; if one is not, mend the"
        " printer's settings and print again.",
    ]
    if any(len(one.tiling.tiles) > 1 for one in drawings.view_sheets):
        steps.append(
            "Where a drawing takes several sheets, cut one of two neighbours along the dashed blue"
            " line, lay it on the other cross on cross, and tape. The little map at the foot shows"
            " where a sheet belongs; grey places show nothing and have no sheet."
        )
    steps.append("Hang the side view behind the armature while you bend it.")
    return Chapter(
        title="Print the drawings",
        blocks=(
            Steps(items=tuple(steps)),
            Table(
                caption=f"Drawings at true scale, on {choices.paper.name}",
                columns=(
                    Column(head="Drawing", share=2),
                    Column(head="Sheets", align="right"),
                    Column(head="Rows × columns", share=1.2),
                    Column(head="Files for plotters and cutters", share=2.2),
                ),
                rows=rows,
                notes=(
                    "SVG and DXF hold the same lines in mm. Sizes are those of the median animal.",
                ),
            ),
        ),
    )


def hoops_chapter(drawings: PackDrawings, choices: PackChoices, *, feathered: bool) -> Chapter:
    """Tell how hoops are cut and where they stand."""
    covering = (
        f"Their edge lies {choices.covering_mm:g} mm inside the surface, for what is laid over it."
        if choices.covering_mm
        else "Their edge is the surface: fill clay in flush between them."
    )
    intro = "Hoops of card, threaded on the armature, give the form between the joints. " + covering
    if feathered:
        intro += (
            " They give the body without feathers, on which real feathers are set; the dashed line"
            " is the surface of the plumage, to be cut along if feathers are modelled."
        )
    rows = tuple(
        (
            card.name,
            card.segment.segment,
            f"{100 * card.hoop.station:.0f} %",
            number(card.hoop.along_mm),
            f"{number(2 * card.hoop.half_width_mm)} × "
            f"{number(card.hoop.dorsal_mm + card.hoop.ventral_mm)}",
            str(card.copies),
        )
        for card in drawings.cards
    )
    return Chapter(
        title="Cut the hoops",
        blocks=(
            Text(text=intro),
            Steps(
                items=(
                    "Print hoops/hoops.pdf at 100 % and check its bars. Or"
                    " cut from hoops/hoops.dxf.",
                    "Glue the sheets on card (1.5 to 3 mm) and cut along the full lines. Cut two"
                    " where it says so: one turned over for the other side.",
                    "Bore the circles: the bars pass there. Slit the card from its edge to the"
                    " circle to put it on a bar that is bent already.",
                    "Set each hoop at its distance from the joint, square to the blue line, arrow"
                    " to the back, and fix it.",
                )
            ),
            Table(
                caption="Hoops by station",
                columns=(
                    Column(head="Hoop", share=0.8),
                    Column(head="Segment", share=1.6),
                    Column(head="Station", align="right", share=0.8),
                    Column(head="From its joint, mm", align="right", share=1.3),
                    Column(head="Wide × high, mm", align="right", share=1.5),
                    Column(head="Cut", align="right", share=0.5),
                ),
                rows=rows,
                notes=(
                    "Sizes are of the surface. Hoops narrower than 12 mm get no card: take the"
                    " form of toes and wing tips from the drawings.",
                ),
            ),
        ),
    )


def prints_chapter(
    figure: FigureToBuild,
    sets: Sequence[PrintSet],
    choices: PackChoices,
    cautions: Sequence[Caution],
) -> Chapter:
    """Tell which parts can be printed, how they are joined and what they weigh."""
    printing = choices.printing
    how = (
        f"walls of {printing.wall_mm:g} mm and nothing inside"
        if printing.hollow
        else f"walls of {printing.wall_mm:g} mm and {printing.infill_percent:g} % filling inside,"
        " set in the slicing program"
    )
    blocks: list[Block] = [
        *cautions,
        Text(
            text=f"You need not print anything: head and feet alone save most of the fine work,"
            f" and the rest can be clay. Every set is cut to a bed of {printing.bed.words}, less"
            f" an edge of 4 mm, and meant for {how}. Each piece lies as it is to be printed."
        ),
        Table(
            caption="Sets to print",
            columns=(
                Column(head="Set", share=0.9),
                Column(head="What it is", share=2.6),
                Column(head="Pieces", align="right", share=0.6),
                Column(head="Volume, cm³", align="right", share=0.9),
                Column(head="Mass of print, g", align="right", share=1.2),
                Column(head="Pegs, side × number", share=1.8),
            ),
            rows=tuple(
                (
                    one.name,
                    one.meaning,
                    str(len(one.parts)),
                    plain_number(one.volume_mm3 / 1000),
                    f"{one.mass_g:.0f} ({0.9 * one.mass_g:.0f} to {1.1 * one.mass_g:.0f})",
                    ", ".join(f"{side:g} mm × {count}" for side, count in one.pegs.items()) or "–",
                )
                for one in sets
            ),
            notes=(
                f"Mass: {FILAMENT_G_CM3:g} g/cm³ (polylactide), give or take a tenth for the"
                " printer's own lines. Volume: of the solid before cuts and sockets.",
                *_wall_notes(sets),
            ),
        ),
        Text(
            lead="Pegs.",
            text=f"Pieces are joined by square pegs of 2.5 times their side in length. Sockets are"
            f" {CLEARANCE_MM:g} mm wider on every side. Print the pegs from prints/pegs, or saw"
            " them from square strip. A joint without pegs is too thin for any: glue it alone."
            f" Head and feet are bored {PLAY_MM:g} mm wider than the armature on every side,"
            " where they are thick enough.",
        ),
    ]
    for one in sets:
        if len(one.parts) > 1 and any(one.places_mm) and one.name == "body":
            blocks.append(
                Picture(
                    drawing=pieces_drawing(figure, one),
                    caption="Where the pieces of the body belong: dashed, the cuts; numbers, the"
                    " pieces, several where one lies behind another.",
                    alt="Side and front outline with cuts and numbers of the printed pieces.",
                    height_mm=95.0,
                )
            )
    blocks += [
        _parts_table(one)
        for one in sets
        if len(one.parts) > 1 or any(part.bored for part in one.parts)
    ]
    return Chapter(title="Print parts, if you want to", blocks=tuple(blocks))


def _wall_notes(sets: Sequence[PrintSet]) -> list[str]:
    return [
        f"{one.name}: thinnest wall measured {one.least_wall_mm:.1f} mm."
        for one in sets
        if one.least_wall_mm is not None
    ]


def _sockets(part: PrintPart) -> str:
    told = [f"{count} of {side:g} mm" for side, count in Counter(part.sockets).items()]
    told += ["bored for the armature"] if part.bored else []
    return ", ".join(told) or "none"


def _parts_table(one: PrintSet) -> Table:
    return Table(
        caption=f"Pieces of the {one.name}",
        columns=(
            Column(head="Piece", share=1.1),
            Column(head="On the bed, mm", share=1.5, align="right"),
            Column(head="Lies", share=1.4),
            Column(head="Mass, g", align="right", share=0.7),
            Column(head="Sockets", share=1.8),
        ),
        rows=tuple(
            (
                part.name,
                " × ".join(f"{size:.0f}" for size in part.size_mm),
                part.face_down,
                f"{part.mass_g:.0f}" if part.mass_g >= 10 else f"{part.mass_g:.1f}",
                _sockets(part),
            )
            for part in one.parts
        ),
    )
