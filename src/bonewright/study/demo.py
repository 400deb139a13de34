"""The demo study that comes with the program, copied out to be worked on and broken."""

import shutil
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.settings_file import SETTINGS_FILE

__all__ = ["copy_demo", "demo_folder", "is_copy_of_demo"]

_PARTS = ("study.toml", "README.md", "datapackage.json", "tables", "files")
_MARK = "README.md"


def demo_folder() -> Path:
    """Return where the demo stands: inside the installed package, or beside its source.

    Raises
    ------
    BonewrightError
        If it was taken away.
    """
    package = Path(__file__).resolve().parents[1]
    for place in (package / "demo", package.parents[1] / "demo"):
        if (place / SETTINGS_FILE).is_file():
            return place
    raise BonewrightError(
        "The demo study is not there.", remedy="Install Bonewright again: the demo belongs to it."
    )


def copy_demo(folder: Path) -> None:
    """Copy the demo into a folder that does not exist or is empty.

    Raises
    ------
    BonewrightError
        If the folder holds anything, or cannot be written.
    """
    demo = demo_folder()
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BonewrightError(
                f"{folder} is not an empty folder.",
                remedy="Choose a new name: nothing is ever written over.",
            )
        folder.mkdir(parents=True, exist_ok=True)
        for name in _PARTS:
            part = demo / name
            if part.is_dir():
                shutil.copytree(part, folder / name)
            elif part.is_file():
                shutil.copyfile(part, folder / name)
    except OSError as error:
        raise BonewrightError(
            f"The demo could not be copied to {folder}: {error.strerror or error}.",
            remedy="Choose a folder you may write to.",
        ) from error


def is_copy_of_demo(folder: Path) -> bool:
    """Say whether a study began as a copy of the demo."""
    try:
        return (folder / _MARK).read_bytes() == (demo_folder() / _MARK).read_bytes()
    except (OSError, BonewrightError):
        return False
