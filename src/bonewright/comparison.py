"""Two runs side by side: what moved, by how much, and because of which rows."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import factorial
from pathlib import Path
from typing import Any

from bonewright.errors import BonewrightError
from bonewright.findings import Finding
from bonewright.pipeline import Arrived, Run, run_study
from bonewright.quantity import Quantity, Summary
from bonewright.remembering import StepMemory
from bonewright.study.load import load_tables
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import Settings

__all__ = ["Change", "Inputs", "Moved", "Share", "attribute", "changes_between", "what_moved"]

# Up to this many changes every set of them is tried; above, one order and its reverse.
_MOST_IN_FULL = 4
_MOST_IN_TURN = 12


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
    for numbers without an interval.
    """

    key: str
    title: str
    before: str
    after: str
    by: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How much of a conclusion's movement one change brought, in the same halves."""

    change: Change
    by: float


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


def _in_halves(summary: Summary, median: float) -> float | None:
    low, high = summary.interval95
    return None if high <= low else (median - summary.median) / ((high - low) / 2)


def changes_between(before: Inputs, after: Inputs) -> tuple[Change, ...]:
    """Return what was changed, row by row and choice by choice."""
    found = []
    for name, table in TABLE_BY_NAME.items():
        old, new = (_rows_by_name(inputs.raw[name]) for inputs in (before, after))
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
    found += [Change(words=f"study.toml: {name}", setting=name) for name in groups]
    if _files(before.folder) != _files(after.folder):
        found.append(Change(words="files of the study"))
    return tuple(found)


def _setting_of(key: str) -> str:
    """Return what is changed as one: a choice with its range and reason, or a section."""
    section, *rest = key.split(".")
    return f"{section}.{rest[0]}" if section in {"choices", "draws"} and rest else section


def _cells_changed(table: str, old: Mapping[str, str], new: Mapping[str, str]) -> str:
    titles = {column.name: column.title for column in TABLE_BY_NAME[table].columns}
    cells = [
        f"{titles.get(column, column)} {old.get(column, '') or 'empty'}"
        f" to {new.get(column, '') or 'empty'}"
        for column in dict.fromkeys((*old, *new))
        if old.get(column, "") != new.get(column, "")
    ]
    return f" ({'; '.join(cells[:3])}{'; …' if len(cells) > 3 else ''})"


def _rows_by_name(table: RawTable) -> dict[str, dict[str, str]]:
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


def attribute(
    before: Inputs,
    after: Inputs,
    *,
    changes: Sequence[Change],
    keys: Sequence[str],
    memory: StepMemory,
) -> Mapping[str, tuple[Share, ...]]:
    """Share the movement of conclusions out among the changes.

    Parameters
    ----------
    before, after : Inputs
    changes : sequence of Change
        From :func:`changes_between`.
    keys : sequence of str
        Conclusions with an interval in both runs.
    memory : StepMemory
        Answers known; every mixture of changes is a run.

    Notes
    -----
    A change's share is its Shapley value: what it adds, averaged over the orders in which the
    changes can be made ([Shapley1953]_). Up to four changes are tried in every order. More are
    made in one order and in its reverse, which gives the same shares wherever no three changes
    act on each other; more than twelve are first brought together table by table. A mixture
    that is no sound study (a measurement whose bone is not there yet) counts as if its last
    change had not been made, so that its effect falls to the row that makes it whole.
    """
    grouped = _grouped(changes)
    n = len(grouped)
    if not n or not keys:
        return {}
    start = before.run(memory)
    summaries = {
        finding.key: finding.value.summary()
        for finding in start.findings
        if finding.key in keys and isinstance(finding.value, Quantity)
    }
    medians: dict[frozenset[int], Mapping[str, float]] = {
        frozenset(): {key: summary.median for key, summary in summaries.items()}
    }

    def of(chosen: frozenset[int]) -> Mapping[str, float]:
        if chosen not in medians:
            whole = len(chosen) == n
            inputs = after if whole else _mixed(before, after, [grouped[i] for i in chosen])
            try:
                run = inputs.run(memory)
            except BonewrightError:
                medians[chosen] = of(chosen - {max(chosen)})
            else:
                medians[chosen] = {
                    finding.key: finding.value.summary().median
                    for finding in run.findings
                    if finding.key in summaries and isinstance(finding.value, Quantity)
                }
        return medians[chosen]

    def gain(chosen: frozenset[int], place: int, key: str) -> float:
        with_it, without = of(chosen | {place}), of(chosen)
        base = summaries[key].median
        return with_it.get(key, base) - without.get(key, base)

    shares: dict[str, tuple[Share, ...]] = {}
    for key, summary in summaries.items():
        low, high = summary.interval95
        half = (high - low) / 2
        if half <= 0:
            continue
        shares[key] = tuple(
            Share(
                change=grouped[place],
                by=sum(weight * gain(chosen, place, key) for weight, chosen in _orders(n, place))
                / half,
            )
            for place in range(n)
        )
    return shares


def _orders(n: int, place: int) -> list[tuple[float, frozenset[int]]]:
    """Return the sets that come before a change, each with its weight (they sum to 1)."""
    others = [other for other in range(n) if other != place]
    if n > _MOST_IN_FULL:
        return [
            (0.5, frozenset(other for other in others if other < place)),
            (0.5, frozenset(other for other in others if other > place)),
        ]
    return [
        (factorial(count) * factorial(n - count - 1) / factorial(n), frozenset(chosen))
        for count in range(n)
        for chosen in combinations(others, count)
    ]


def _grouped(changes: Sequence[Change]) -> list[Change]:
    if len(changes) <= _MOST_IN_TURN:
        return list(changes)
    groups: dict[str, list[Change]] = {}
    for change in changes:
        groups.setdefault(change.table or change.setting or "files", []).append(change)
    return [
        members[0]
        if len(members) == 1
        else replace(
            members[0],
            words=f"{TABLE_BY_NAME[name].title}: {len(members)} rows",
            rows=tuple(row for member in members for row in member.rows),
        )
        for name, members in groups.items()
    ]


def _mixed(before: Inputs, after: Inputs, chosen: Sequence[Change]) -> Inputs:
    """Return the earlier inputs with some of the changes made."""
    raw = before.raw
    for name in dict.fromkeys(change.table for change in chosen if change.table):
        rows = {row for change in chosen if change.table == name for row in change.rows}
        raw = raw.with_table(_mixed_table(before.raw[name], after.raw[name], rows))
    values = before.settings.model_dump()
    for change in chosen:
        if change.setting:
            _put(values, after.settings.model_dump(), change.setting.split("."))
    files_changed = any(not change.table and not change.setting for change in chosen)
    return Inputs(
        raw=raw,
        settings=type(before.settings).model_validate(values),
        folder=after.folder if files_changed else before.folder,
    )


def _mixed_table(old: RawTable, new: RawTable, rows: set[str]) -> RawTable:
    earlier, later = _rows_by_name(old), _rows_by_name(new)
    frame = new if new.rows else old
    header = tuple(dict.fromkeys((*new.header, *old.header)))
    chosen = []
    for name in dict.fromkeys((*later, *earlier)):
        cells = later.get(name) if name in rows else earlier.get(name)
        if cells is not None:
            chosen.append(tuple(cells.get(column, "") for column in header))
    return replace(frame, header=header).with_rows(tuple(chosen))


def _put(values: dict[str, Any], source: Mapping[str, Any], path: Sequence[str]) -> None:
    *way, last = path
    for step in way:
        source = source[step] or {}
        if values[step] is None:
            values[step] = {}
        values = values[step]
    values[last] = source.get(last)
