"""What was said of headers and files at imports: kept in the study, so that it is asked once.

``imports.toml`` holds a table ``headers`` (header to meaning) and a table ``answers`` (file
name to element, unit, institution). It may be written by hand, or taken over from another
study of the same museum.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import tomlkit

from bonewright.errors import BonewrightError
from bonewright.study.toml_text import parsed_toml

__all__ = ["IMPORTS_FILE", "Remembered", "as_toml", "read_memory", "remembered"]

IMPORTS_FILE = "imports.toml"


class Remembered(NamedTuple):
    """Meanings by header, and the answers given for each file by its name."""

    headers: dict[str, str]
    answers: dict[str, dict[str, str]]


def remembered(folder: Path) -> Remembered:
    """Return what a study remembers; nothing if it has no imports.toml."""
    path = folder / IMPORTS_FILE
    return read_memory(path) if path.is_file() else Remembered(headers={}, answers={})


def read_memory(path: Path) -> Remembered:
    """Read a file of the form of imports.toml.

    Raises
    ------
    BonewrightError
        If it cannot be read, or does not map headers to words.
    """
    try:
        content = parsed_toml(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise BonewrightError(
            f"{path.name}, which says what headers mean, cannot be read.",
            remedy="Mend it in a text editor, or delete it: the questions are then asked again.",
        ) from error
    headers, answers = content.get("headers", {}), content.get("answers", {})
    if not (_texts(headers) and isinstance(answers, dict) and all(map(_texts, answers.values()))):
        raise BonewrightError(
            f"{path.name} does not map headers to meanings.",
            remedy="Under [headers], write lines such as \"Breite\" = 'code Bp'.",
        )
    return Remembered(headers=headers, answers=answers)


def _texts(part: Any) -> bool:
    return isinstance(part, dict) and all(isinstance(value, str) for value in part.values())


def as_toml(headers: Mapping[str, str], answers: Mapping[str, Mapping[str, str]]) -> bytes:
    """Return the content of imports.toml."""
    document = tomlkit.document()
    document.add(tomlkit.comment("What was said of headers and files at imports; see GUIDE.md."))
    table = tomlkit.table()
    for header, words in sorted(headers.items()):
        table.add(header, words)
    document.add("headers", table)
    document.add("answers", {name: dict(given) for name, given in answers.items()})
    return tomlkit.dumps(document).encode("utf-8")
