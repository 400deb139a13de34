"""Write choices into study.toml, leaving every other line and remark as it stands."""

import hashlib
from collections.abc import Mapping
from pathlib import Path

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AbstractTable

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.study.history.journal import By
from bonewright.study.history.record import History
from bonewright.study.settings_file import SETTINGS_FILE, parse_settings, read_settings

__all__ = ["Setting", "change_settings", "settings_text_with"]

Setting = str | float | bool | list[float] | list[str]


def settings_text_with(text: str, changes: Mapping[str, Setting | Mapping[str, Setting]]) -> str:
    r"""Return the text of a study.toml with some settings changed.

    Parameters
    ----------
    text : str
        The file as it stands.
    changes : mapping
        From dotted names (``animal.name``) to values; a mapping changes the settings inside a
        section (``choices.body_density``) and leaves its others.

    Examples
    --------
    >>> print(settings_text_with('[animal]  # who\nname = "x"\n', {"animal.name": "rail"}))
    [animal]  # who
    name = "rail"
    <BLANKLINE>
    """
    document = tomlkit.parse(text)
    for name, value in changes.items():
        *sections, last = name.split(".")
        place: Container | AbstractTable = document
        for section in sections:
            place = _section(place, section)
        if isinstance(value, Mapping):
            part = _section(place, last)
            for key, inner in value.items():
                part[key] = inner
        else:
            place[last] = value
    return tomlkit.dumps(document)


def _section(place: Container | AbstractTable, name: str) -> AbstractTable:
    if name not in place:
        place[name] = tomlkit.table()
    section = place[name]
    if not isinstance(section, AbstractTable):
        raise BonewrightError(
            f"{name} in {SETTINGS_FILE} is no section.", remedy="Mend the file in a text editor."
        )
    return section


def change_settings(
    history: History,
    folder: Path,
    changes: Mapping[str, Setting | Mapping[str, Setting]],
    *,
    what: str,
    by: By,
) -> None:
    """Change settings of a study as one step of its history.

    Raises
    ------
    StudyProblems
        If the file holds problems now or would hold them then; nothing is written.
    ChangedOnDisk
        If the file changes while this goes on.
    """
    settings, problems = read_settings(folder)
    if settings is None:
        raise StudyProblems(problems)
    content = (folder / SETTINGS_FILE).read_bytes()
    text = settings_text_with(content.decode("utf-8-sig"), changes)
    changed, problems = parse_settings(text)
    if changed is None:
        raise StudyProblems(problems)
    history.commit(
        {SETTINGS_FILE: text.encode("utf-8")},
        what=what,
        by=by,
        expected={SETTINGS_FILE: hashlib.sha256(content).hexdigest()},
    )
