"""The report as one self-contained HTML file: no script, nothing to load."""

import base64
from functools import cache
from typing import TYPE_CHECKING, Any

from bonewright.report.blocks import Block, Document, FigureBlock, Formula, Notice, Paragraph
from bonewright.report.document import INVENTED
from bonewright.report.rendering import render_svg
from bonewright.typeface import FONT, fonts_folder

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["html_of"]

_FACES = ((400, "SourceSans3-Regular.ttf.woff2"), (600, "SourceSans3-Semibold.ttf.woff2"))


@cache
def _faces() -> tuple[tuple[int, str], ...]:
    return tuple(
        (weight, base64.b64encode((fonts_folder() / name).read_bytes()).decode("ascii"))
        for weight, name in _FACES
    )


def _kind(block: Block) -> str:
    match block:
        case Paragraph():
            return "paragraph"
        case Formula():
            return "formula"
        case Notice():
            return "notice"
        case FigureBlock():
            return "figure"
        case _:
            return "table"


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

    environment = Environment(
        loader=PackageLoader("bonewright.report", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["kind"] = _kind
    return environment


def html_of(document: Document) -> str:
    """Set a document as HTML."""
    from markupsafe import Markup

    numbers: dict[str, Any] = {"figure": {}, "table": {}}
    drawings: dict[str, Markup] = {}
    blocks = [
        *document.first_page,
        *(block for chapter in document.chapters for block in chapter.blocks),
    ]
    for block in blocks:
        kind = _kind(block)
        if kind in numbers:
            numbers[kind][id(block)] = len(numbers[kind]) + 1
        if isinstance(block, FigureBlock):
            # Drawn by Vega from data it escapes itself, so it is markup as it stands.
            drawings[block.figure.key] = Markup(render_svg(block.figure.chart))  # noqa: S704
    template = _environment().get_template("report.html.jinja")
    return template.render(
        document=document,
        drawings=drawings,
        number_of=lambda block: numbers[_kind(block)][id(block)],
        faces=_faces(),
        font=FONT,
        invented_words=INVENTED,
    )
