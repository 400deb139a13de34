"""Trade terms and what they mean, from the one file that holds them all."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = ["Term", "glossary"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A term: the words it is met in, the first its name, and its meaning in plain words."""

    words: tuple[str, ...]
    meaning: str


@cache
def glossary() -> tuple[Term, ...]:
    """Return the terms of ``glossary.toml``."""
    path = Path(__file__).with_name("glossary.toml")
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    return tuple(
        Term(words=tuple(entry["words"]), meaning=entry["meaning"]) for entry in content["term"]
    )
