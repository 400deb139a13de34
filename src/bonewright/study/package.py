"""Describe a study's tables as an open data package (Frictionless Data Package v2).

``datapackage.json`` lets an archive, or a colleague without this program, read every
table with its types, allowed values, keys and units.
"""

import contextlib
import json
import re
from pathlib import Path
from typing import Any

from bonewright.study.atomic import write_atomically
from bonewright.study.cells import decimal_mark
from bonewright.study.columns import Column, Table
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.read import read_tables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import Settings
from bonewright.study.settings_file import read_settings

__all__ = [
    "DATA_PACKAGE_FILE",
    "data_package",
    "describe_package",
    "write_data_package",
    "write_description",
]

DATA_PACKAGE_FILE = "datapackage.json"

_PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
# One date of the Extended Date/Time Format as the check reads it; months and days are left to
# the check.
_ONE_DATE = r"[0-9]{2}([0-9]{2}|[0-9]X|XX)(-([0-9]{2}|XX)(-([0-9]{2}|XX))?)?[?~%]?"
_DATE = rf"\s*({_ONE_DATE}(\s*/\s*{_ONE_DATE})?|\[[^\[\]]+\])\s*"


def data_package(folder: Path) -> dict[str, Any]:
    """Describe the tables of a study folder.

    Parameters
    ----------
    folder : Path
        The study folder. Tables without a file, or that cannot be read, are left out.

    Returns
    -------
    dict
        The descriptor, ready for JSON.
    """
    settings, _ = read_settings(folder)
    return describe_package(read_tables(folder), settings)


def write_data_package(folder: Path) -> Path:
    """Write ``datapackage.json`` into a study folder and return its path.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    return _write(folder, data_package(folder))


def write_description(folder: Path, raw_tables: RawTables, settings: Settings | None) -> None:
    """Write ``datapackage.json`` for tables already read, if the folder can be written.

    It is made from the tables alone and is made again with the next save.
    """
    with contextlib.suppress(OSError):
        _write(folder, describe_package(raw_tables, settings))


def _write(folder: Path, descriptor: dict[str, Any]) -> Path:
    path = folder / DATA_PACKAGE_FILE
    text = json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n"
    content = text.encode("utf-8")
    if not path.is_file() or path.read_bytes() != content:
        write_atomically(path, content)
    return path


def describe_package(raw_tables: RawTables, settings: Settings | None) -> dict[str, Any]:
    """Describe tables already read; see :func:`data_package`."""
    present = {
        name: raw
        for name, raw in raw_tables.items()
        if raw.content_hash is not None and not raw.problems
    }
    title = settings.study.title if settings else "Study"
    descriptor: dict[str, Any] = {
        "$schema": _PROFILE,
        "name": re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-") or "study",
        "title": title,
    }
    if settings:
        invented = "Invented: nothing in it is real. " if settings.study.invented else ""
        descriptor["description"] = invented + settings.study.question
    descriptor["resources"] = [_resource(raw, present) for raw in present.values()]
    return descriptor


def _resource(raw: RawTable, present: dict[str, RawTable]) -> dict[str, Any]:
    table = TABLE_BY_NAME[raw.name]
    path, _, sheet = raw.file.partition(", sheet ")
    resource: dict[str, Any] = {
        "name": raw.name,
        "type": "table",
        "title": table.title,
        "description": table.description,
        "path": path,
        "format": Path(path).suffix.removeprefix("."),
    }
    if sheet:
        resource["dialect"] = {"sheetName": sheet}
    else:
        resource["encoding"] = "utf-8"
        resource["dialect"] = {"delimiter": raw.dialect.delimiter}
    resource["schema"] = _schema(raw, table, present)
    return resource


def _schema(raw: RawTable, table: Table, present: dict[str, RawTable]) -> dict[str, Any]:
    known = {column.name: column for column in table.columns}
    numeric = {c.name for c in table.columns if c.kind in ("number", "integer")}
    mark = decimal_mark(
        (
            cell
            for row in raw.rows
            for name, cell in zip(raw.header, row, strict=False)
            if name in numeric
        ),
        raw.dialect.delimiter,
    )
    schema: dict[str, Any] = {
        "fields": [
            _field(known[name], table, mark or ".")
            if name in known
            else {"name": name, "type": "string"}
            for name in raw.header
        ],
        "missingValues": [""],
        "primaryKey": [table.key],
    }
    foreign = [_foreign_key(column, table) for column in table.columns if _refers(column, present)]
    if foreign:
        schema["foreignKeys"] = [key for key in foreign if key["fields"][0] in raw.header]
    return schema


def _refers(column: Column, present: dict[str, RawTable]) -> bool:
    return column.refers_to is not None and column.refers_to in present


def _foreign_key(column: Column, table: Table) -> dict[str, Any]:
    target = column.refers_to or table.name
    reference: dict[str, Any] = {"fields": [TABLE_BY_NAME[target].key]}
    if target != table.name:
        reference["resource"] = target
    else:
        reference["resource"] = ""
    return {"fields": [column.name], "reference": reference}


def _field(column: Column, table: Table, mark: str) -> dict[str, Any]:
    types = {"number": "number", "integer": "integer", "yes-no": "boolean"}
    field: dict[str, Any] = {
        "name": column.name,
        "type": types.get(column.kind, "string"),
        "title": column.title,
        "description": _description(column),
    }
    if column.example:
        field["example"] = column.example
    if column.kind == "number" and mark != ".":
        field["decimalChar"] = mark
    constraints = _constraints(column, table)
    if constraints:
        field["constraints"] = constraints
    return field


def _description(column: Column) -> str:
    words = column.description
    if column.unit_column:
        words += f" The unit stands in the column {column.unit_column}."
    if column.limit:
        limit = column.limit
        words += f" Plausible from {limit.low:g} to {limit.high:g} {limit.unit}."
    return words


def _constraints(column: Column, table: Table) -> dict[str, Any]:
    constraints: dict[str, Any] = {}
    if column.required:
        constraints["required"] = True
    if column.name == table.key:
        constraints["unique"] = True
    if column.kind == "choice" and not column.extended_by:  # a study may add to those
        constraints["enum"] = list(column.choices)
    if column.kind == "date":
        constraints["pattern"] = _DATE
    if column.minimum is not None:
        constraints["exclusiveMinimum" if column.exclusive else "minimum"] = column.minimum
    if column.maximum is not None:
        constraints["exclusiveMaximum" if column.exclusive else "maximum"] = column.maximum
    return constraints
