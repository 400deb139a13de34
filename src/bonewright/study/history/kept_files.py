"""Which files of a study its history follows, and what they hold now."""

import contextlib
import os
import time
from pathlib import Path, PurePosixPath

from bonewright.study.atomic import steadily
from bonewright.study.folder_walk import files_below
from bonewright.study.history.journal import SETTINGS_FILES
from bonewright.study.raw import content_hash
from bonewright.study.read import LARGEST_FILE_BYTES

__all__ = ["Standing", "followed_files", "is_kept"]

_LARGEST_TEXT_BYTES = 4 * 1024 * 1024
# fmt: off
_TEXT_KINDS = frozenset([
    ".csv", ".dxf", ".geojson", ".json", ".md", ".nex", ".nexus", ".nwk", ".svg", ".toml",
    ".tre", ".tree", ".trees", ".txt",
])
# fmt: on
# A file written so lately that a second write could bear the same time is read again.
_TOO_LATE_NS = 50_000_000

_Stamp = tuple[int, int, int, int]


def is_kept(path: str, n_bytes: int) -> bool:
    """Whether the history keeps the content of a file of the study.

    Parameters
    ----------
    path : str
        Its path in the study, with ``/``.
    n_bytes : int
        Its size.
    """
    if path in SETTINGS_FILES:
        return True
    if path.startswith("tables/"):
        return n_bytes <= LARGEST_FILE_BYTES
    return (
        path.startswith("files/")
        and PurePosixPath(path).suffix.lower() in _TEXT_KINDS
        and n_bytes <= _LARGEST_TEXT_BYTES
    )


def followed_files(folder: Path) -> list[tuple[str, os.stat_result]]:
    """Return every file that the history follows: its path in the study, and its status."""
    root = folder.resolve()
    found: list[tuple[str, os.stat_result]] = []
    for name in SETTINGS_FILES:
        with contextlib.suppress(OSError):
            if not (folder / name).is_symlink():
                found.append((name, (folder / name).stat()))
    for name, status, is_link in (*files_below(folder, "tables"), *files_below(folder, "files")):
        last = name.rpartition("/")[2]
        if last.startswith((".", "~$")) or (name.startswith("tables/") and name.count("/") > 1):
            continue
        if not is_link or (folder / name).resolve().is_relative_to(root):
            found.append((name, status))
    return sorted(found, key=lambda one: (one[0] not in SETTINGS_FILES, one[0]))


class Standing:
    """What every followed file holds, read again only where the file is another.

    Parameters
    ----------
    folder : Path
        The study folder.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._known: dict[str, tuple[_Stamp, str]] = {}

    def marks(self) -> tuple[dict[str, str], dict[str, bytes]]:
        """Return the mark of every followed file, and the contents read on the way.

        Returns
        -------
        marks : dict
            Path to SHA-256, or ``size:N`` of a file whose content is not kept.
        contents : dict
            Path to content, of the kept files that are another than at the last look.
        """
        marks: dict[str, str] = {}
        contents: dict[str, bytes] = {}
        for name, status in followed_files(self._folder):
            stamp = (status.st_mtime_ns, status.st_size, status.st_ino, status.st_ctime_ns)
            try:
                if not is_kept(name, stamp[1]):
                    marks[name] = f"size:{stamp[1]}"
                    continue
                known = self._known.get(name)
                if known is not None and known[0] == stamp:
                    marks[name] = known[1]
                    continue
                content = steadily((self._folder / name).read_bytes)
            except FileNotFoundError:
                continue  # gone since it was listed
            marks[name] = content_hash(content)
            contents[name] = content
            if time.time_ns() - stamp[0] > _TOO_LATE_NS:
                self._known[name] = (stamp, marks[name])
        return marks, contents
