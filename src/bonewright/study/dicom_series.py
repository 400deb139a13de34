"""One series of DICOM slices: put in order by position, checked to be whole and alone."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import StudyProblems
from bonewright.study.raw import whole_file

__all__ = ["open_dicom_series"]

_FEWEST = 3
_EVEN = 0.02
# Slices may lie aside of each other by this share of a pixel: rounding of the headers.
_SIDEWAYS = 0.5
_TAGS = (
    "SeriesInstanceUID",
    "Rows",
    "Columns",
    "PixelSpacing",
    "ImageOrientationPatient",
    "ImagePositionPatient",
    "RescaleSlope",
    "RescaleIntercept",
)
_Stored = tuple[
    tuple[int, int, int],
    np.dtype[Any],
    tuple[float | None, float | None, float | None],
    Callable[[int, int], NDArray[Any]],
]


def open_dicom_series(paths: Sequence[Path], file: str) -> _Stored:
    """Read the headers of a series: shape, type, spacing, and a function that reads slices.

    Raises
    ------
    StudyProblems
        If a file is no DICOM slice, the files are of several series, or slices are missing.
    """
    try:
        return _opened(paths, file)
    except StudyProblems:
        raise
    except Exception as error:  # a damaged header breaks its reader in many ways
        raise _refused(
            file,
            "a header with values that make no sense",
            "size, spacing, orientation and position as numbers",
            "Export the series again.",
        ) from error


def _opened(paths: Sequence[Path], file: str) -> _Stored:
    headers = [(path, _header(path, file)) for path in paths]
    _check_alike(headers, file)
    first = headers[0][1]
    normal = np.cross(
        np.array(first.ImageOrientationPatient[:3], dtype=float),
        np.array(first.ImageOrientationPatient[3:], dtype=float),
    )
    corners = np.array([header.ImagePositionPatient for _, header in headers], dtype=float)
    along = corners @ normal
    order = np.argsort(along, kind="stable")
    between = _even_step(along[order], [headers[place][0].name for place in order], file)
    ordered = [headers[place][0] for place in order]
    row_mm, column_mm = (float(value) for value in first.PixelSpacing)
    sideways = corners - along[:, None] * normal
    shift_mm = float(np.ptp(sideways, axis=0).max())
    if shift_mm > _SIDEWAYS * min(row_mm, column_mm):
        raise _refused(
            file,
            f"slices that lie up to {shift_mm:.3g} mm aside of each other (a tilted gantry)",
            "slices straight above one another",
            "Let the scanner's program straighten the series, or export it as an upright stack.",
        )
    grey = _pixels(ordered[0], file)

    def read(start: int, stop: int) -> NDArray[Any]:
        return np.stack([_pixels(path, file) for path in ordered[start:stop]])

    shape = (len(ordered), int(first.Rows), int(first.Columns))
    return shape, grey.dtype, (between, row_mm, column_mm), read


def _refused(file: str, found: str, expected: str, mend: str) -> StudyProblems:
    return StudyProblems((whole_file(file, found=found, expected=expected, mend=mend),))


def _header(path: Path, file: str) -> Any:
    import pydicom

    try:
        header = pydicom.dcmread(path, stop_before_pixels=True, specific_tags=list(_TAGS))
    except Exception as error:  # the library raises whatever its parsers raise
        raise _refused(
            f"{file}/{path.name}",
            "no DICOM file",
            "the slices of one series and nothing else",
            "Take the file out of the folder.",
        ) from error
    needed = ("Rows", "Columns", "PixelSpacing", "ImageOrientationPatient", "ImagePositionPatient")
    missing = [name for name in needed if getattr(header, name, None) is None]
    if missing:
        raise _refused(
            f"{file}/{path.name}",
            f"a slice without {', '.join(missing)}",
            "CT slices with size, spacing, orientation and position",
            "Export the series with full headers, or as a TIFF stack with its spacing.",
        )
    _check_directions(header, f"{file}/{path.name}")
    return header


def _check_directions(header: Any, file: str) -> None:
    """Refuse rows and columns that do not stand upright on each other."""
    counts = (len(header.PixelSpacing), len(header.ImagePositionPatient))
    directions = np.array(header.ImageOrientationPatient, dtype=float)
    upright = directions.shape == (6,) and np.allclose(
        directions.reshape(2, 3) @ directions.reshape(2, 3).T, np.eye(2), atol=1e-3
    )
    if counts != (2, 3) or not upright:
        raise _refused(
            file,
            "rows and columns that are not at right angles"
            if counts == (2, 3)
            else "a spacing or position of the wrong number of values",
            "two directions of length 1 at right angles, two spacings, three coordinates",
            "Export the series again; its headers are damaged.",
        )


def _check_alike(headers: Sequence[tuple[Path, Any]], file: str) -> None:
    first = headers[0][1]
    for path, header in headers[1:]:
        differs = [
            words
            for words, same in (
                ("series", _text(header, "SeriesInstanceUID") == _text(first, "SeriesInstanceUID")),
                ("size", (header.Rows, header.Columns) == (first.Rows, first.Columns)),
                ("pixel spacing", np.allclose(header.PixelSpacing, first.PixelSpacing, rtol=1e-3)),
                (
                    "orientation",
                    np.allclose(
                        np.array(header.ImageOrientationPatient, dtype=float),
                        np.array(first.ImageOrientationPatient, dtype=float),
                        atol=1e-3,
                    ),
                ),
            )
            if not same
        ]
        if differs:
            raise _refused(
                f"{file}/{path.name}",
                f"another {' and '.join(differs)} than {headers[0][0].name} has",
                "the slices of one series",
                "Put each series into a folder of its own.",
            )


def _text(header: Any, name: str) -> str:
    return str(getattr(header, name, ""))


def _even_step(along: NDArray[np.float64], names: list[str], file: str) -> float:
    if len(along) < _FEWEST:
        raise _refused(
            file, f"{len(along)} slices", f"at least {_FEWEST}", "Copy the whole series."
        )
    steps = np.diff(along)
    usual = float(np.median(steps))
    if usual <= 0 or np.any(steps < 0.5 * usual):
        place = int(np.argmin(steps))
        raise _refused(
            f"{file}/{names[place + 1]}",
            f"the same position as {names[place]}",
            "one slice at each position",
            "Take one of the two out of the folder.",
        )
    wide = np.flatnonzero(steps > (1 + _EVEN) * usual)
    if len(wide):
        place = int(wide[0])
        gone = round(float(steps[place]) / usual) - 1
        raise _refused(
            file,
            f"{steps[place]:.4g} mm between {names[place]} and {names[place + 1]}"
            + (f": {gone} slice{'s' if gone > 1 else ''} missing" if gone > 0 else ""),
            f"{usual:.4g} mm between all slices",
            "Copy the missing slices into the folder, or export the series at even steps.",
        )
    return usual


def _pixels(path: Path, file: str) -> NDArray[Any]:
    import pydicom

    try:
        data = pydicom.dcmread(path)
        grey = data.pixel_array
    except Exception as error:  # the library raises whatever its parsers raise
        raise _refused(
            f"{file}/{path.name}",
            "pixels packed in a way that cannot be unpacked here",
            "uncompressed, run-length or JPEG 2000 slices",
            "Export the series uncompressed.",
        ) from error
    slope = float(getattr(data, "RescaleSlope", 1) or 1)
    intercept = float(getattr(data, "RescaleIntercept", 0) or 0)
    if slope == 1 and intercept == int(intercept):
        values = grey.astype(np.int32) + int(intercept)
        if values.min() >= -32768 and values.max() <= 32767:
            return np.asarray(values, dtype=np.int16)
        return np.asarray(values)
    return np.asarray(grey * slope + intercept, dtype=np.float32)
