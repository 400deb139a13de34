"""What a step changed in a table, row by row, in words."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from bonewright.study.csv_file import parse_csv
from bonewright.study.history.journal import FileChange, Step
from bonewright.study.history.record import History
from bonewright.study.raw import RawTable
from bonewright.study.schemas import TABLE_BY_NAME

__all__ = ["RowChange", "changes_of", "row_changes", "summary_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """One cell that changed; ``column`` is None for a row added, taken away or a whole file.

    ``row_id`` is the row's name, "" for a whole file.
    """

    path: str
    row_id: str
    column: str | None
    before: str
    after: str

    def sentence(self) -> str:
        """Say it in one line."""
        place = f"{self.path}, {self.row_id}" if self.row_id else self.path
        if self.column is None:
            return f"{place}: {self.after}"
        return f"{place}, {self.column}: {self.before or 'empty'} -> {self.after or 'empty'}"


def row_changes(path: str, before: RawTable, after: RawTable) -> Iterator[RowChange]:
    """Yield what differs between two versions of a table, in the order of the rows."""
    old, new = _named(before), _named(after)
    columns = tuple(dict.fromkeys((*before.header, *after.header)))
    alike = before.header == after.header
    for name in {**old, **new}:
        row_id = name[0] or "a row without a name"
        was, now = old.get(name), new.get(name)
        if was == now and alike:
            continue
        if was is None or now is None:
            words = "added" if was is None else "deleted"
            yield RowChange(path=path, row_id=row_id, column=None, before="", after=words)
            continue
        older = dict(zip(before.header, was, strict=False))
        newer = dict(zip(after.header, now, strict=False))
        for column in columns:
            earlier, later = older.get(column, ""), newer.get(column, "")
            if earlier != later:
                yield RowChange(
                    path=path, row_id=row_id, column=column, before=earlier, after=later
                )


def _named(table: RawTable) -> dict[tuple[str, int], tuple[str, ...]]:
    key = TABLE_BY_NAME[table.name].key
    place = table.header.index(key) if key in table.header else len(table.header)
    seen: Counter[str] = Counter()
    named: dict[tuple[str, int], tuple[str, ...]] = {}
    for row in table.rows:
        name = row[place].strip() if place < len(row) else ""
        named[(name, seen[name])] = row
        seen[name] += 1
    return named


def summary_of(path: str, before: RawTable, after: RawTable) -> str:
    """Count what changed in a table: '2 cells changed, 1 row added'."""
    kinds: Counter[str] = Counter(
        "cell changed" if change.column is not None else f"row {change.after}"
        for change in row_changes(path, before, after)
    )
    return ", ".join(
        f"{count} {kind if count == 1 else kind.replace(' ', 's ', 1)}"
        for kind, count in kinds.items()
    )


def changes_of(history: History, step: Step) -> Iterator[RowChange]:
    """Yield what a step changed: cells and rows of tables, other files whole.

    Raises
    ------
    BonewrightError
        If a version is gone.
    """
    for change in step.changes:
        tables = _tables(history, change)
        if tables is None:
            yield _whole(change)
        else:
            yield from row_changes(change.path, *tables)


def _tables(history: History, change: FileChange) -> tuple[RawTable, RawTable] | None:
    name = change.path.removeprefix("tables/").removesuffix(".csv")
    if change.path != f"tables/{name}.csv" or name not in TABLE_BY_NAME:
        return None
    marks = (change.before or "size:0", change.after or "size:0")
    if any(mark.startswith("size:") for mark in marks):
        return None
    before, after = (
        parse_csv(name, history.content(change.path, mark), file=change.path) for mark in marks
    )
    return None if before.problems or after.problems else (before, after)


def _whole(change: FileChange) -> RowChange:
    words = "changed"
    if change.before is None:
        words = "new file"
    elif change.after is None:
        words = "taken away"
    return RowChange(path=change.path, row_id="", column=None, before="", after=words)
