"""Load a study: from a folder of tables to frozen rows in one unit a quantity.

Loading is all or nothing: either every cell could be read in one way only, or every
problem is told at once. No row is dropped here; what is doubtful is for the steps to say
and for the person to decide (decisions.csv).
"""

from collections.abc import Mapping
from pathlib import Path

from bonewright.errors import Problem, StudyProblems
from bonewright.study.check import examine
from bonewright.study.model import Study
from bonewright.study.raw import RawTable
from bonewright.study.rows import study_from
from bonewright.study.settings import Settings
from bonewright.study.snapshot import read_snapshot

__all__ = ["check_folder", "load_study", "load_tables"]


def check_folder(folder: Path) -> tuple[Problem, ...]:
    """Return every problem of a study folder, empty if it is sound.

    Parameters
    ----------
    folder : Path
        The study folder.
    """
    snapshot = read_snapshot(folder)
    if snapshot.settings is None and not (folder / "tables").is_dir():
        return snapshot.problems
    return snapshot.problems + examine(snapshot.raw, snapshot.settings, folder).problems


def load_study(folder: Path) -> Study:
    """Load a study folder.

    Parameters
    ----------
    folder : Path
        The study folder.

    Raises
    ------
    StudyProblems
        If anything is wrong, with every problem at once.
    """
    snapshot = read_snapshot(folder)
    if snapshot.settings is None or snapshot.problems:
        raise StudyProblems(check_folder(folder) or snapshot.problems)
    return load_tables(snapshot.raw, snapshot.settings, folder)


def load_tables(raw_tables: Mapping[str, RawTable], settings: Settings, folder: Path) -> Study:
    """Load a study from tables already read, perhaps with unsaved edits.

    Parameters
    ----------
    raw_tables : RawTables, or a mapping from name to RawTable
    settings : Settings
    folder : Path
        The study folder, for files that cells name.

    Raises
    ------
    StudyProblems
        If anything is wrong, with every problem at once.
    """
    examined = examine(raw_tables, settings, folder)
    if examined.problems:
        raise StudyProblems(examined.problems)
    return study_from(examined, settings, folder)
