"""The hand-written words of the demo study, kept as plain tables in ``demo_words/``."""

from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).resolve().parent / "demo_words"


def text_of(name: str) -> str:
    """Return one file of words as it stands."""
    return (FOLDER / name).read_text(encoding="utf-8")


def lines_of(name: str) -> list[list[str]]:
    """Return a table of words: one list a line, split at bars; the first line is a comment."""
    return [line.split("|") for line in text_of(name).splitlines()[1:]]
