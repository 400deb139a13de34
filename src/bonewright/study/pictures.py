"""Image files at the edge: looked at, measured, shown upright; never run, never changed.

What a file needs before it can be looked at (turning, colours, depth) is done on a copy in
memory and said in ``notes``: nothing is corrected silently. Drawings made of instructions
(SVG, PDF) are refused, because to draw them is to run them.
"""

import hashlib
import io
import warnings
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from bonewright.study.faults import Fault

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["PictureFacts", "picture_facts", "shown_picture"]

MOST_BYTES = 200 * 1024 * 1024
MOST_PIXELS = 150_000_000
_FORMATS = ("PNG", "JPEG", "TIFF", "GIF", "BMP", "WEBP")
_EXPECTED = "a picture: PNG, JPEG, TIFF, GIF, BMP or WebP"
_ORIENTATION_TAG = 0x0112


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureFacts:
    """A picture as it is looked at: width and height in px, upright; SHA-256 of the file.

    ``notes`` say what is done to show it.
    """

    width_px: int
    height_px: int
    checksum: str
    notes: tuple[str, ...]


def picture_facts(path: Path) -> PictureFacts | Fault:
    """Look at an image file: whole and of a known kind, or why it cannot be used.

    The answer is remembered as long as the file keeps its time and size, for the check
    runs while someone types.
    """
    try:
        status = path.stat()
    except OSError:
        return Fault(expected=_EXPECTED, mend="The file cannot be read.")
    return _facts(path, status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=512)
def _facts(path: Path, _changed_ns: int, size_bytes: int) -> PictureFacts | Fault:
    if size_bytes > MOST_BYTES:
        return Fault(
            expected=f"a picture of at most {MOST_BYTES // 2**20} MB",
            mend="Save a smaller copy and mark that.",
        )
    try:
        content = path.read_bytes()
    except OSError:
        return Fault(expected=_EXPECTED, mend="The file cannot be read.")
    image = _open(content)
    if isinstance(image, Fault):
        return image
    (width, height), deep = image.size, _is_deep(image)
    # A JPEG is decoded at an eighth of its size: enough to find that its end is missing.
    image.draft("RGB", (max(1, image.size[0] // 8), max(1, image.size[1] // 8)))
    whole = _load(image)
    if isinstance(whole, Fault):
        return whole
    if whole.getexif().get(_ORIENTATION_TAG, 1) in (5, 6, 7, 8):
        width, height = height, width
    return PictureFacts(
        width_px=width,
        height_px=height,
        checksum=hashlib.sha256(content).hexdigest(),
        notes=_notes(whole, deep=deep),
    )


def shown_picture(path: Path, *, longest_px: int, background: str = "#ffffff") -> bytes | Fault:
    """Return an upright PNG of a picture, no side longer than ``longest_px``."""
    facts = picture_facts(path)
    if isinstance(facts, Fault):
        return facts
    try:
        content = path.read_bytes()
    except OSError:
        return Fault(expected=_EXPECTED, mend="The file cannot be read.")
    image = _open(content)
    if isinstance(image, Fault):
        return image
    image.draft("RGB", (longest_px, longest_px))
    whole = _load(image)
    if isinstance(whole, Fault):
        return whole
    import PIL.Image
    import PIL.ImageOps

    upright = _to_colour(PIL.ImageOps.exif_transpose(image))
    upright.thumbnail((longest_px, longest_px))
    if upright.mode == "RGBA":
        paper = PIL.Image.new("RGB", upright.size, background)
        paper.paste(upright, mask=upright.getchannel("A"))
        upright = paper
    out = io.BytesIO()
    upright.save(out, "PNG", optimize=upright.size[0] <= 200)
    return out.getvalue()


def _open(content: bytes) -> "Image | Fault":
    import PIL.Image

    head = content[:1024].lstrip().lower()
    if head.startswith((b"%pdf", b"<svg", b"<?xml", b"<!doctype", b"<html", b"\xef\xbb\xbf<")):
        return Fault(
            expected=_EXPECTED,
            mend="A drawing made of instructions is not opened, for that would run them. Export"
            " it as PNG and use that.",
        )
    try:
        with warnings.catch_warnings():
            # The size is judged below, in our own words.
            warnings.simplefilter("ignore")
            image = PIL.Image.open(io.BytesIO(content), formats=_FORMATS)
    except PIL.Image.DecompressionBombError:
        return _too_many_pixels()
    except Exception:  # the library raises whatever its parsers raise
        return Fault(
            expected=_EXPECTED,
            mend="The file is no picture of these kinds, or its beginning is damaged. Get it again"
            " or save it as PNG.",
        )
    if image.size[0] * image.size[1] > MOST_PIXELS:
        return _too_many_pixels()
    return image


def _too_many_pixels() -> Fault:
    return Fault(
        expected=f"a picture of at most {MOST_PIXELS // 1_000_000} million pixels",
        mend="Save a smaller copy and mark that.",
    )


def _load(image: "Image") -> "Image | Fault":
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image.load()
            # A broken second page, or broken notes of the camera, break the picture too.
            image.getexif()
            getattr(image, "n_frames", 1)
    except Exception:  # the library raises whatever its parsers raise
        return Fault(
            expected="a whole picture",
            mend="The file is cut off or damaged. Copy it again from where it came from.",
        )
    return image


def _is_deep(image: "Image") -> bool:
    """Say whether a pixel holds more than 8 bits a colour; to be asked before loading."""
    modes = [str(tile[3]) for tile in getattr(image, "tile", ())]
    return image.mode in ("I", "F") or any(";16" in mode for mode in (image.mode, *modes))


def _notes(image: "Image", *, deep: bool) -> tuple[str, ...]:
    notes = []
    if image.getexif().get(_ORIENTATION_TAG, 1) not in (0, 1):
        notes.append("Turned upright, as the camera recorded.")
    if image.mode == "CMYK":
        notes.append("Printing colours (CMYK) are shown as screen colours.")
    if deep:
        notes.append("Of its 16 bits or more a pixel, the screen shows 8.")
    pages = getattr(image, "n_frames", 1)
    if pages > 1:
        notes.append(f"Of its {pages} pages, the first is shown.")
    return tuple(notes)


def _to_colour(image: "Image") -> "Image":
    if image.mode.startswith("I;16") or image.mode in ("I", "F"):
        import PIL.Image

        # Spread from the darkest to the lightest pixel: 16-bit scans often use little of it.
        depth = np.asarray(image, dtype=np.float64)
        low, high = float(np.nanmin(depth)), float(np.nanmax(depth))
        grey = np.nan_to_num((depth - low) * (255.0 / (high - low) if high > low else 0.0))
        return PIL.Image.fromarray(grey.astype(np.uint8)).convert("RGB")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        return image.convert("RGBA")
    return image.convert("RGB")
