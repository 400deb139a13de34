"""Merge imported rows into a study's tables: nothing twice, nothing written over."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.raw import RawTable, empty_table
from bonewright.study.recognising import recognised
from bonewright.study.save import ChangedOnDisk, save_tables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.snapshot import read_snapshot

__all__ = ["Merged", "merge_rows", "planned_merge"]

_ATTEMPTS = 20


@dataclass(slots=True)
class Merged:
    """What came of a merge: rows added and rows that stood there, by table.

    ``differing`` names rows that stand in the study with another value; the study's stays.
    ``recognised`` says which bones stand in the study under another name.
    """

    added: dict[str, int] = field(default_factory=dict)
    known: dict[str, int] = field(default_factory=dict)
    differing: list[str] = field(default_factory=list)
    recognised: tuple[str, ...] = ()


def merge_rows(
    folder: Path,
    rows: Mapping[str, Sequence[Mapping[str, str]]],
    *,
    what: str,
    beside: Mapping[str, bytes] | None = None,
) -> Merged:
    """Add rows to a study's tables, in the order of ``rows`` (table name to rows).

    A row that stands in the table word for word is passed over, so that importing twice
    changes nothing. A row of the same name but with other cells stays as it is in the study
    and is listed. Two rows of one name in the import get numbers, as repeats have. All
    tables, and the files ``beside`` them, are one step of the history, named ``what``.

    Raises
    ------
    BonewrightError
        If a table cannot be read or saved; nothing is saved then.
    """
    for _ in range(_ATTEMPTS):
        try:
            return _merge_once(folder, rows, what=what, beside=beside)
        except ChangedOnDisk:
            continue  # another program saved in between: its rows are read and kept as well
    return _merge_once(folder, rows, what=what, beside=beside)


def _merge_once(
    folder: Path,
    rows: Mapping[str, Sequence[Mapping[str, str]]],
    *,
    what: str,
    beside: Mapping[str, bytes] | None,
) -> Merged:
    planned, merged = planned_merge(read_snapshot(folder).raw, rows)
    changed = [table for table in planned if merged.added.get(table.name)]
    save_tables(folder, changed, what=what, by="import", beside=beside)
    return merged


def planned_merge(
    tables: Mapping[str, RawTable], rows: Mapping[str, Sequence[Mapping[str, str]]]
) -> tuple[list[RawTable], Merged]:
    """Return the tables as :func:`merge_rows` would make them; nothing is saved.

    Raises
    ------
    BonewrightError
        If a table cannot be read.
    """
    found = recognised(tables, rows)
    merged = Merged(recognised=found.words)
    planned: dict[str, RawTable] = {}
    cited: set[str] = set()
    # Sources last: one that nothing new rests on is not added.
    for name in sorted(found.rows, key=lambda name: name == "sources"):
        table = tables.get(name) or empty_table(name)
        if table.problems:
            raise BonewrightError(table.problems[0].sentence(), remedy="Mend the table first.")
        new = found.rows[name]
        if name == "sources" and len(found.rows) > 1:
            new = [row for row in new if row.get("sourceID") in cited]
        planned[name] = _with_rows(table, new, merged, cited)
    merged.added = {name: merged.added[name] for name in found.rows}
    return [planned[name] for name in found.rows], merged


def _with_rows(
    table: RawTable, new: Sequence[Mapping[str, str]], merged: Merged, cited: set[str]
) -> RawTable:
    """Add rows to a table; ``cited`` takes in the sources that the added ones name."""
    schema = TABLE_BY_NAME[table.name]
    header = list(table.header)
    wanted = {column for row in new for column, cell in row.items() if cell}
    header += [c.name for c in schema.columns if c.name in wanted and c.name not in header]
    key = header.index(schema.key) if schema.key in header else len(header)
    if key == len(header):
        header.append(schema.key)
    width = len(header)
    rows = [tuple(row) + ("",) * (width - len(row)) for row in table.rows]
    standing = {row[key].strip(): row for row in rows}
    seen: dict[str, int] = {}
    added = known = 0
    for entry in new:
        cells = {column: " ".join(cell.split()) for column, cell in entry.items()}
        name = cells[schema.key]
        seen[name] = seen.get(name, 0) + 1
        if seen[name] > 1:
            name = f"{name}-{seen[name]}"
        cells[schema.key] = name
        row = tuple(cells.get(column, "") for column in header)
        if name not in standing:
            rows.append(row)
            standing[name] = row
            cited.add(cells.get("sourceID", ""))
            added += 1
            continue
        off = [
            f"{column} {old or 'empty'} here, {cell} in the import"
            for column, cell, old in zip(header, row, standing[name], strict=True)
            # The same bones under another file name are the same bones.
            if cell and cell != old.strip() and column != "sourceID"
        ]
        known += not off
        if off:
            merged.differing.append(f"{table.name}, {name}: {'; '.join(off)}")
    merged.added[table.name] = added
    merged.known[table.name] = known
    return RawTable(
        name=table.name,
        file=table.file,
        header=tuple(header),
        rows=tuple(rows),
        row_numbers=tuple(range(2, len(rows) + 2)),
        dialect=table.dialect,
        content_hash=table.content_hash,
    )
