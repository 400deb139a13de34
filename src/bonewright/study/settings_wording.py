"""Say in plain words what is wrong with a line or a value of study.toml."""

import re
from collections.abc import Mapping
from typing import Any

from bonewright.study.faults import Fault
from bonewright.study.spelling import listed, shown

__all__ = ["toml_fault", "value_fault"]

_DECIMAL_COMMA = re.compile(r"=\s*[+-]?([0-9]+),([0-9]+)\s*(#.*)?$")
_BARE_WORDS = re.compile(r"=\s*[^\W\d][^\"'\[{]*$")
_SAME = "Compare the line with that of a new study's study.toml."


def toml_fault(line: str, reason: str) -> Fault:
    """Say what a line that is no setting should be.

    Parameters
    ----------
    line : str
        The line as written.
    reason : str
        What the reader of TOML says of it.
    """
    setting = "a setting written as name = value"
    if match := _DECIMAL_COMMA.search(line):
        return Fault(
            expected="a number with a decimal point, as study.toml always has",
            mend=f"Write {match[1]}.{match[2]} with a point.",
        )
    if "overwrite" in reason or "twice" in reason or "already exists" in reason:
        what = "section" if line.lstrip().startswith("[") else "setting"
        return Fault(expected=f"each {what} once", mend="Delete the line you do not mean.")
    if line.lstrip().startswith("["):
        return Fault(expected="a section's name in brackets, such as [animal]", mend=_SAME)
    if any(line.count(mark) % 2 for mark in '"“”„'):
        return Fault(
            expected=f"{setting}, text between two straight quotation marks",
            mend='Put a straight quotation mark (") at both ends of the text.',
        )
    if re.search(r"=\s*$", line):
        return Fault(expected=setting, mend="Write the value after the equals sign.")
    if re.search(r"=\s*(True|False|yes|no|Yes|No)\s*(#.*)?$", line):
        return Fault(expected=setting, mend="Write true or false, in small letters.")
    if _BARE_WORDS.search(line):
        return Fault(
            expected=f"{setting}, text in quotation marks", mend="Put the text in quotation marks."
        )
    if "\\" in line:
        return Fault(
            expected=f"{setting}, with forward slashes in the names of files",
            mend="Write / for each \\.",
        )
    if "=" not in line:
        return Fault(expected=setting, mend="Put # before it if it is a remark.")
    return Fault(expected=f"{setting}, text in quotation marks", mend=_SAME)


def value_fault(detail: Mapping[str, Any]) -> tuple[str, str]:
    """Say what was found and what is expected, of one complaint of the checker of types.

    Parameters
    ----------
    detail : mapping
        One of pydantic's errors: its type, its input and its context.
    """
    value = detail["input"]
    if isinstance(value, bool):
        found = str(value).lower()
    elif isinstance(value, dict):
        found = ", ".join(f"{name} {part}" for name, part in value.items() if name != "reason")
        found = found or "no settings"
    else:
        found = shown(str(value)) if str(value).strip() else "no text"
    return found, _expected(str(detail["type"]), detail.get("ctx") or {}, str(detail["msg"]))


def _expected(kind: str, context: Mapping[str, Any], message: str) -> str:
    bounds = {
        "greater_than_equal": ("ge", "a number of {} or more"),
        "greater_than": ("gt", "a number above {}"),
        "less_than_equal": ("le", "a number of {} or less"),
        "less_than": ("lt", "a number below {}"),
    }
    if kind in bounds:
        name, words = bounds[kind]
        bound = float(context[name])
        return words.format(f"{bound:,.0f}".replace(",", " ") if bound.is_integer() else bound)
    if kind == "literal_error":
        options = re.findall(r"'([^']*)'", str(context.get("expected", "")))
        return listed(f"'{option}'" for option in options) or str(context.get("expected"))
    if kind.startswith("int"):
        return "a whole number, without quotation marks"
    if kind.startswith(("float", "decimal", "finite")):
        return "a number, without quotation marks and with a point for decimals"
    if kind.startswith("bool"):
        return "true or false, without quotation marks"
    if kind == "string_too_short":
        return "a few words"
    if kind == "string_too_long":
        return f"at most {context['max_length']} letters"
    if kind.startswith("string"):
        return "text in quotation marks"
    if kind.startswith(("model", "dict")):
        return "a section of its own, with its settings below its name in brackets"
    if kind.startswith(("tuple", "list")):
        return "a list in square brackets"
    plain = message.removeprefix("Value error, ")
    return plain[:1].lower() + plain[1:]
