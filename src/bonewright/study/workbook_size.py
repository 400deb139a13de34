"""How large a workbook is once it is unpacked, found out before any of it is kept.

A workbook is a zip: a few kilobytes may unpack to gigabytes, and one stray value in the last
cell of a sheet makes a grid of seventeen thousand million cells. Readers of workbooks keep
the whole grid, so both are looked for first, a piece at a time, and never by what the file
says of itself.
"""

import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

__all__ = ["MOST_CELLS", "too_large_unpacked"]

_MOST_BYTES = 192 * 1024 * 1024
MOST_CELLS = 10_000_000
_MOST_REPEATS = 2_000
_PIECE = 1 << 20
_OVERLAP = 400
_VALUE = re.compile(rb'<c [^>]*?r="([A-Z]{1,3})([0-9]{1,7})"[^>]*>(?=<[vif])')
_REPEATED = re.compile(
    rb"<table:table-(?:cell|row)(?=[^>]*(?:office:value|table:number-rows))"
    rb'[^>]*?number-(?:columns|rows)-repeated="([0-9]+)"[^>]*>'
    rb"(?=<(?:text:p|table:table-cell[^>]*office:value))"
)


def too_large_unpacked(path: Path) -> str | None:
    """Say what is too large in a workbook, None if nothing is, or if it is no zip.

    Parameters
    ----------
    path : Path
        An xlsx or ods file.
    """
    total = 0
    try:
        with zipfile.ZipFile(path) as archive, path.open("rb") as stream:
            for entry in archive.infolist():
                farthest = (0, 0)
                before = b""
                for piece in _pieces(stream, entry):
                    total += len(piece)
                    if total > _MOST_BYTES:
                        return f"a workbook that unpacks to more than {_MOST_BYTES >> 20} MB"
                    text = before + piece
                    farthest = _farthest(text, farthest)
                    if farthest[0] * farthest[1] > MOST_CELLS:
                        return f"a sheet with a value in row {farthest[0]} of {farthest[1]} columns"
                    if any(int(found[1]) > _MOST_REPEATS for found in _REPEATED.finditer(text)):
                        return f"a sheet that repeats a value more than {_MOST_REPEATS} times"
                    before = piece[-_OVERLAP:]
    # What is no sound zip is told of by the reader of its values.
    except (zipfile.BadZipFile, zlib.error, OSError, ValueError, NotImplementedError):
        return None
    return None


def _farthest(text: bytes, before: tuple[int, int]) -> tuple[int, int]:
    rows, columns = before
    for found in _VALUE.finditer(text):
        rows = max(rows, int(found[2]))
        columns = max(columns, _column(found[1]))
    return rows, columns


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number


def _pieces(stream: BinaryIO, entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """Unpack an entry a piece at a time, as far as its packed bytes go."""
    stream.seek(entry.header_offset)
    head = stream.read(30)
    if len(head) < 30:
        return
    stream.seek(int.from_bytes(head[26:28], "little") + int.from_bytes(head[28:30], "little"), 1)
    left = entry.compress_size
    packed = zlib.decompressobj(-15)
    while left > 0:
        chunk = stream.read(min(left, _PIECE // 8))
        if not chunk:
            return
        left -= len(chunk)
        if entry.compress_type != zipfile.ZIP_DEFLATED:
            yield chunk
            continue
        while chunk and not packed.eof:
            yield packed.decompress(chunk, _PIECE)
            chunk = packed.unconsumed_tail
