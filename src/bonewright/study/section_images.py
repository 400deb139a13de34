"""Photographs, scans and single CT slices of a section: a grey picture."""

import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import StudyProblems
from bonewright.study.raw import whole_file

__all__ = ["IMAGE_SUFFIXES", "outline_bytes", "read_grey"]

IMAGE_SUFFIXES = (".png", ".tif", ".tiff", ".jpg", ".jpeg")

_FORMATS = ("PNG", "JPEG", "TIFF", "GIF", "BMP", "WEBP")
_MOST_PIXELS = 100_000_000
# Brightness of red, green and blue to the eye (ITU-R BT.601, in thousandths).
_LUMA = np.array([0.299, 0.587, 0.114])


def read_grey(path: Path, file: str, *, dark_bone: bool = False) -> NDArray[Any]:
    """Read a picture as grey values, (n_rows, n_columns), bright for bone.

    Parameters
    ----------
    path : Path
        PNG, TIFF or JPEG.
    file : str
        Its name, for problems.
    dark_bone : bool
        Whether bone is darker than its surroundings; the picture is turned over then.

    Raises
    ------
    StudyProblems
        If the file is no picture of one page.
    """
    if not path.is_file():
        raise _refused(file, "no such file", "a picture of a section", "Check the name.")
    tiff = path.suffix.lower() in (".tif", ".tiff")
    values = _tiff(path, file) if tiff else _picture(path, file)
    if values.ndim == 3 and values.shape[2] in (3, 4):
        values = np.round(values[..., :3] @ _LUMA).astype(values.dtype)
    if values.ndim != 2:
        raise _refused(
            file, f"{values.ndim} dimensions", "one picture", "Open a stack as a stack of slices."
        )
    if values.dtype == np.bool_:
        values = values.astype(np.uint8) * 255
    if not dark_bone:
        return values
    if np.issubdtype(values.dtype, np.unsignedinteger):
        return np.asarray(np.iinfo(values.dtype).max - values)
    return np.asarray(-values)


def outline_bytes(rings: tuple[tuple[tuple[float, float], ...], ...]) -> bytes:
    """Return rings in mm as an outline file of the study: columns ring, x, y."""
    lines = ["ring,x,y"]
    for number, ring in enumerate(rings):
        lines += [f"{number},{x:.4f},{y:.4f}" for x, y in ring]
    return ("\n".join(lines) + "\n").encode("utf-8")


def _refused(file: str, found: str, expected: str, mend: str) -> StudyProblems:
    return StudyProblems((whole_file(file, found=found, expected=expected, mend=mend),))


def _tiff(path: Path, file: str) -> NDArray[Any]:
    import tifffile

    try:
        with tifffile.TiffFile(path) as tiff:
            if len(tiff.pages) > 1:
                raise _refused(
                    file,
                    f"{len(tiff.pages)} pages",
                    "one picture",
                    "Open a stack as a stack of slices.",
                )
            return np.asarray(tiff.pages[0].asarray())
    except StudyProblems:
        raise
    except Exception as error:  # the library raises whatever its parsers raise
        raise _refused(file, "no readable TIFF", "a sound TIFF", "Export it again.") from error


def _picture(path: Path, file: str) -> NDArray[Any]:
    from PIL import Image

    try:
        with (
            warnings.catch_warnings(action="ignore"),
            Image.open(path, formats=_FORMATS) as image,
        ):
            if image.width * image.height > _MOST_PIXELS:
                raise _refused(
                    file,
                    f"{image.width} x {image.height} pixels",
                    "at most 100 million pixels",
                    "Save the picture smaller.",
                )
            if image.mode in ("1", "L", "I;16", "I", "F", "RGB"):
                return np.asarray(image)
            return np.asarray(image.convert("RGB"))
    except StudyProblems:
        raise
    except Exception as error:  # the library raises whatever its parsers raise
        raise _refused(
            file, "no readable picture", "a PNG, TIFF or JPEG", "Save it again."
        ) from error
