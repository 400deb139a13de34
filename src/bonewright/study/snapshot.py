"""Read the tables and settings of a study as they stood at one moment.

A step may write several tables. Whoever reads while it is being written must see all of it
or none: the journal is looked at before and after, and the reading is done again if a step
came between.
"""

from dataclasses import dataclass
from pathlib import Path

from bonewright.errors import BonewrightError, Problem
from bonewright.study.history.lock import held
from bonewright.study.history.record import History, journal_stamp, pending_in
from bonewright.study.raw import RawTables, whole_file
from bonewright.study.read import read_tables
from bonewright.study.settings import Settings
from bonewright.study.settings_file import read_settings

__all__ = ["Snapshot", "read_snapshot"]

_ATTEMPTS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A study as text. ``problems`` are those of the settings and of an unfinished step."""

    settings: Settings | None
    problems: tuple[Problem, ...]
    raw: RawTables


def read_snapshot(folder: Path) -> Snapshot:
    """Read a study's settings and tables as they stood at one moment.

    A step that a stopped program left half done is finished first.

    Parameters
    ----------
    folder : Path
        The study folder.
    """
    for _ in range(_ATTEMPTS):
        if pending_in(folder):
            try:
                History(folder).settle()
            except BonewrightError as error:
                return _unfinished(folder, error)
        before = journal_stamp(folder)
        snapshot = _read(folder)
        if journal_stamp(folder) == before and not pending_in(folder):
            return snapshot
    with held(folder):
        return _read(folder)


def _read(folder: Path) -> Snapshot:
    settings, problems = read_settings(folder)
    return Snapshot(settings=settings, problems=problems, raw=read_tables(folder))


def _unfinished(folder: Path, error: BonewrightError) -> Snapshot:
    snapshot = _read(folder)
    problem = whole_file(
        "history/pending.json",
        found="a step that was cut off half way and cannot be finished now",
        expected="a study folder that can be written",
        mend=f"{error} If the folder can only be read, copy it and open the copy.",
    )
    return Snapshot(
        settings=snapshot.settings, problems=(*snapshot.problems, problem), raw=snapshot.raw
    )
