"""A folder of files written whole or not at all, in the place of its last version."""

import os
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path

from bonewright.errors import BonewrightError

__all__ = ["write_folder"]


def write_folder(folder: Path, contents: Mapping[str, bytes], *, mark: str) -> None:
    """Write files into a new folder and put it in the place of an old one.

    Parameters
    ----------
    contents : mapping from name to bytes
        Names are paths below the folder, with forward slashes.
    mark : str
        The file by which a folder of this kind is known: one without it is never replaced.

    Raises
    ------
    BonewrightError
        If the folder holds anything else, or cannot be written; an old version is then as it
        was.
    """
    if folder.exists() and not folder.is_dir():
        raise BonewrightError(
            f"{folder} is a file, not a folder.", remedy="Give the name of a folder."
        )
    if folder.is_dir() and any(folder.iterdir()) and not (folder / mark).is_file():
        raise BonewrightError(
            f"The folder {folder} holds other files.",
            remedy="Nothing of yours is written over: give the name of a new folder.",
        )
    beside = folder.with_name(f".{folder.name}.{secrets.token_hex(6)}.part")
    before = folder.with_name(f".{folder.name}.{secrets.token_hex(6)}.old")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        for name, content in contents.items():
            path = beside / name
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        if folder.is_dir():
            folder.rename(before)
        try:
            beside.rename(folder)
        except OSError:
            if before.exists():
                before.rename(folder)
            raise
    except OSError as error:
        shutil.rmtree(beside, ignore_errors=True)
        raise BonewrightError(
            f"The folder {folder} could not be written: {error.strerror or error}.",
            remedy="Make room, allow writing there, or close its files where they are open.",
        ) from error
    shutil.rmtree(before, ignore_errors=True)
