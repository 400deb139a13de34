"""Contours laid over the pictures they were traced in, to be looked at before they are used."""

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from bonewright.report.theme import INK, LOST, MUTED
from bonewright.sections.shape import Ring
from bonewright.typeface import FONT_LIST

__all__ = ["Contour", "contour_sheet", "picture_shown"]

_LONGEST_PX = 900
_TOP_SHARE = 0.005


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contour:
    """A picture, bright for bone, and the rings found in it (mm from its middle, y up)."""

    title: str
    grey: NDArray[Any]
    pixel_mm: float
    rings_mm: tuple[Ring, ...]


def contour_sheet(contours: Sequence[Contour], *, words: Sequence[str], across: int = 1) -> str:
    """Draw contours over their pictures as one SVG, ``across`` beside each other.

    ``words`` are lines set below. A bar gives the scale of each picture.
    """
    width = 640 / across - 12
    rows = -(-len(contours) // across)
    heights = [width * c.grey.shape[0] / c.grey.shape[1] for c in contours]
    tall = max(heights)
    total = rows * (tall + 34) + 20 * len(words) + 16
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="640" height="{total:.0f}"'
        f' viewBox="0 0 640 {total:.0f}" font-family="{FONT_LIST}" font-size="12"'
        f' fill="{INK}"><rect width="640" height="{total:.0f}" fill="#ffffff"/>'
    ]
    for place, contour in enumerate(contours):
        row, column = divmod(place, across)
        at = f"translate({column * (width + 12) + 6:.1f},{row * (tall + 34) + 18:.1f})"
        parts.append(f'<g transform="{at}">{_one(contour, width)}</g>')
    base = rows * (tall + 34) + 20
    for number, line in enumerate(words):
        parts.append(
            f'<text x="6" y="{base + 20 * number:.0f}" font-size="13">{escape(line)}</text>'
        )
    return "".join(parts) + "</svg>\n"


def _one(contour: Contour, width: float) -> str:
    n_rows, n_columns = contour.grey.shape
    scale = width / (n_columns * contour.pixel_mm)
    height = n_rows * contour.pixel_mm * scale
    middle_x, middle_y = width / 2, height / 2
    path = "".join(
        "M"
        + "L".join(f"{middle_x + scale * x:.2f},{middle_y - scale * y:.2f}" for x, y in ring)
        + "Z"
        for ring in contour.rings_mm
    )
    bar_mm = max(
        (b for b in (0.5, 1, 2, 5, 10, 20, 50, 100) if b * scale <= width / 3), default=0.5
    )
    bar = bar_mm * scale
    return (
        f'<text x="0" y="-5" fill="{MUTED}">{escape(contour.title)}</text>'
        f'<image width="{width:.2f}" height="{height:.2f}" href="{picture_shown(contour.grey)}"/>'
        f'<path d="{path}" fill="none" stroke="#ffffff" stroke-width="3.4" opacity="0.7"/>'
        f'<path d="{path}" fill="none" stroke="{LOST}" stroke-width="1.6"/>'
        f'<path d="M{width - bar - 8:.1f},{height - 8:.1f}h{bar:.1f}" stroke="#ffffff"'
        f' stroke-width="5"/><path d="M{width - bar - 8:.1f},{height - 8:.1f}h{bar:.1f}"'
        f' stroke="{INK}" stroke-width="2.5"/>'
        f'<text x="{width - 8:.1f}" y="{height - 14:.1f}" text-anchor="end" fill="#ffffff"'
        f' stroke="{INK}" stroke-width="2.5" paint-order="stroke">{bar_mm:g} mm</text>'
    )


def picture_shown(grey: NDArray[Any]) -> str:
    """Return a grey picture as the address of a PNG, at most 900 px long, its contrast spread."""
    from PIL import Image

    step = max(1, -(-max(grey.shape) // _LONGEST_PX))
    small = np.asarray(grey[::step, ::step], dtype=np.float64)
    low, high = np.quantile(small, [_TOP_SHARE, 1 - _TOP_SHARE])
    shown = np.clip((small - low) / max(high - low, 1e-9), 0, 1) * 255
    stream = io.BytesIO()
    Image.fromarray(shown.astype(np.uint8)).save(stream, format="PNG")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")
