"""List the files of a study with as few questions to the disk as can be: one a file."""

import os
import stat
from collections.abc import Iterator
from pathlib import Path

__all__ = ["files_below"]


def files_below(folder: Path, place: str) -> Iterator[tuple[str, os.stat_result, bool]]:
    """Yield every file below a place in a study.

    Folders that are links are not entered; what goes while it is listed is left out.

    Parameters
    ----------
    folder : Path
        The study folder.
    place : str
        ``tables`` or ``files``.

    Yields
    ------
    path : str
        Its path in the study, with ``/``.
    status : os.stat_result
        Of the file itself, where it is a link of what it leads to.
    is_link : bool
    """
    try:
        with os.scandir(folder / place) as entries:
            found = list(entries)
    except OSError:
        return
    for entry in found:
        path = f"{place}/{entry.name}"
        try:
            if entry.is_dir(follow_symlinks=False):
                yield from files_below(folder, path)
                continue
            status = entry.stat()
        except OSError:
            continue
        if stat.S_ISREG(status.st_mode):
            yield path, status, entry.is_symlink()
