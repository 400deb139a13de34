"""What a report is made of, before it is set: chapters of a few kinds of block.

Text is plain. Neither the PDF nor the HTML ever reads it as markup, so whatever a person
typed into a study comes out as they typed it.
"""

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from bonewright.findings import RowRef

if TYPE_CHECKING:
    from bonewright.report.figures.figure import Figure

__all__ = [
    "Block",
    "Chapter",
    "Document",
    "FigureBlock",
    "Formula",
    "Notice",
    "Paragraph",
    "TableBlock",
    "TableColumn",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """A paragraph; ``lead`` opens it in a heavier face."""

    text: str
    lead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A formula in plain signs, and what the signs mean."""

    text: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A framed list. ``kind`` says whether it warns of a number, of harm, or of a gap."""

    kind: Literal["warning", "caution", "gap"]
    title: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumn:
    """A column: its head, its share of the width, and how cells are aligned."""

    head: str
    share: float = 1.0
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableBlock:
    """A table with a caption; the first cell of each row is its head.

    ``row_refs``, if given, has for each row the study's row it speaks of, or None: the page
    makes a link of it.
    """

    caption: str
    columns: tuple[TableColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    row_refs: tuple[RowRef | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FigureBlock:
    """A figure, numbered in the order of the report."""

    figure: "Figure"


Block = Paragraph | Formula | Notice | TableBlock | FigureBlock


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chapter:
    """A chapter: ``key`` is stable and serves as its address in HTML."""

    key: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Document:
    """The whole report. ``invented`` has every page say so."""

    title: str
    animal: str
    question: str
    invented: bool
    made: datetime.date
    made_with: str
    verdict: tuple[str, ...]
    first_page: tuple[Block, ...]
    chapters: tuple[Chapter, ...]
