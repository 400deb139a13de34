"""Scanned surfaces: STL, PLY, OBJ and GLB files, read into vertices and triangles.

A binary STL, which is what most scanners write, is read straight into arrays; the other
formats by a mesh library, loaded only for them.
"""

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np

from bonewright.errors import Problem
from bonewright.study.model import Surface
from bonewright.study.raw import whole_file

__all__ = ["LARGEST_SCAN_BYTES", "MOST_FACES", "STL_FACE", "read_surface"]

MOST_FACES = 12_000_000
LARGEST_SCAN_BYTES = 700 * 1024 * 1024
_KINDS = (".stl", ".ply", ".obj", ".glb")
_STL_HEADER = 84
_FACES_AT_ONCE = 500_000
STL_FACE = np.dtype([("normal", "<f4", (3,)), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def read_surface(path: Path, file: str) -> tuple[Surface | None, tuple[Problem, ...]]:
    """Read a surface.

    Parameters
    ----------
    path : Path
        The file, known to exist inside the study.
    file : str
        Its name in the study, for problems.

    Returns
    -------
    surface : Surface or None
        None if there is any problem.
    problems : tuple of Problem
    """
    status = path.stat()
    return _read_version(path, file, status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=4)
def _read_version(
    path: Path, file: str, changed_ns: int, size: int
) -> tuple[Surface | None, tuple[Problem, ...]]:
    # As for outlines: the version of the file stands in the key of the cache.
    del changed_ns, size
    if path.suffix.lower() not in _KINDS:
        return None, (
            whole_file(
                file,
                found=f"a file that ends in '{path.suffix}'",
                expected=f"a surface as {', '.join(_KINDS)}",
                mend="Export the scan as binary STL from the scanning program.",
            ),
        )
    try:
        surface = _binary_stl(path) if path.suffix.lower() == ".stl" else None
        surface = surface or _by_library(path)
    except _Refused as refused:
        return None, (
            whole_file(file, found=refused.found, expected=refused.expected, mend=refused.mend),
        )
    problems = tuple(_problems(surface, file))
    return (None, problems) if problems else (surface, ())


class _Refused(Exception):
    """The file cannot be read; what was found, expected, and how to mend it."""

    def __init__(self, found: str, *, expected: str, mend: str) -> None:
        super().__init__(found)
        self.found, self.expected, self.mend = found, expected, mend


def _too_many(count: int) -> _Refused:
    return _Refused(
        f"{count:,} triangles".replace(",", "\u202f"),
        expected=f"at most {MOST_FACES // 1_000_000} million",
        mend="Thin the scan in the scanning program; half a million triangles lose nothing here.",
    )


def _binary_stl(path: Path) -> Surface | None:
    """Read a binary STL; None if the file is an STL in text."""
    size = path.stat().st_size
    if size < _STL_HEADER:
        return None
    with path.open("rb") as stream:
        head = stream.read(_STL_HEADER)
    count = int.from_bytes(head[80:84], "little")
    expected_size = _STL_HEADER + count * STL_FACE.itemsize
    if size < expected_size and head[:5] == b"solid":
        return None
    if size < expected_size or (size > expected_size + 4096 and head[:5] == b"solid"):
        if head[:5] == b"solid":
            return None
        raise _Refused(
            f"a file cut short: {count} triangles promised, {size} bytes there",
            expected=f"{expected_size} bytes",
            mend="Export or copy the scan again.",
        )
    if count > MOST_FACES:
        raise _too_many(count)
    vertices = np.empty((count, 3, 3))
    with path.open("rb") as stream:
        stream.seek(_STL_HEADER)
        # A part at a time: the file itself need not fit in memory beside what is made of it.
        for start in range(0, count, _FACES_AT_ONCE):
            part = np.fromfile(stream, dtype=STL_FACE, count=min(_FACES_AT_ONCE, count - start))
            vertices[start : start + len(part)] = part["corners"]
    return Surface(
        vertices=vertices.reshape(-1, 3),
        faces=np.arange(3 * count, dtype=np.int64).reshape(-1, 3),
    )


def _by_library(path: Path) -> Surface:
    import trimesh

    try:
        mesh = trimesh.load_scene(path, process=False).to_mesh()
        vertices = np.asarray(mesh.vertices, dtype=np.float64).reshape(-1, 3)
        faces = np.asarray(mesh.faces, dtype=np.int64).reshape(-1, 3)
    except Exception as error:  # the library raises whatever its parsers raise
        raise _Refused(
            "a file that cannot be read as a surface",
            expected="triangles in STL, PLY, OBJ or GLB",
            mend="Open it in the scanning program and export it again as binary STL.",
        ) from error
    if len(faces) > MOST_FACES:
        raise _too_many(len(faces))
    return Surface(vertices=vertices, faces=faces)


def _problems(surface: Surface, file: str) -> Iterator[Problem]:
    if len(surface.faces) < 4:
        yield whole_file(
            file,
            found=f"{len(surface.faces)} triangles",
            expected="a surface of at least four triangles",
            mend="Export the scan again, as a surface and not as points.",
        )
        return
    if surface.faces.min() < 0 or surface.faces.max() >= len(surface.vertices):
        yield whole_file(
            file,
            found="triangles with corners that are not there",
            expected="triangles of the file's own points",
            mend="Export the scan again.",
        )
        return
    if not np.all(np.isfinite(surface.vertices)):
        yield whole_file(
            file,
            found="points without a place",
            expected="a number for each coordinate",
            mend="Clean the scan in the scanning program and export it again.",
        )
