"""Which study is open: the one the page was started with, or one chosen at the start page.

One study at a time is open. A page of the study before it is told so and can change nothing
in the new one.
"""

import re
import threading
from dataclasses import dataclass
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.blank import new_study
from bonewright.study.demo import copy_demo
from bonewright.study.settings_file import SETTINGS_FILE, read_settings
from bonewright.web.workroom import Workroom

__all__ = ["FolderSeen", "Reception", "StudySeen", "folders_in", "is_folder", "shelf", "studies_on"]

_DEMO = "demo"
_MOST_FOLDERS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySeen:
    """A study that can be opened."""

    folder: Path
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderSeen:
    """A folder that may hold studies, or is one."""

    folder: Path
    is_study: bool


class Reception:
    """Opens studies, one at a time. Every method may be called from any thread.

    Parameters
    ----------
    folder : Path or None
        The study to begin with.
    page_comes : bool
        Whether somebody is about to look at its page for the first time.
    """

    def __init__(self, folder: Path | None, *, page_comes: bool = False) -> None:
        self._lock = threading.Lock()
        self.room = None if folder is None else Workroom(folder, page_comes=page_comes)

    def open(self, folder: Path) -> None:
        """Open a study in place of the one that is open.

        Raises
        ------
        BonewrightError
            If the folder holds no study.
        """
        place = _home_written_out(folder)
        if not place.is_absolute():
            raise BonewrightError(
                f"{folder} does not say where it stands.",
                remedy="Give the whole path of the folder, from the root of the disk.",
            )
        if not _is_study(place):
            raise BonewrightError(
                f"{place} holds no study: there is no {SETTINGS_FILE} in it.",
                remedy="Choose the folder of a study, or begin a new one there.",
            )
        with self._lock:
            before, self.room = self.room, Workroom(place)
        if before is not None:
            before.close()

    def open_demo(self) -> None:
        """Open the copy of the demo on the shelf; make it if there is none."""
        place = shelf() / _DEMO
        if not (place / SETTINGS_FILE).is_file():
            copy_demo(place)
        self.open(place)

    def begin(self, title: str, folder: str) -> None:
        """Make a blank study and open it; an empty folder means the shelf.

        Raises
        ------
        BonewrightError
            If it cannot be made there.
        """
        place = _home_written_out(Path(folder)) if folder.strip() else shelf() / _name_of(title)
        if not place.is_absolute():
            place = shelf() / place
        new_study(place, title=title)
        self.open(place)

    def close(self) -> None:
        """Close what is open."""
        if self.room is not None:
            self.room.close()


def _home_written_out(folder: Path) -> Path:
    try:
        return folder.expanduser()
    except RuntimeError as error:  # '~somebody', who has no home here
        raise BonewrightError(
            f"{folder} is nobody's folder on this machine.", remedy="Write it out in full."
        ) from error


def shelf() -> Path:
    """Return the folder in which studies stand unless another is chosen."""
    return Path.home() / "Bonewright"


def studies_on(place: Path) -> tuple[StudySeen, ...]:
    """Return the studies that stand in a folder, by their titles."""
    found = []
    for seen in folders_in(place):
        if seen.is_study:
            settings, _ = read_settings(seen.folder)
            title = seen.folder.name if settings is None else settings.study.title
            found.append(StudySeen(folder=seen.folder, title=title))
    return tuple(found)


def folders_in(place: Path) -> tuple[FolderSeen, ...]:
    """Return the folders in a folder, hidden ones left out; none if it cannot be read."""
    try:
        inside = sorted(
            (path for path in place.iterdir() if not path.name.startswith(".") and path.is_dir()),
            key=lambda path: path.name.casefold(),
        )
    except OSError:
        return ()
    return tuple(
        FolderSeen(folder=path, is_study=_is_study(path)) for path in inside[:_MOST_FOLDERS]
    )


def is_folder(place: Path) -> bool:
    """Say whether there is a folder; a name longer than a disk takes is of none."""
    try:
        return place.is_dir()
    except OSError:
        return False


def _is_study(folder: Path) -> bool:
    try:
        return (folder / SETTINGS_FILE).is_file()
    except OSError:
        return False


def _name_of(title: str) -> str:
    """Make a folder's name from a title: 'The great rail' becomes 'the-great-rail'."""
    return re.sub(r"[^\w]+", "-", title.casefold()).strip("-_")[:60] or "study"
