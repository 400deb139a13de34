"""Write a file whole or not at all."""

import os
import secrets
from pathlib import Path

__all__ = ["write_atomically"]


def write_atomically(path: Path, content: bytes) -> None:
    """Write a file so that at any moment either the old or the new version is whole on disk.

    Raises
    ------
    OSError
        If it cannot be written; the old version is then untouched.
    """
    beside = path.with_name(f".{path.name}.{secrets.token_hex(6)}.part")
    try:
        with beside.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            beside.chmod(path.stat().st_mode & 0o777)
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    _flush_folder(path.parent)


def _flush_folder(folder: Path) -> None:
    # Windows cannot open a folder to flush it, and does not need to.
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
