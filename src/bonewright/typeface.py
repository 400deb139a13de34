"""The one typeface of figures, pages, reports and drawings, shipped with the program."""

from pathlib import Path

__all__ = ["FONT", "FONT_LIST", "fonts_folder"]

FONT = "Source Sans 3"
"""Family of the fonts in ``fonts/`` (SIL Open Font License)."""

FONT_LIST = f"'{FONT}', sans-serif"
"""The family as SVG and CSS need it: quoted, for one of its words begins with a digit."""


def fonts_folder() -> Path:
    """Return the folder of the shipped font files."""
    return Path(__file__).parent / "fonts"
