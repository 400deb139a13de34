"""Ways to mangle a file or a table, each told by its name; all chance comes from one seed."""

import csv
import io
import random
import struct
from collections.abc import Callable
from pathlib import Path

from mangled_files import bomb

__all__ = ["ALIKE", "damaged_bytes", "damaged_folder", "damaged_table"]

ALIKE = frozenset(
    {"rows shuffled", "columns shuffled", "byte-order mark", "quoted", "crlf", "in cm"}
)
"""Ways that change how a table is written and nothing of what it says."""

_IN_THE_ROWS_UNIT = ("measurementAccuracy", "allowanceLow", "allowanceHigh")
"""Columns whose numbers the unit of the row's value goes for as well."""

_CELLS = (
    "nan", "inf", "-inf", "1e400", "-1e308", "1e-320", "0", "-0", "-1", "1,5", "1.5.2", "12 mm",
    "=1+1", "=HYPERLINK(\"x\")", "@SUM(1)", "+1", "#DIV/0!", "#REF!", "NaN", "NA", "N/A", "-", "?",
    "TRUE", "0x1F", "1_000", "\u0661\u0662", "\u221e", "\u202e12", "a\u0000b", "'12", "../../etc",
    "/etc/passwd", "C:\\x", "1/2", "1e3", "171\u00a0000", "{{7*7}}", "<script>", "%n", "\U0001f986",
    "mm", "ft", "kg", "left", "femur", "", " ",
    "9" * 400, "x" * 200_000, "0000", "2026-02-30", "1e1000000000",
)  # fmt: skip


def damaged_table(content: bytes, chance: random.Random) -> tuple[str, bytes]:
    """Damage a table as text, or how it is written."""
    rows = list(csv.reader(io.StringIO(content.decode("utf-8"), newline="")))
    header, body = rows[0], rows[1:]
    way = chance.choice(
        (
            *("cell",) * 8,
            *sorted(ALIKE),
            *("times ten", "a tenth", "unit", "text in number", "columns swapped", "column gone"),
            *("column twice", "header renamed", "header gone", "row twice", "row gone", "ragged"),
            *("latin-1", "utf-16", "utf-32", "semicolons, some", "quote left open", "deep cell"),
            *("half a table", "many rows", "empty", "only header", "title above", "merged tables"),
        )
    )
    column = chance.randrange(len(header))
    row = chance.randrange(len(body)) if body else 0
    numbers = [n for n, name in enumerate(header) if any(_is_number(r[n]) for r in body)]
    if way == "cell" and body:
        body[row][column] = chance.choice(_CELLS)
    elif way in ("times ten", "a tenth", "text in number") and body and numbers:
        column = chance.choice(numbers)
        filled = [n for n, r in enumerate(body) if _is_number(r[column])]
        row = chance.choice(filled)
        factor = {"times ten": 10, "a tenth": 0.1}.get(way)
        old = body[row][column]
        body[row][column] = f"about {old}" if factor is None else f"{float(old) * factor:.12g}"
    elif way in ("unit", "in cm"):
        places = [n for n, name in enumerate(header) if name.lower().endswith("unit")]
        in_mm = [(r, n) for r in range(len(body)) for n in places if body[r][n] == "mm"]
        values = [n for n, name in enumerate(header) if name == "measurementValue"]
        errors = [n for n, name in enumerate(header) if name in _IN_THE_ROWS_UNIT]
        exact = values and not any(body[r][n] for r, _ in in_mm for n in errors)
        if in_mm and (way == "unit" or exact):
            row, place = chance.choice(in_mm)
            body[row][place] = "cm"
            if way == "in cm" and values and _is_number(body[row][values[0]]):
                body[row][values[0]] = _moved(body[row][values[0]])
    elif way == "rows shuffled":
        chance.shuffle(body)
    elif way == "columns shuffled":
        order = list(range(len(header)))
        chance.shuffle(order)
        header, body = [header[n] for n in order], [[r[n] for n in order] for r in body]
    elif way == "columns swapped":
        other = chance.randrange(len(header))
        header[column], header[other] = header[other], header[column]
    elif way == "column gone":
        header, body = _without(header, column), [_without(r, column) for r in body]
    elif way == "column twice":
        header, body = [*header, header[column]], [[*r, r[column]] for r in body]
    elif way == "header renamed":
        header[column] = chance.choice(
            ("", header[column].upper(), header[column] + "x", "x", "id")
        )
    elif way == "row twice" and body:
        body.insert(row, list(body[row]))
    elif way == "row gone" and body:
        del body[row]
    elif way == "ragged" and body:
        body[row] = chance.choice((body[row][:-1], [*body[row], "more"], []))
    elif way == "deep cell" and body:
        body[row][column] = "(" * 100_000
    elif way == "many rows":
        body = (body * (30_000 // max(len(body), 1) + 1))[:30_000]
    elif way == "only header":
        body = []
    elif way == "title above":
        body.insert(0, header)
        header = ["Bones of the great rail"]
    elif way == "merged tables":
        body += [header, *body[:3]]
    out = io.StringIO()
    quoting = csv.QUOTE_ALL if way == "quoted" else csv.QUOTE_MINIMAL
    line = "\r\n" if way == "crlf" else "\n"
    csv.writer(out, lineterminator=line, quoting=quoting).writerows(
        [header, *body] if way != "header gone" else body
    )
    return way, _written(out.getvalue(), way, chance)


def _written(text: str, way: str, chance: random.Random) -> bytes:
    if way == "byte-order mark":
        return text.encode("utf-8-sig")
    if way == "latin-1":
        return text.replace("a", "\xe4", 1).encode("latin-1", "replace")
    if way in ("utf-16", "utf-32"):
        return text.encode(way)
    if way == "semicolons, some":
        return "".join(chance.choice(",;") if c == "," else c for c in text).encode()
    if way == "quote left open":
        place = chance.randrange(len(text))
        return (text[:place] + '"' + text[place:]).encode()
    if way == "half a table":
        return text.encode()[: chance.randrange(1, max(len(text), 2))]
    return b"" if way == "empty" else text.encode()


def _moved(number: str) -> str:
    """Return a decimal number as it is in a unit ten times as large, digit for digit."""
    from decimal import Decimal

    return format(Decimal(number) / 10, "f")


def _without(cells: list[str], column: int) -> list[str]:
    return cells[:column] + cells[column + 1 :]


def _is_number(cell: str) -> bool:
    return cell.replace(".", "", 1).isascii() and cell.replace(".", "", 1).isdigit()


def damaged_bytes(name: str, content: bytes, chance: random.Random) -> tuple[str, bytes]:
    """Damage a file without regard to what it says, or its header with regard."""
    ways: dict[str, Callable[[], bytes]] = {
        "bits": lambda: _struck(content, chance, 1),
        "bytes": lambda: _struck(content, chance, 12),
        "header": lambda: _struck(content[:200], chance, 3) + content[200:],
        "large numbers": lambda: _large(content, chance),
        "cut short": lambda: content[: chance.randrange(len(content))],
        "piece gone": lambda: _piece(content, chance, times=0),
        "piece twice": lambda: _piece(content, chance, times=3),
        "zeros": lambda: content[: len(content) // 2] + bytes(len(content) - len(content) // 2),
        "noise": lambda: chance.randbytes(chance.randrange(1, 4000)),
        "empty": lambda: b"",
        "trailing": lambda: content + chance.randbytes(5000),
        "utf-16": lambda: content.decode("latin-1").encode("utf-16"),
    }
    if not content[:2000].count(0) and len(content) < 400_000:
        ways |= {
            "number": lambda: _number(content, chance),
            "nest": lambda: _nested(content, chance),
            "entities": _entities,
            "long line": lambda: content + b"1" * 3_000_000,
        }
    if name.endswith((".zip", ".xlsx", ".ods")):
        ways |= {
            "bomb": lambda: _bomb(name, content),
            "rezipped": lambda: _rezipped(content, chance),
        }
    way = chance.choice(sorted(ways))
    return way, ways[way]()


def _struck(content: bytes, chance: random.Random, times: int) -> bytes:
    made = bytearray(content)
    for _ in range(times if made else 0):
        place = chance.randrange(len(made))
        made[place] = (
            made[place] ^ (1 << chance.randrange(8)) if times == 1 else chance.randrange(256)
        )
    return bytes(made)


def _large(content: bytes, chance: random.Random) -> bytes:
    """Write a very large or a negative count into the first bytes, where headers count."""
    made = bytearray(content)
    kind = chance.choice(("<I", ">I", "<H", ">H", "<Q", "<f", "<d"))
    value = chance.choice((2**31 - 1, 2**32 - 1, 2**30, 65535, 1, 0))
    if kind in ("<f", "<d"):
        value = chance.choice((float("nan"), float("inf"), 3e38))
    elif kind in ("<H", ">H"):
        value = min(value, 65535)
    packed = struct.pack(kind, value)
    place = chance.randrange(max(1, min(len(made), 600) - len(packed)))
    made[place : place + len(packed)] = packed
    return bytes(made)


def _piece(content: bytes, chance: random.Random, *, times: int) -> bytes:
    start = chance.randrange(max(len(content), 1))
    stop = min(len(content), start + chance.randrange(1, 400))
    return content[:start] + content[start:stop] * times + content[stop:]


def _number(content: bytes, chance: random.Random) -> bytes:
    """Put another text in the place of one number."""
    places = [n for n, byte in enumerate(content) if chr(byte).isdigit()]
    if not places:
        return content
    place = chance.choice(places)
    new = chance.choice(
        (
            "nan",
            "inf",
            "-1",
            "1e400",
            "1e308",
            "99999999999999999999",
            "0",
            "",
            "1e-400",
            "1,5",
            "x",
        )
    )
    return content[:place] + new.encode() + content[place + 1 :]


def _nested(content: bytes, chance: random.Random) -> bytes:
    deep = chance.choice((b"(", b"[", b"<g>", b'{"a":', b"((1:1,", b"[[", b'"'))
    place = chance.randrange(max(len(content), 1))
    return content[:place] + deep * chance.choice((50, 5000, 200_000)) + content[place:]


def _entities() -> bytes:
    laughs = b'<?xml version="1.0"?><!DOCTYPE z [<!ENTITY a "ha">' + b"".join(
        b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 20) for n in range(9)
    )
    outside = b'<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    return laughs + outside + b"<svg xmlns='http://www.w3.org/2000/svg'><text>&j;&x;</text></svg>"


def _bomb(name: str, content: bytes) -> bytes:
    parts = {
        ".xlsx": "xl/worksheets/sheet1.xml",
        ".ods": "content.xml",
        ".zip": "meta.xml" if b"meta.xml" in content else "study.toml",
    }
    part = parts[Path(name).suffix]
    if name.startswith("collection"):
        part = "occurrence.txt"
    return bomb(content, part, unpacked_bytes=3 * 2**30)


def _rezipped(content: bytes, chance: random.Random) -> bytes:
    """Damage one part of a zip and pack it soundly again, or give it a path that leads out."""
    import zipfile

    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as sound, zipfile.ZipFile(out, "w") as made:
        names = [entry.filename for entry in sound.infolist() if entry.file_size]
        struck = chance.choice(names)
        for name in names:
            part = sound.read(name)
            if name == struck:
                way = chance.randrange(4)
                if way == 0:
                    name = "../" + name
                elif way == 1:
                    continue
                else:
                    part = damaged_bytes("part", part, chance)[1]
            made.writestr(name, part)
    return out.getvalue()


def damaged_folder(folder: Path, chance: random.Random) -> str:
    """Put into the folder what is no file, leads elsewhere, or has no business there."""
    tables = sorted((folder / "tables").glob("*.csv"))
    files = sorted(path for path in (folder / "files").rglob("*") if path.is_file())
    path = chance.choice((*tables, *files[:20], folder / "study.toml"))
    way = chance.choice(
        ("gone", "link outside", "link to itself", "a folder", "a pipe", "unreadable name", "stray",
         "twice in a workbook", "deep folders", "tables gone", "link folder", "long name")
    )  # fmt: skip
    if way in ("gone", "link outside", "link to itself", "a folder", "a pipe"):
        path.unlink()
    if way == "link outside":
        path.symlink_to("/etc/passwd")
    elif way == "link to itself":
        path.symlink_to(path.name)
    elif way == "a folder":
        path.mkdir()
    elif way == "a pipe":
        import os

        os.mkfifo(path)
    elif way == "unreadable name":
        (folder / "tables" / b"\xff\xfe.csv".decode("utf-8", "surrogateescape")).write_text(
            "a\n1\n"
        )
    elif way == "stray":
        (folder / "tables" / chance.choice(("measurments.csv", "x.exe", ".hidden.csv"))).write_text(
            "a"
        )
    elif way == "twice in a workbook":
        from mangled_files import sound_workbook

        (folder / "tables" / "all.xlsx").write_bytes(sound_workbook())
    elif way == "deep folders":
        deep = folder / "files"
        for _ in range(60):
            deep = deep / "deeper"
        deep.mkdir(parents=True)
    elif way == "tables gone":
        (folder / "tables").rename(folder / "elsewhere")
    elif way == "link folder":
        (folder / "files" / "loop").symlink_to("..")
    elif way == "long name":
        (folder / "tables" / ("x" * 240 + ".csv")).write_text("a")
    return f"{way} ({path.relative_to(folder)})"
