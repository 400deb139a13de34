"""What a booklet for the bench is made of: chapters of words, steps, tables, cautions, pictures."""

from dataclasses import dataclass
from typing import Literal

from bonewright.workshop.drawing import Drawing

__all__ = [
    "Block",
    "Caution",
    "Chapter",
    "Column",
    "Picture",
    "Steps",
    "Table",
    "Text",
    "WriteIn",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A paragraph; ``lead`` opens it in strong letters."""

    text: str
    lead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """What to do, one step after the other, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What can hurt somebody, where it arises: each danger's name, and what to do."""

    title: str
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table: its head, its share of the width, where its cells stand."""

    head: str
    share: float = 1.0
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with its caption and notes."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteIn(Table):
    """A table with empty cells to write in at the bench."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing made smaller to fit the page, so never to be measured; ``alt`` says it in words."""

    drawing: Drawing
    caption: str
    alt: str
    height_mm: float = 110.0


Block = Text | Steps | Caution | Table | Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """One step of the work."""

    title: str
    blocks: tuple[Block, ...]
