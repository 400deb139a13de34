"""The report as A4 pages, in PDF/A-2b for archives."""

import datetime
import json
import re
import tempfile
from pathlib import Path
from typing import Any

from bonewright.errors import BonewrightError
from bonewright.report.blocks import (
    Block,
    Document,
    FigureBlock,
    Formula,
    Notice,
    Paragraph,
    TableBlock,
)
from bonewright.report.document import INVENTED
from bonewright.report.rendering import render_svg
from bonewright.typeface import FONT, fonts_folder

__all__ = ["pdf_of"]

_POINTS_A_PIXEL = 0.75
_LETTERS_A_LINE = 112


def _size_pt(svg: str, side: str) -> float:
    found = re.search(rf'<svg[^>]*\b{side}="([0-9.]+)"', svg)
    if found is None:
        raise BonewrightError(
            "A figure came out without a size.",
            remedy="This is a fault in the program, not in the study: please report it.",
        )
    return _POINTS_A_PIXEL * float(found.group(1))


def _plain(block: Block, folder: Path) -> dict[str, Any]:
    match block:
        case Paragraph():
            return {"kind": "paragraph", "lead": block.lead, "text": block.text}
        case Formula():
            return {"kind": "formula", "text": block.text, "where": block.where}
        case Notice():
            return {
                "kind": "notice",
                "notice": block.kind,
                "title": block.title,
                "items": block.items,
                "lines": sum(-(-len(item) // _LETTERS_A_LINE) for item in block.items),
            }
        case TableBlock():
            return {
                "kind": "table",
                "caption": block.caption,
                "columns": [
                    {"head": c.head, "share": c.share, "align": c.align} for c in block.columns
                ],
                "rows": block.rows,
                "notes": block.notes,
            }
        case FigureBlock(figure=figure):
            svg = render_svg(figure.chart)
            name = f"{figure.key}.svg"
            (folder / name).write_text(svg, encoding="utf-8")
            return {
                "kind": "figure",
                "file": name,
                "title": figure.title,
                "caption": figure.caption,
                "alt": figure.alt,
                "width_pt": _size_pt(svg, "width"),
                "height_pt": _size_pt(svg, "height"),
            }


def pdf_of(document: Document) -> bytes:
    """Set a document as PDF. The same document gives the same bytes on any day."""
    noon = datetime.datetime.combine(document.made, datetime.time(12), tzinfo=datetime.UTC)
    template = Path(__file__).parent / "templates" / "report.typ"
    with tempfile.TemporaryDirectory(prefix="bonewright-") as name:
        folder = Path(name)
        content = {
            "title": document.title,
            "animal": document.animal,
            "question": document.question,
            "invented": document.invented,
            "invented_words": INVENTED,
            "made_with": document.made_with,
            "verdict": document.verdict,
            "font": FONT,
            "first_page": [_plain(block, folder) for block in document.first_page],
            "chapters": [
                {
                    "title": chapter.title,
                    "blocks": [_plain(block, folder) for block in chapter.blocks],
                }
                for chapter in document.chapters
            ],
        }
        text = json.dumps(content, ensure_ascii=False, allow_nan=False)
        (folder / "report.json").write_text(text, encoding="utf-8")
        main = folder / "report.typ"
        main.write_bytes(template.read_bytes())
        return _compiled(main, timestamp=int(noon.timestamp()))


def _compiled(main: Path, *, timestamp: int) -> bytes:
    """Compile with floating figures and tags for screen readers, or with what can be had.

    Typst 0.15 fails with an internal error while tagging some documents in which a floating
    figure meets a table broken over pages. Figures that stand in the text are then tried,
    and as the last resort a document without tags.
    """
    import typst

    def compiled(*, floating: bool, tagged: bool) -> bytes:
        pdf: bytes = typst.compile(
            str(main),
            root=str(main.parent),
            font_paths=[str(fonts_folder())],
            ignore_system_fonts=True,
            pdf_standards="a-2b",
            timestamp=timestamp,
            sys_inputs={"floating": "yes" if floating else "no"},
            pdf_tags=tagged,
        )
        return pdf

    for floating in (True, False):
        try:
            return compiled(floating=floating, tagged=True)
        except typst.TypstError as error:
            if "internal error" not in str(error):
                raise
    return compiled(floating=True, tagged=False)
