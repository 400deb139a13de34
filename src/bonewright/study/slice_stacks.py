"""Stacks of CT slices on disk, read a few slices at a time.

A stack is a TIFF of many pages, a folder of one-slice images numbered in order, or a folder
with one DICOM series. Opening reads headers only and refuses what would give a wrong size
without a warning: slices missing from the series, two series in one folder, spacings that
contradict each other.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import Problem, StudyProblems
from bonewright.study.dicom_series import open_dicom_series
from bonewright.study.raw import whole_file

__all__ = ["SliceStack", "open_stack"]

_NUMBER = re.compile(r"(\d+)(?!.*\d)")
_IMAGE_SUFFIXES = (".tif", ".tiff", ".png")
_DICOM_SUFFIXES = (".dcm", ".dicom", ".ima", "")
_SAME_SPACING = 0.01
_MICROMETRE = ("um", "µm", "μm", "micron", "\\u00b5m")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SliceStack:
    """A stack of slices, bright for bone.

    ``read_slices(start, stop)`` returns slices as stored; ``read`` turns them over if the
    bone is dark. ``spacing_mm`` is from slice to slice, row to row and column to column.
    """

    file: str
    shape: tuple[int, int, int]
    dtype: np.dtype[Any]
    spacing_mm: tuple[float, float, float]
    dark_bone: bool
    read_slices: Callable[[int, int], NDArray[Any]]

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """Return some slices, (stop - start, n_rows, n_columns), bright for bone."""
        slices = self.read_slices(start, stop)
        if np.issubdtype(slices.dtype, np.floating) and not np.isfinite(slices).all():
            place = int(np.argmin(np.isfinite(slices).all(axis=(1, 2)))) + start + 1
            raise _refused(
                self.file,
                f"voxels without a grey value (NaN or infinite) in slice {place}",
                "a number in every voxel",
                "Fill the empty voxels with the grey of the background.",
            )
        if not self.dark_bone:
            return slices
        if np.issubdtype(slices.dtype, np.unsignedinteger):
            return np.asarray(np.iinfo(slices.dtype).max - slices)
        return np.asarray(-slices)

    def sample(self, n_slices: int = 15) -> NDArray[Any]:
        """Return every third voxel of a few slices, enough to choose a threshold by."""
        places = np.unique(np.linspace(0, self.shape[0] - 1, n_slices + 2).astype(int)[1:-1])
        return np.stack([self.read(int(place), int(place) + 1)[0, ::3, ::3] for place in places])


def open_stack(
    path: Path,
    file: str,
    *,
    pixel_mm: float | None = None,
    between_slices_mm: float | None = None,
    dark_bone: bool = False,
) -> SliceStack:
    """Open a stack of slices without reading its voxels.

    Parameters
    ----------
    path : Path
        A TIFF of many pages, or a folder of slices.
    file : str
        Its name, for problems.
    pixel_mm, between_slices_mm : float, optional
        Side of a pixel and distance between slices. Needed unless the files state them;
        if both do, they must agree within 1 %.
    dark_bone : bool
        Whether bone is darker than its surroundings.

    Raises
    ------
    StudyProblems
        If the files are no sound stack, or its spacing is unknown or contradicts itself.
    """
    if not path.is_file() and not path.is_dir():
        raise _refused(file, "no such file or folder", "a stack of slices", "Check the name.")
    stored = _open_pages(path, file) if path.is_file() else _open_folder(path, file)
    shape, dtype, stated, read = stored
    given = (between_slices_mm, pixel_mm, pixel_mm)
    return SliceStack(
        file=file,
        shape=shape,
        dtype=dtype,
        spacing_mm=_spacing(file, given=given, stated=stated),
        dark_bone=dark_bone,
        read_slices=read,
    )


_Stored = tuple[
    tuple[int, int, int],
    np.dtype[Any],
    tuple[float | None, float | None, float | None],
    Callable[[int, int], NDArray[Any]],
]


def _refused(file: str, found: str, expected: str, mend: str) -> StudyProblems:
    problem: Problem = whole_file(file, found=found, expected=expected, mend=mend)
    return StudyProblems((problem,))


def _spacing(
    file: str,
    *,
    given: tuple[float | None, float | None, float | None],
    stated: tuple[float | None, float | None, float | None],
) -> tuple[float, float, float]:
    names = ("distance between slices", "pixel size", "pixel size")
    spacing = []
    for name, mine, theirs in zip(names, given, stated, strict=True):
        value = mine if mine is not None else theirs
        if value is None or not 0 < value < 100:
            raise _refused(
                file,
                f"no {name}" if value is None else f"a {name} of {value:g} mm",
                "voxel sizes in mm, above 0 and below 100",
                "Give the pixel size and the distance between slices from the scan's protocol.",
            )
        if mine is not None and theirs is not None and abs(mine / theirs - 1) > _SAME_SPACING:
            raise _refused(
                file,
                f"a {name} of {theirs:.5g} mm in the file, {mine:.5g} mm given",
                "the same spacing in both",
                "See which is right in the scan's protocol; leave yours out to use the file's.",
            )
        spacing.append(value)
    return (spacing[0], spacing[1], spacing[2])


def _open_pages(path: Path, file: str) -> _Stored:
    import tifffile

    try:
        with tifffile.TiffFile(path) as tiff:
            series = tiff.series
            shapes = {tuple(one.shape[-2:]) for one in series}
            if len(series) != 1 or len(series[0].shape) != 3:
                raise _refused(
                    file,
                    f"{len(series)} series of pages"
                    if len(series) > 1 or len(shapes) > 1
                    else f"an image of {' x '.join(map(str, series[0].shape))}",
                    "one grey slice a page, all of one size",
                    "Export one bone's slices as one grey TIFF stack.",
                )
            n_slices, n_rows, n_columns = series[0].shape
            dtype = np.dtype(series[0].dtype)
            offset = series[0].dataoffset
            stated = _stated_by_tiff(tiff)
            order = tiff.byteorder
    except StudyProblems:
        raise
    except Exception as error:  # the library raises whatever its parsers raise
        raise _refused(file, f"no TIFF ({error})", "a TIFF stack", "Export it again.") from error
    shape = (int(n_slices), int(n_rows), int(n_columns))
    if offset is not None:
        # Pages stored one after the other are read straight from their place in the file.
        needed = int(offset) + n_slices * n_rows * n_columns * dtype.itemsize
        if path.stat().st_size < needed:
            raise _broken_off(file, path.stat().st_size, needed)
        reader = partial(_read_straight, path, int(offset), shape, dtype.newbyteorder(order))
    else:
        reader = partial(_read_pages, path, file)
    return shape, dtype, stated, reader


def _stated_by_tiff(tiff: Any) -> tuple[float | None, float | None, float | None]:
    """Return the spacing a stack exported from an image program states, in mm."""
    notes = tiff.imagej_metadata or {}
    unit = str(notes.get("unit", "")).lower()
    factor = 1.0 if unit == "mm" else 1e-3 if unit in _MICROMETRE else None
    if factor is None:
        return (None, None, None)
    between = notes.get("spacing")
    tag = tiff.pages[0].tags.get("XResolution")
    pixel = None
    if tag is not None and tag.value[0]:
        pixel = tag.value[1] / tag.value[0] * factor
    return (None if between is None else float(between) * factor, pixel, pixel)


def _read_straight(
    path: Path,
    offset: int,
    shape: tuple[int, int, int],
    dtype: np.dtype[Any],
    start: int,
    stop: int,
) -> NDArray[Any]:
    each = shape[1] * shape[2]
    with path.open("rb") as stream:
        stream.seek(offset + start * each * dtype.itemsize)
        values = np.fromfile(stream, dtype=dtype, count=(stop - start) * each)
    native = values.astype(dtype.newbyteorder("="), copy=False)
    return native.reshape(stop - start, shape[1], shape[2])


def _broken_off(file: str, size: int, needed: int) -> StudyProblems:
    return _refused(
        file,
        f"a file broken off: {size} bytes",
        f"{needed} bytes, as its header says",
        "Copy the file again.",
    )


def _read_pages(path: Path, file: str, start: int, stop: int) -> NDArray[Any]:
    import tifffile

    try:
        return np.atleast_3d(tifffile.imread(path, key=range(start, stop))).reshape(
            stop - start, *tifffile.imread(path, key=start).shape
        )
    except Exception as error:  # the library raises whatever its parsers raise
        raise _refused(
            file, f"pages that cannot be unpacked ({error})", "a sound TIFF stack", "Export again."
        ) from error


def _open_folder(folder: Path, file: str) -> _Stored:
    files = sorted(path for path in folder.iterdir() if path.is_file() and path.name[0] != ".")
    images = [path for path in files if path.suffix.lower() in _IMAGE_SUFFIXES]
    scans = [path for path in files if path.suffix.lower() in _DICOM_SUFFIXES]
    if images and scans:
        raise _refused(
            file,
            f"{len(images)} images and {len(scans)} DICOM files",
            "the slices of one series and nothing else",
            "Put the series into a folder of its own.",
        )
    if scans:
        return open_dicom_series(scans, file)
    if not images:
        raise _refused(file, "no slices", "TIFF, PNG or DICOM slices", "Check the folder.")
    return _open_images(_in_order(images, file), file)


def _in_order(images: Sequence[Path], file: str) -> list[Path]:
    """Put numbered slices in order; refuse gaps, doubles and names that do not belong."""
    numbers: dict[int, Path] = {}
    stems: dict[str, list[str]] = {}
    for path in images:
        match = _NUMBER.search(path.stem)
        if match is None:
            raise _refused(
                f"{file}/{path.name}",
                "a name without a number",
                "slices numbered in order, such as slice_0001.tif",
                "Number the file, or take it out of the folder.",
            )
        stems.setdefault(path.stem[: match.start()], []).append(path.name)
        numbers[int(match[1])] = path
    if len(stems) > 1 or len(numbers) < len(images):
        named = "; ".join(f"{names[0]} and {len(names) - 1} more" for names in stems.values())
        raise _refused(
            file,
            f"several series ({named})" if len(stems) > 1 else "two slices of one number",
            "the slices of one series",
            "Put each series into a folder of its own.",
        )
    present = sorted(numbers)
    step = min(np.diff(present), default=1)
    missing = sorted(set(range(present[0], present[-1] + 1, int(step))) - set(present))
    if missing:
        shown = ", ".join(map(str, missing[:8])) + (" ..." if len(missing) > 8 else "")
        raise _refused(
            file,
            f"slices {present[0]} to {present[-1]} without number {shown}",
            "every slice of the series",
            "Copy the missing slices into the folder.",
        )
    return [numbers[number] for number in present]


def _open_images(paths: list[Path], file: str) -> _Stored:
    from bonewright.study.section_images import read_grey

    first = read_grey(paths[0], f"{file}/{paths[0].name}")
    shape = (len(paths), *first.shape)

    def read(start: int, stop: int) -> NDArray[Any]:
        slices = []
        for path in paths[start:stop]:
            grey = read_grey(path, f"{file}/{path.name}")
            if grey.shape != first.shape or grey.dtype != first.dtype:
                raise _refused(
                    f"{file}/{path.name}",
                    f"{grey.shape[1]} x {grey.shape[0]} pixels of {grey.dtype}",
                    f"{first.shape[1]} x {first.shape[0]} pixels of {first.dtype}, as the first"
                    " slice has",
                    "Put each series into a folder of its own.",
                )
            slices.append(grey)
        return np.stack(slices)

    return shape, first.dtype, (None, None, None), read
