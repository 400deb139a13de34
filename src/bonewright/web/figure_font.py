"""Figures carry their type with them.

A picture in a page cannot use the page's fonts, and a figure laid out in one type and drawn
in another has labels that overlap. So the font goes into the drawing itself.
"""

from base64 import b64encode
from functools import cache

from bonewright.typeface import FONT, fonts_folder

__all__ = ["with_font"]

_WEIGHTS = {400: "SourceSans3-Regular.ttf.woff2", 600: "SourceSans3-Semibold.ttf.woff2"}


def with_font(svg: str) -> str:
    """Return the drawing with its font embedded."""
    opening = svg.index("<svg")
    end = svg.index(">", opening) + 1
    return svg[:end] + _style() + svg[end:]


@cache
def _style() -> str:
    faces = "".join(
        f'@font-face{{font-family:"{FONT}";font-weight:{weight};'
        f"src:url(data:font/woff2;base64,{_encoded(name)})}}"
        for weight, name in _WEIGHTS.items()
    )
    return f"<defs><style>{faces}</style></defs>"


def _encoded(name: str) -> str:
    return b64encode((fonts_folder() / name).read_bytes()).decode("ascii")
