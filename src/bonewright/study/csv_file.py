"""Read the bytes of a CSV file as text cells: comma, semicolon or tab, UTF-8.

The file is parsed strictly: a quotation mark left open would otherwise swallow the rest
of a table without a word.
"""

import csv
import io
import re
from dataclasses import replace
from itertools import islice

from bonewright.errors import Problem
from bonewright.study.raw import (
    FARTHEST_HEADER,
    Dialect,
    RawTable,
    content_hash,
    title_above,
    whole_file,
)
from bonewright.study.recent import Recent
from bonewright.study.schemas import TABLE_BY_NAME

__all__ = ["parse_csv"]

_DELIMITERS = (",", ";", "\t")
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


_RECENT: Recent[RawTable] = Recent()


def parse_csv(
    name: str, content: bytes, *, file: str, columns: tuple[str, ...] | None = None
) -> RawTable:
    """Read the bytes of a CSV file as one table.

    Parameters
    ----------
    name : str
        The table's name.
    content : bytes
        The whole file.
    file : str
        Where it stands in the study, for problems.
    columns : tuple of str, optional
        Column names to expect, by which the delimiter is told; the schema's if left out.
    """
    if columns is None:
        columns = tuple(column.name for column in TABLE_BY_NAME[name].columns)
    expected = columns
    return _RECENT.recall(
        f"{name} {file}",
        (content, expected),
        lambda: _parse(name, content, file=file, columns=expected),
    )


def _parse(name: str, content: bytes, *, file: str, columns: tuple[str, ...]) -> RawTable:
    blank = RawTable(name=name, file=file, header=columns, content_hash=content_hash(content))
    text, problem = _decode(content, file)
    if problem is not None:
        return replace(blank, problems=(problem,))
    dialect = Dialect(
        delimiter=_delimiter(text, columns),
        byte_order_mark=content.startswith(_BYTE_ORDER_MARK),
        line_ending="\r\n" if "\r\n" in text else "\n",
    )
    records, problem = _records(text, dialect.delimiter, file)
    if problem is not None:
        return replace(blank, dialect=dialect, problems=(problem,))
    if not records:
        problem = whole_file(
            file,
            found="an empty file",
            expected="the header row, with the names of the columns",
            mend=f"Write the names of the columns into its first row: {', '.join(columns)}.",
        )
        return replace(blank, dialect=dialect, problems=(problem,))
    if problem := title_above(records, columns, file):
        return replace(blank, dialect=dialect, problems=(problem,))
    header = tuple(cell.strip() for cell in records[0][1])
    return replace(
        blank,
        dialect=dialect,
        header=header,
        rows=tuple(row for _, row in records[1:]),
        row_numbers=tuple(number for number, _ in records[1:]),
    )


def _decode(content: bytes, file: str) -> tuple[str, Problem | None]:
    expected = "a text file in UTF-8"
    mend = "In the spreadsheet choose 'Save as' and the format 'CSV UTF-8'."
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "", whole_file(file, found="a file in UTF-16", expected=expected, mend=mend)
    try:
        text = content.removeprefix(_BYTE_ORDER_MARK).decode("utf-8")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        return "", Problem(
            file=file,
            row=line,
            column=None,
            found=f"a letter in another encoding (byte {content[error.start]:#04x})",
            expected=expected,
            mend=mend,
        )
    if match := _CONTROL.search(text):
        return "", Problem(
            file=file,
            row=text[: match.start()].count("\n") + 1,
            column=None,
            found=f"a control character (code {ord(match[0])})",
            expected="letters, digits and signs only",
            mend="Delete it in a text editor, or save the table anew from the spreadsheet.",
        )
    return text, None


def _delimiter(text: str, columns: tuple[str, ...]) -> str:
    """Tell the delimiter by which the header row names most of the expected columns.

    The header is looked for below a title as well, so that the title can be told of.
    """
    filled = (line for line in io.StringIO(text) if line.strip())
    first = list(islice(filled, FARTHEST_HEADER)) or [""]
    known = set(columns)

    def known_names(delimiter: str) -> tuple[int, int]:
        lines = [
            [cell.strip().strip('"').strip() for cell in line.split(delimiter)] for line in first
        ]
        return max(len(known.intersection(cells)) for cells in lines), len(lines[0])

    return max(_DELIMITERS, key=known_names)


def _records(
    text: str, delimiter: str, file: str
) -> tuple[list[tuple[int, tuple[str, ...]]], Problem | None]:
    """Split into rows with the numbers a spreadsheet shows; rows without text are skipped."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[tuple[int, tuple[str, ...]]] = []
    number = 0
    try:
        for record in reader:
            number += 1
            if any(cell.strip() for cell in record):
                records.append((number, tuple(record)))
    except csv.Error:
        return [], Problem(
            file=file,
            row=number + 1,
            column=None,
            found=f"a cell that opens with a quotation mark and does not end (line"
            f" {reader.line_num} of the file)",
            expected="quotation marks in pairs",
            mend="Look at that row in a text editor: inside a quoted cell a quotation mark is"
            " written twice.",
        )
    return records, None
