"""Whether a path stays inside a folder when every link on it is followed.

A study may come from a stranger. What it names, in a table, in study.toml or in its history,
and what links stand in it, must not make the program read or write anywhere else.
"""

from pathlib import Path, PurePosixPath

from bonewright.errors import BonewrightError

__all__ = ["RESULTS_FOLDER", "is_plain_path", "results_place", "stands_within"]

RESULTS_FOLDER = "results"


def stands_within(path: Path, folder: Path) -> bool:
    """Say whether a path leads to a place inside the folder; a link to itself leads nowhere."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError):
        return False


def is_plain_path(name: str) -> bool:
    r"""Say whether a name is a path downwards from a folder, on this system too.

    Examples
    --------
    >>> is_plain_path("tables/specimens.csv")
    True
    >>> [is_plain_path(name) for name in ("/etc/passwd", "tables/../../x", "", "a//b", "a\0")]
    [False, False, False, False, False]
    """
    parts = name.split("/")
    own = Path(name)
    return (
        not {"", ".", ".."} & set(parts)
        and "\0" not in name
        and not own.is_absolute()
        and not own.drive
        and own.parts == PurePosixPath(name).parts
    )


def results_place(folder: Path, *below: str) -> Path:
    """Make the folder ``results``, or one below it, in a study's folder, and return it.

    Raises
    ------
    BonewrightError
        If a link leads out of the study there.
    OSError
        If it cannot be made.
    """
    place = folder.joinpath(RESULTS_FOLDER, *below)
    if not stands_within(place, folder):
        raise BonewrightError(
            f"{RESULTS_FOLDER} is a link to a place outside the study folder, so nothing is"
            " written there.",
            remedy="Take the link away; a folder is made in its place.",
        )
    place.mkdir(parents=True, exist_ok=True)
    return place
