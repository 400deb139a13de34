"""What the disk says when it does not save, in words."""

import errno
from pathlib import Path

from bonewright.errors import BonewrightError

__all__ = ["NotSaved", "not_saved", "open_elsewhere"]

_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_CLOSED = {errno.EACCES, errno.EPERM, errno.EROFS}


class NotSaved(BonewrightError):
    """The disk did not take it; every file is as it was."""


def not_saved(file: str, error: OSError, *, folder: Path) -> NotSaved:
    """Say why a file of the study was not saved, and what to do.

    Parameters
    ----------
    file : str
        The file by its path in the study.
    error : OSError
        What the system said.
    folder : Path
        The study folder.
    """
    reason = (error.strerror or str(error)).lower()
    as_before = "Every file is as it was."
    if error.errno in _FULL:
        return NotSaved(
            f"{file} was not saved: the disk is full ({reason}).",
            remedy=f"{as_before} Make room on the disk, then save again.",
        )
    if error.errno in _CLOSED:
        holder = open_elsewhere(folder / file)
        if holder:
            remedy = f"{holder} Close it there, then save again."
        elif error.errno == errno.EROFS:
            remedy = "The folder can only be read. Copy the study to a disk that can be written."
        else:
            remedy = "Close the file where it is open, or allow writing there; then save again."
        return NotSaved(
            f"{file} was not saved: it may not be written ({reason}).",
            remedy=f"{as_before} {remedy}",
        )
    return NotSaved(
        f"{file} was not saved: the disk or the network share answered: {reason}.",
        remedy=f"{as_before} See that the disk is connected and whole, then save again.",
    )


def open_elsewhere(path: Path) -> str:
    """Say that a spreadsheet has a table open, if it left a mark saying so; else nothing.

    The marks are the files that spreadsheet programs put beside a document while it is
    open (common practice); one that a crash left behind only makes this sentence too careful.
    """
    marks = (path.with_name(f".~lock.{path.name}#"), path.with_name(f"~${path.name}"))
    if any(mark.exists() for mark in marks):
        return f"{path.name} is open in a spreadsheet."
    return ""
