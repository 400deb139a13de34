"""Drawings set on sheets as one PDF: at true scale, each sheet with its own bar of 100 mm."""

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bonewright.typeface import FONT, fonts_folder
from bonewright.workshop.drawing import Drawing
from bonewright.workshop.paper import (
    MARGIN_MM,
    STRIP_MM,
    Paper,
    Tile,
    Tiling,
    joint_lines,
    tiling_of,
)
from bonewright.workshop.svg_drawing import svg_of

__all__ = ["SheetSet", "compiled_pdf", "sheets_of", "sheets_pdf"]

# Room around a drawing, so that marks at its edge are whole.
_AROUND_MM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSet:
    """One drawing on its sheets, with what the strip at their foot says."""

    drawing: Drawing
    tiling: Tiling
    note: str = ""


def sheets_of(drawing: Drawing, paper: Paper, *, note: str = "") -> SheetSet:
    """Spread a drawing over sheets; joints and marks are added where there are several."""
    tiling = tiling_of(drawing, paper)
    return SheetSet(drawing=drawing.with_more(joint_lines(tiling)), tiling=tiling, note=note)


def sheets_pdf(
    sets: Sequence[SheetSet], *, figure_words: str, made_with: str, invented: bool, stamp: int
) -> bytes:
    """Set drawings as a PDF, a page a sheet.

    Parameters
    ----------
    figure_words : str
        Which figure they are of: 'Animal, 1:4, feathered, average fatness'.
    made_with : str
        Program and version.
    stamp : int
        Seconds since 1970 that the file gives as its time, so that the bytes can be repeated.

    Notes
    -----
    Page and drawing are placed in millimetres by the typesetter, whose numbers reach the PDF
    in points with six figures: better than 0.001 mm over A3.
    """
    with tempfile.TemporaryDirectory(prefix="bonewright-") as name:
        folder = Path(name)
        pages: list[dict[str, Any]] = []
        for number, one in enumerate(sets):
            file = f"drawing-{number}.svg"
            svg, corner = svg_of(one.drawing, margin_mm=_AROUND_MM)
            (folder / file).write_text(svg, encoding="utf-8")
            left, right, bottom, top = one.drawing.extent()
            size = (right - left + 2 * _AROUND_MM, top - bottom + 2 * _AROUND_MM)
            pages += [
                _page(one, tile, file=file, size=size, corner=corner) for tile in one.tiling.printed
            ]
        content = {
            "font": FONT,
            "figure": figure_words,
            "made_with": made_with,
            "invented": invented,
            "margin": MARGIN_MM,
            "strip": STRIP_MM,
            "pages": pages,
        }
        return compiled_pdf(folder, "sheets.typ", content, stamp=stamp)


def _page(
    one: SheetSet, tile: Tile, *, file: str, size: tuple[float, float], corner: tuple[float, float]
) -> dict[str, Any]:
    tiling = one.tiling
    return {
        "page": tiling.page_mm,
        "window": tiling.window_mm,
        "file": file,
        "size": size,
        # Of the drawing's upper left corner, from that of the window, to the right and down.
        "offset": (
            corner[0] - tile.left_mm,
            tile.bottom_mm + tiling.window_mm[1] - (corner[1] + size[1]),
        ),
        "title": one.drawing.title,
        "note": one.note,
        "tile": tile.name if len(tiling.tiles) > 1 else "",
        "rows": tiling.rows,
        "columns": tiling.columns,
        "overlap": tiling.overlap_mm,
        "map": [
            {
                "name": other.name,
                "row": other.row,
                "column": other.column,
                "blank": other.blank,
                "here": other is tile,
            }
            for other in tiling.tiles
        ]
        if len(tiling.tiles) > 1
        else [],
    }


def compiled_pdf(folder: Path, template: str, content: dict[str, Any], *, stamp: int) -> bytes:
    """Set a template of this package with its content, which stands in a folder with its files."""
    import typst

    text = json.dumps(content, ensure_ascii=False, allow_nan=False)
    (folder / "content.json").write_text(text, encoding="utf-8")
    main = folder / template
    main.write_bytes((Path(__file__).parent / "templates" / template).read_bytes())
    pdf: bytes = typst.compile(
        str(main),
        root=str(folder),
        font_paths=[str(fonts_folder())],
        ignore_system_fonts=True,
        pdf_standards="a-2b",
        timestamp=stamp,
    )
    return pdf
