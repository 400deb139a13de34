"""The drawings of a pack: views, sections and hoop cards, and the files they make."""

from collections.abc import Sequence
from dataclasses import dataclass

from bonewright.workshop.drawing import Drawing
from bonewright.workshop.dxf_drawing import dxf_of
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.hoop_cards import Bar, HoopCard, card_sheets, hoop_cards
from bonewright.workshop.paper import MARGIN_MM, Paper
from bonewright.workshop.sections_drawn import key_sections
from bonewright.workshop.sheets import SheetSet, sheets_of, sheets_pdf
from bonewright.workshop.svg_drawing import svg_of
from bonewright.workshop.views import view_drawing

__all__ = ["PackDrawings", "drawing_files", "pack_drawings"]

_BETWEEN_MM = 10.0
_VIEW_NOTE = (
    "Blue: axes from joint to joint. Red: hoops. White: bones. Heights count from the ground,"
    " places from amid the feet, forwards +."
)
_SECTION_NOTE = "Seen from the joint outwards, back up, the animal's left on the right."
_CARD_NOTE = "Cut along the full line. Arrow: towards the back. Circle: the armature runs through."
_FEATHER_NOTE = " Dashed: surface of the feathers; cut there if you model them."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackDrawings:
    """Drawings by the name of their file, hoop cards, and both on their sheets."""

    views: dict[str, Drawing]
    cards: tuple[HoopCard, ...]
    card_drawings: tuple[Drawing, ...]
    view_sheets: tuple[SheetSet, ...]
    card_sheets: tuple[SheetSet, ...]

    @property
    def n_sheets(self) -> int:
        """How many sheets of paper the views take."""
        return sum(len(one.tiling.printed) for one in self.view_sheets)

    @property
    def n_card_sheets(self) -> int:
        """How many sheets the hoops take."""
        return sum(len(one.tiling.printed) for one in self.card_sheets)


def pack_drawings(
    figure: FigureToBuild,
    within: FigureToBuild | None,
    *,
    paper: Paper,
    covering_mm: float,
    bars: Sequence[Bar],
) -> PackDrawings:
    """Draw everything at the figure's own scale and spread it over paper."""
    views = {name: view_drawing(figure, within, name) for name in ("side", "front", "top")}
    sections = key_sections(figure, within, row_mm=paper.width_mm - 2 * MARGIN_MM - 4.0)
    if sections is not None:
        views["sections"] = sections
    cards = hoop_cards(figure, within, covering_mm=covering_mm, bars=bars)
    packed = card_sheets(cards, paper)
    note = _CARD_NOTE + (_FEATHER_NOTE if within is not None else "")
    return PackDrawings(
        views=views,
        cards=cards,
        card_drawings=packed,
        view_sheets=tuple(
            sheets_of(drawing, paper, note=_SECTION_NOTE if name == "sections" else _VIEW_NOTE)
            for name, drawing in views.items()
        ),
        card_sheets=tuple(sheets_of(drawing, paper, note=note) for drawing in packed),
    )


def _side_by_side(drawings: Sequence[Drawing]) -> Drawing:
    """Lay all cards out in one drawing, as a cutter takes them."""
    together = Drawing(title="Hoops to cut from card")
    x = 0.0
    for drawing in drawings:
        left, right, _, top = drawing.extent()
        placed = drawing.moved(x - left, -top)
        together = together.with_more(placed.lines, placed.words)
        x += right - left + _BETWEEN_MM
    return together


def drawing_files(
    drawings: PackDrawings, *, figure_words: str, made_with: str, invented: bool, stamp: int
) -> dict[str, bytes]:
    """Return the drawings' files: SVG and DXF of each, and the PDFs of all sheets."""
    files: dict[str, bytes] = {}
    named: list[tuple[str, Drawing]] = [
        (f"drawings/{name}", drawing) for name, drawing in drawings.views.items()
    ]
    if drawings.card_drawings:
        named.append(("hoops/hoops", _side_by_side(drawings.card_drawings)))
    for name, drawing in named:
        files[f"{name}.svg"] = svg_of(drawing, margin_mm=2.0)[0].encode("utf-8")
        files[f"{name}.dxf"] = dxf_of(drawing).encode("utf-8")

    def pdf(sets: Sequence[SheetSet]) -> bytes:
        return sheets_pdf(
            sets,
            figure_words=figure_words,
            made_with=made_with,
            invented=invented,
            stamp=stamp,
        )

    files["drawings/drawings.pdf"] = pdf(drawings.view_sheets)
    if drawings.card_sheets:
        files["hoops/hoops.pdf"] = pdf(drawings.card_sheets)
    return files
