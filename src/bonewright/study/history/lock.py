"""One writer at a time, over all programs on a machine and, where it can, on a share.

The lock is the system's own on an open file (flock, or its like on Windows), so it ends with
the program that holds it, however that ends: no mark is left behind that somebody would have
to delete. On a network share it holds as far as the share passes locks on; NFS and SMB do by
default. Where a share does not, two machines could write at once: each would still write
whole files and keep both versions in the history.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from bonewright.errors import BonewrightError
from bonewright.study.atomic import make_folder
from bonewright.study.disk_faults import not_saved
from bonewright.study.within import stands_within

__all__ = ["held"]

_PATIENCE_S = 20.0
_POLL_S = 0.01


@contextmanager
def held(folder: Path, *, patience_s: float = _PATIENCE_S) -> Iterator[None]:
    """Hold a study's lock.

    Raises
    ------
    NotSaved
        If the folder cannot be written.
    BonewrightError
        If another program holds the lock for longer than ``patience_s``.
    """
    path = folder / "history" / "lock"
    if not stands_within(path.parent, folder) or path.is_symlink():
        raise BonewrightError(
            "The study's history is a link to a place outside the study folder, so nothing is"
            " written.",
            remedy="Copy the folder history itself into the study, in place of the link.",
        )
    lock = FileLock(path, timeout=patience_s, poll_interval=_POLL_S)
    try:
        make_folder(path.parent)
        lock.acquire()
    except Timeout as error:
        raise BonewrightError(
            "Another program has been writing in this study for long.",
            remedy="Nothing was written. Wait for it to end, or end it, then try again.",
        ) from error
    except OSError as error:
        raise not_saved("history/lock", error, folder=folder) from error
    try:
        yield
    finally:
        lock.release()
