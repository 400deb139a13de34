"""The booklet as A4 pages, to be read at the bench."""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from bonewright.typeface import FONT
from bonewright.workshop.booklet_blocks import (
    Block,
    Caution,
    Chapter,
    Picture,
    Steps,
    Table,
    Text,
    WriteIn,
)
from bonewright.workshop.sheets import compiled_pdf
from bonewright.workshop.svg_drawing import svg_of

__all__ = ["booklet_pdf"]

_AROUND_MM = 2.0
_TEXT_WIDTH_MM = 170.0


def booklet_pdf(
    chapters: Sequence[Chapter],
    *,
    title: str,
    animal: str,
    figure_words: str,
    facts: Sequence[tuple[str, str]],
    cover: Picture,
    invented: bool,
    made_with: str,
    stamp: int,
) -> bytes:
    """Set the booklet: a cover with the facts of the figure, then its chapters.

    Parameters
    ----------
    figure_words : str
        Which figure it is: 'scale 1:4, with feathers, average fatness'.
    facts : sequence of (name, value)
        What the cover says about the figure.
    stamp : int
        Seconds since 1970 that the file gives as its time.
    """
    with tempfile.TemporaryDirectory(prefix="bonewright-") as name:
        folder = Path(name)
        pictures = _Pictures(folder)
        content = {
            "font": FONT,
            "title": title,
            "animal": animal,
            "figure": figure_words,
            "facts": [list(fact) for fact in facts],
            "cover": pictures.plain(cover),
            "invented": invented,
            "made_with": made_with,
            "chapters": [
                {
                    "title": chapter.title,
                    "blocks": [_plain(block, pictures) for block in chapter.blocks],
                }
                for chapter in chapters
            ],
        }
        return compiled_pdf(folder, "booklet.typ", content, stamp=stamp)


class _Pictures:
    """Pictures written beside the template, each once."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._count = 0

    def plain(self, picture: Picture) -> dict[str, Any]:
        self._count += 1
        file = f"picture-{self._count}.svg"
        left, right, bottom, top = picture.drawing.extent()
        pen = max((top - bottom) / picture.height_mm, (right - left) / _TEXT_WIDTH_MM)
        svg, _ = svg_of(picture.drawing, margin_mm=_AROUND_MM, pen=pen)
        (self._folder / file).write_text(svg, encoding="utf-8")
        return {
            "kind": "picture",
            "file": file,
            "caption": picture.caption,
            "alt": picture.alt,
            "height": picture.height_mm,
            "shape": (right - left + 2 * _AROUND_MM) / (top - bottom + 2 * _AROUND_MM),
        }


def _plain(block: Block, pictures: _Pictures) -> dict[str, Any]:
    match block:
        case Text():
            return {"kind": "text", "lead": block.lead, "text": block.text}
        case Steps():
            return {"kind": "steps", "items": block.items}
        case Caution():
            return {"kind": "caution", "title": block.title, "items": block.items}
        case Picture():
            return pictures.plain(block)
        case Table():
            return {
                "kind": "table",
                "write_in": isinstance(block, WriteIn),
                "caption": block.caption,
                "columns": [
                    {"head": c.head, "share": c.share, "align": c.align} for c in block.columns
                ],
                "rows": block.rows,
                "notes": block.notes,
            }
