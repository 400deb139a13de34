"""Read TOML that anybody may have written: no nesting and no number without end."""

import re
import tomllib
from typing import Any

__all__ = ["OverTheTop", "parsed_toml"]

_MOST_LEVELS = 8
# The reader takes time with the square of the length of a dotted name.
_LONG_NAME = re.compile(r"""(?:(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)[ \t]*\.[ \t]*){60}""")


class OverTheTop(ValueError):
    """What is written is TOML, and no settings of anything; the message says what."""


def parsed_toml(text: str) -> dict[str, Any]:
    """Return the values of a TOML text.

    Raises
    ------
    tomllib.TOMLDecodeError
        If it is none.
    OverTheTop
        If names or values are nested, or numbers are long, beyond any use.
    """
    too_deep = OverTheTop("names or values nested over and over")
    if _LONG_NAME.search(text):
        raise too_deep
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError:
        raise too_deep from None
    except ValueError as error:
        raise OverTheTop("a number of thousands of digits") from error
    level: list[Any] = [content]
    for _ in range(_MOST_LEVELS):
        level = [part for value in level for part in _parts(value)]
    if level:
        raise too_deep
    return content


def _parts(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []
