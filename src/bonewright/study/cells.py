"""Read one cell: its text becomes a value, or a fault that says how to mend it.

A cell never becomes NaN, infinity or a guess. Whether a file writes 12.5 or 12,5 is
decided once for the whole file (:func:`decimal_mark`), because one cell cannot tell a
decimal comma from a thousands separator.
"""

import math
import re
from collections.abc import Callable, Iterable
from typing import Literal

from bonewright.study.columns import Column
from bonewright.study.dates import read_date
from bonewright.study.faults import Fault
from bonewright.study.model import DateSpan
from bonewright.study.spelling import listed, nearest
from bonewright.study.units import is_everyday

__all__ = [
    "CellValue",
    "DecimalMark",
    "bare",
    "cell_reader",
    "decimal_mark",
    "read_file_path",
    "read_number",
]

CellValue = str | float | int | bool | DateSpan
DecimalMark = Literal[".", ","]

# No file system in common use holds a longer name of a file or folder, in bytes.
_LONGEST_FILE_NAME = 255
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?:[.,'’\s][0-9]{3})+(?:[.,][0-9]+)?")
_NUMBER_AND_WORD = re.compile(r"([+-]?[0-9.,]+)\s*([^\W\d]+[23³²]?|%|\"|°)")
_FRACTION_OF_ONE = re.compile(r"1\s*[:/]\s*([0-9]+(?:[.,][0-9]+)?)")
_FORMULA_ERROR = re.compile(r"#(?:DIV/0!|N/A|NAME\?|NULL!|NUM!|REF!|VALUE!|SPILL!)|Err:[0-9]+")
_LETTERS_LIKE_DIGITS = str.maketrans("OoQlI", "00011")
_INVISIBLE = "\u200b\u200e\u200f\u2060\ufeff"
_DRIVE = re.compile(r"[A-Za-z]:")


def bare(text: str) -> str:
    """Strip a cell of surrounding spaces, non-breaking and invisible ones included."""
    return text.strip().strip(_INVISIBLE).strip()


def decimal_mark(cells: Iterable[str], delimiter: str) -> DecimalMark | None:
    """Decide how a whole file writes decimals.

    Parameters
    ----------
    cells : iterable of str
        Every cell of the file's number columns.
    delimiter : str
        ``","``, ``";"`` or a tab; a workbook counts as ``","``, for its numbers arrive
        with a point.

    Returns
    -------
    {".", ",", None}
        The mark; None if the file's only marks could all be thousands separators and
        the delimiter does not tell. A cell with the other mark is then a fault.
    """
    found: dict[DecimalMark, int] = {".": 0, ",": 0}
    certain: dict[DecimalMark, int] = {".": 0, ",": 0}
    for cell in cells:
        text = bare(cell)
        mark: DecimalMark = "," if "," in text else "."
        if mark not in text or not _NUMBER.fullmatch(text):
            continue
        found[mark] += 1
        certain[mark] += not _MAYBE_THOUSANDS.fullmatch(text)
    usual: DecimalMark = "," if delimiter == ";" else "."
    other: DecimalMark = "." if usual == "," else ","
    if certain[other] and found[other] > found[usual]:
        return other
    if delimiter == "\t" and (found["."] or found[","]) and not certain["."]:
        return None
    return usual


def read_number(text: str, mark: DecimalMark | None) -> float | Fault:
    """Read a bare cell as a finite number written with the file's decimal mark."""
    text = text.replace("−", "-")
    if not _NUMBER.fullmatch(text):
        return _number_fault(text, mark or ".")
    used = "," if "," in text else "." if "." in text else None
    if used is not None and used != mark:
        return _mark_fault(text, used, mark)
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        return Fault(expected="a finite number", mend="Write a number that a page could hold.")
    return value


def _mark_fault(text: str, used: str, mark: DecimalMark | None) -> Fault:
    whole = text.replace(used, "")
    fraction = text.replace(used, mark or ".")
    if mark is None:
        expected = "a number whose decimal mark is plain from the file"
        mend = (
            f"Nothing in this file tells a decimal mark from a thousands separator: write {whole}"
            f" if it is a whole number, or {text}0 if it has decimals."
        )
        return Fault(expected=expected, mend=mend, instead=(whole, f"{text}0"))
    name = "point" if mark == "." else "comma"
    expected = f"a number with a decimal {name}, as this file writes them"
    if _MAYBE_THOUSANDS.fullmatch(text):
        return Fault(
            expected=expected,
            mend=f"It could be read two ways: write {fraction} or {whole}, whichever is meant.",
            instead=(fraction, whole),
        )
    return Fault(
        expected=expected, mend=f"Write {fraction}, if that is meant.", instead=(fraction,)
    )


def _number_fault(text: str, mark: DecimalMark) -> Fault:
    expected = "a number"
    if _GROUPED.fullmatch(text):
        return Fault(
            expected=expected + " without thousands separators",
            mend="Write the digits without separators between the thousands.",
            instead=_without_separators(text, mark),
        )
    if match := _FRACTION_OF_ONE.fullmatch(text):
        return Fault(
            expected=expected + " alone",
            mend=f"Write {match[1]}, if a scale of 1 to {match[1]} is meant.",
            instead=(match[1],),
        )
    match = _NUMBER_AND_WORD.fullmatch(text)
    if match and is_everyday(match[2]):
        number, word = _with_mark(match[1], mark), match[2]
        return Fault(
            expected=expected + " alone",
            mend=f"Write {number} here; '{word}' belongs in the unit column, if there is one.",
            instead=(number,),
        )
    as_digits = text.translate(_LETTERS_LIKE_DIGITS)
    if as_digits != text and _NUMBER.fullmatch(as_digits) and any(map(str.isdigit, text)):
        return Fault(
            expected=expected + " of digits alone",
            mend=f"A letter stands among the digits: write {as_digits}, if that is meant.",
            instead=(as_digits,),
        )
    if match:
        return Fault(
            expected=expected + " alone",
            mend=f"Write {_with_mark(match[1], mark)} here, if that is meant, and '{match[2]}' in"
            " the remarks.",
            instead=(_with_mark(match[1], mark),),
        )
    if text.casefold() in {"nan", "na", "n/a", "inf", "-inf", "infinity", "-", "?", "none", "null"}:
        return Fault(
            expected=expected,
            mend="Leave the cell empty if unknown, or leave out the row.",
            instead=("",),
        )
    return Fault(expected=expected, mend="Write digits only, such as 12.5, and no other signs.")


def _with_mark(number: str, mark: DecimalMark) -> str:
    """Write a number with the file's decimal mark, unless its own may part thousands."""
    other = "," if mark == "." else "."
    if number.count(other) != 1 or mark in number or _MAYBE_THOUSANDS.fullmatch(number):
        return number
    return number.replace(other, mark)


def _without_separators(text: str, mark: DecimalMark) -> tuple[str, ...]:
    """Write a grouped number plainly: the last mark is a decimal one if other digits follow."""
    whole, last, rest = re.fullmatch(r"(.*)([.,'’\s])([0-9]+)", text).groups()  # type: ignore[union-attr]
    plainly = re.sub(r"[.,'’\s]", "", whole)
    decimals = len(rest) != 3 or (last in ".," and last not in whole and len(whole) > 3)
    return (f"{plainly}{mark}{rest}",) if decimals else (plainly + rest,)


Reader = Callable[[str], "CellValue | Fault"]


def cell_reader(column: Column, mark: DecimalMark | None) -> Reader:
    """Return the function that reads a bare, non-empty cell of this column.

    Parameters
    ----------
    column : Column
        What the schema says of the column.
    mark : {".", ",", None}
        How the file writes decimals, from :func:`decimal_mark`.
    """
    by_kind: dict[str, Reader] = {
        "text": lambda text: text,
        "unit": lambda text: text,
        "number": lambda text: _within(column, read_number(text, mark)),
        "integer": lambda text: _whole(column, read_number(text, mark)),
        "choice": _choice_reader(column),
        "date": read_date,
        "file": read_file_path,
        "yes-no": _yes_no,
    }
    read = by_kind[column.kind]
    seen: dict[str, CellValue | Fault] = {}

    def read_once(text: str) -> CellValue | Fault:
        value = seen.get(text)
        if value is None:
            if text.startswith("="):
                value = _formula_fault(column)
            elif _FORMULA_ERROR.fullmatch(text):
                value = _failed_formula(column)
            else:
                value = read(text)
            seen[text] = value
        return value

    return read_once


def _formula_fault(column: Column) -> Fault:
    return Fault(
        expected=f"a value ({column.title.lower()}), not a formula",
        mend="Copy the cell in the spreadsheet and paste it back as a value.",
    )


def _failed_formula(column: Column) -> Fault:
    return Fault(
        expected=f"a value ({column.title.lower()}), not the error of a formula",
        mend="Mend the formula in the spreadsheet, or write the value itself.",
    )


def _bounds(column: Column, noun: str) -> str:
    low, high = column.minimum, column.maximum
    if low is not None and high is not None:
        return f"{noun} from {low:g} to {high:g}"
    if low is not None:
        return f"{noun} above {low:g}" if column.exclusive else f"{noun} of {low:g} or more"
    return f"{noun} of {high:g} or less" if high is not None else noun


def _within(column: Column, value: float | Fault, noun: str = "a number") -> float | Fault:
    if isinstance(value, Fault):
        return value
    low, high = column.minimum, column.maximum
    too_low = low is not None and (value < low or (column.exclusive and value == low))
    too_high = high is not None and (value > high or (column.exclusive and value == high))
    if too_low or too_high:
        return Fault(
            expected=_bounds(column, noun),
            mend="Look it up again where it was first written down, and check the unit.",
        )
    return value


def _whole(column: Column, value: float | Fault) -> int | Fault:
    if isinstance(value, Fault):
        return value
    if value != int(value):
        return Fault(expected=_bounds(column, "a whole number"), mend="Write it without decimals.")
    bounded = _within(column, value, "a whole number")
    return bounded if isinstance(bounded, Fault) else int(bounded)


def _choice_reader(column: Column) -> Reader:
    by_folded: dict[str, list[str]] = {}
    for choice in column.choices:
        by_folded.setdefault(choice.casefold(), []).append(choice)

    def read(text: str) -> str | Fault:
        word = " ".join(text.split())
        if word in column.choices:
            return word
        # Codes may differ in case alone (LM, Lm): then only the exact spelling tells.
        matches = by_folded.get(word.casefold(), [])
        if len(matches) == 1:
            return matches[0]
        if matches:
            return Fault(
                expected=listed(matches),
                mend=f"Capitals matter here: write {listed(matches)}.",
                instead=tuple(matches),
            )
        guess = nearest(word, column.choices)
        mend = f"Did you mean '{guess}'?" if guess else "Write one of them."
        return Fault(
            expected=f"one of: {', '.join(column.choices)}",
            mend=mend,
            instead=(guess,) if guess else (),
        )

    return read


def read_file_path(text: str) -> str | Fault:
    """Read the name of a file below files/, with forward slashes."""
    path = text.replace("\\", "/")
    if path.startswith("files/"):
        path = path.removeprefix("files/")
    parts = path.split("/")
    too_long = any(len(part.encode()) > _LONGEST_FILE_NAME for part in parts)
    strange = "\0" in path or ".." in parts or "" in parts
    if strange or path.startswith("/") or _DRIVE.match(path) or too_long:
        return Fault(
            expected="the name of a file inside files/",
            mend="Copy the file into the study's files folder and write its name from there.",
        )
    return path


def _yes_no(text: str) -> bool | Fault:
    word = text.casefold()
    if word in {"yes", "true"}:
        return True
    if word in {"no", "false"}:
        return False
    return Fault(expected="yes or no", mend="Write yes or no.", instead=("yes", "no"))
