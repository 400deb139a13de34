"""Two runs side by side: what was changed, and what moved by how much."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bonewright.findings import Exact, Finding
from bonewright.pipeline import Arrived, Run, run_study
from bonewright.quantity import Quantity, Summary
from bonewright.remembering import StepMemory
from bonewright.study.load import load_tables
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import Settings

__all__ = ["Change", "Inputs", "Moved", "changes_between", "rows_by_name", "what_moved"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inputs:
    """What a run is computed from: tables as text, settings, and the folder with its files."""

    raw: RawTables
    settings: Settings
    folder: Path

    def run(self, memory: StepMemory, *, arrived: Arrived | None = None) -> Run:
        """Compute the run; ``arrived`` is told of each step that has its answer.

        Raises
        ------
        StudyProblems
            If the tables hold problems.
        """
        study = load_tables(self.raw, self.settings, self.folder)
        return run_study(study, memory=memory, arrived=arrived)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing changed: a row, or several of one table, a choice, or files.

    ``rows`` are names of rows of ``table``; a choice has its dotted ``setting`` instead; both
    are empty for files.
    """

    words: str
    table: str = ""
    rows: tuple[str, ...] = ()
    setting: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A conclusion that moved.

    ``by`` counts halves of the earlier 95 % interval, above 0 for upwards; None for words and
    for numbers without an interval. ``step`` is by how much a number without one moved, in its
    own unit.
    """

    key: str
    title: str
    before: str
    after: str
    by: float | None
    step: float | None = None


def what_moved(
    before: Sequence[Finding],
    after: Sequence[Finding],
    *,
    write: Callable[[Finding], str],
) -> tuple[Moved, ...]:
    """Return the conclusions that differ, the most moved first, then words, then the rest.

    ``write`` puts a finding's value into words. Findings that only one of the runs has are
    told with an empty side.
    """
    earlier, later = ({item.key: item for item in items} for items in (before, after))
    found = []
    for key in dict.fromkeys((*earlier, *later)):
        old, new = earlier.get(key), later.get(key)
        if old is not None and new is not None and _same(old, new):
            continue
        either = new or old
        if either is None:
            continue
        found.append(
            Moved(
                key=key,
                title=either.title,
                before="" if old is None else write(old),
                after="" if new is None else write(new),
                by=None if old is None or new is None else _movement(old, new),
                step=None if old is None or new is None else _step(old, new),
            )
        )
    return tuple(sorted(found, key=_rank))


def _rank(moved: Moved) -> tuple[int, float]:
    if moved.by is not None:
        return (0, -abs(moved.by))
    return (1 if moved.before and moved.after else 2, 0.0)


def _same(old: Finding, new: Finding) -> bool:
    if old is new:
        return True
    first, second = old.value, new.value
    if isinstance(first, Quantity) and isinstance(second, Quantity):
        return first.summary() == second.summary()
    return first == second


def _movement(old: Finding, new: Finding) -> float | None:
    if not isinstance(old.value, Quantity) or not isinstance(new.value, Quantity):
        return None
    return _in_halves(old.value.summary(), new.value.summary().median)


def _step(old: Finding, new: Finding) -> float | None:
    if not isinstance(old.value, Exact) or not isinstance(new.value, Exact):
        return None
    return new.value.value - old.value.value


def _in_halves(summary: Summary, median: float) -> float | None:
    low, high = summary.interval95
    return None if high <= low else (median - summary.median) / ((high - low) / 2)


def changes_between(before: Inputs, after: Inputs) -> tuple[Change, ...]:
    """Return what was changed, row by row and choice by choice."""
    found = []
    for name, table in TABLE_BY_NAME.items():
        old, new = (rows_by_name(inputs.raw[name]) for inputs in (before, after))
        for row in dict.fromkeys((*old, *new)):
            if old.get(row) == new.get(row):
                continue
            verb = "added" if row not in old else "removed" if row not in new else "changed"
            cells = (
                _cells_changed(name, old.get(row, {}), new.get(row, {}))
                if verb == "changed"
                else ""
            )
            found.append(
                Change(words=f"{table.title}: {row} {verb}{cells}", table=name, rows=(row,))
            )
    settings = (_flat(inputs.settings.model_dump()) for inputs in (before, after))
    earlier, later = settings
    groups = dict.fromkeys(
        _setting_of(key) for key in (*earlier, *later) if earlier.get(key) != later.get(key)
    )
    found += [
        Change(words=f"study.toml: {name}{_setting_words(name, earlier, later)}", setting=name)
        for name in groups
    ]
    if before.folder != after.folder and _files(before.folder) != _files(after.folder):
        found.append(Change(words="files of the study"))
    return tuple(found)


def _setting_of(key: str) -> str:
    """Return what is changed as one: a choice with its range and reason, or a section."""
    section, *rest = key.split(".")
    return f"{section}.{rest[0]}" if section in {"choices", "draws"} and rest else section


def _setting_words(name: str, earlier: Mapping[str, Any], later: Mapping[str, Any]) -> str:
    keys = [
        key
        for key in dict.fromkeys((*earlier, *later))
        if _setting_of(key) == name and earlier.get(key) != later.get(key)
    ]
    parts = [
        f"{key.removeprefix(name).lstrip('.')} {_or_empty(earlier.get(key))} to"
        f" {_or_empty(later.get(key))}".strip()
        for key in keys[:3]
    ]
    return f" ({'; '.join(parts)}{'; …' if len(keys) > 3 else ''})"


def _or_empty(value: object) -> str:
    return "empty" if value in (None, "", (), []) else str(value)


def _cells_changed(table: str, old: Mapping[str, str], new: Mapping[str, str]) -> str:
    titles = {column.name: column.title for column in TABLE_BY_NAME[table].columns}
    cells = [
        f"{titles.get(column, column)} {old.get(column, '') or 'empty'}"
        f" to {new.get(column, '') or 'empty'}"
        for column in dict.fromkeys((*old, *new))
        if old.get(column, "") != new.get(column, "")
    ]
    return f" ({'; '.join(cells[:3])}{'; …' if len(cells) > 3 else ''})"


def rows_by_name(table: RawTable) -> dict[str, dict[str, str]]:
    """Return the cells by column of each row of a table, by the row's name."""
    key = TABLE_BY_NAME[table.name].key
    found: dict[str, dict[str, str]] = {}
    for row in table.rows:
        cells = dict(zip(table.header, row, strict=False))
        if any(cell.strip() for cell in row):
            found[cells.get(key, "").strip()] = cells
    return found


def _flat(values: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in values.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{before}{key}.")
        else:
            found[before + key] = value
    return found


def _files(folder: Path) -> dict[str, bytes]:
    root = folder / "files"
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }
