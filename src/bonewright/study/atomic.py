"""Write a file whole or not at all, and outlast a hiccup of the disk or the network."""

import errno
import os
import secrets
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

__all__ = [
    "flush_folder",
    "make_folder",
    "prepare_beside",
    "put_in_place",
    "steadily",
    "write_atomically",
]

_Result = TypeVar("_Result")
# What a network share or a sleeping disk says once and no longer a moment later.
_PASSING = frozenset(
    getattr(errno, name)
    for name in ("EIO", "ESTALE", "EAGAIN", "EINTR", "ETIMEDOUT", "ENETRESET", "EREMOTEIO")
    if hasattr(errno, name)
)
_HICCUP_S = 0.2
# On Windows a file that a spreadsheet or a virus scanner has open cannot be replaced.
_HELD_S = (0.05, 0.1, 0.2, 0.4)


def write_atomically(path: Path, content: bytes) -> None:
    """Write a file so that at any moment either the old or the new version is whole on disk.

    Raises
    ------
    OSError
        If it cannot be written; the old version is then untouched.
    """

    def write() -> None:
        put_in_place(prepare_beside(path, content), path)
        flush_folder(path.parent)

    steadily(write)


def prepare_beside(path: Path, content: bytes) -> Path:
    """Write the new version of a file beside it, on the disk for good; return where.

    Raises
    ------
    OSError
        If it cannot be written; nothing is left behind then.
    """
    beside = path.with_name(f".{path.name[:80]}.{secrets.token_hex(6)}.part")
    try:
        with beside.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            beside.chmod(path.stat().st_mode & 0o777)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    return beside


def put_in_place(beside: Path, path: Path) -> None:
    """Put a prepared version in place of a file in one step.

    Raises
    ------
    OSError
        If the file is held open by another program and stays so; the prepared version is
        removed then and the old one is untouched.
    """
    for wait_s in (*_HELD_S, None):
        try:
            beside.replace(path)
        except PermissionError:
            if wait_s is None:
                beside.unlink(missing_ok=True)
                raise
            time.sleep(wait_s)
        except OSError:
            beside.unlink(missing_ok=True)
            raise
        else:
            return


def flush_folder(folder: Path) -> None:
    """Have the disk keep which files a folder holds."""
    # Windows cannot open a folder to flush it, and does not need to.
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def make_folder(folder: Path) -> None:
    """Make a folder with those above it, so that it is still there after a power cut.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    flush_folder(folder.parent)


def steadily(call: Callable[[], _Result]) -> _Result:
    """Call once more, a moment later, if the disk or the network share hiccups."""
    try:
        return call()
    except OSError as error:
        if error.errno not in _PASSING:
            raise
    time.sleep(_HICCUP_S)
    return call()
