"""Pictures made small, as data addresses that a chart can carry with it."""

import base64
from pathlib import Path

from bonewright.study.pictures import shown_picture

__all__ = ["thumbnail_address"]

_LONGEST_PX = 88


def thumbnail_address(folder: Path, name: str | None) -> str | None:
    """Return a small PNG of a study's picture file as a data address; None if there is none."""
    if name is None:
        return None
    path = folder / "files" / name
    shown = shown_picture(path, longest_px=_LONGEST_PX) if path.is_file() else None
    if not isinstance(shown, bytes):
        return None
    return "data:image/png;base64," + base64.b64encode(shown).decode("ascii")
