"""Whose work a movement is: what each change between two runs brought to a conclusion."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import factorial
from typing import Any

from bonewright.comparison import Change, Inputs, rows_by_name
from bonewright.errors import BonewrightError
from bonewright.quantity import Quantity
from bonewright.remembering import StepMemory
from bonewright.study.raw import RawTable
from bonewright.study.schemas import TABLE_BY_NAME

__all__ = ["Share", "attribute"]

# Up to this many changes every set of them is tried at once. Of more, those that move a
# conclusion by less than this share of half its interval are taken together first.
_MOST_IN_FULL = 4
_MOST_PLAYERS = 6
_HARDLY = 0.005
_MOST_IN_TURN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How much of a conclusion's movement one change brought, in the same halves."""

    change: Change
    by: float


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
    changes can be made ([Shapley1953]_). Up to four changes are tried in every order. Of more,
    those that hardly move a conclusion, neither alone nor as the last, are taken together as
    one change; if six or fewer are left they are tried in every order, else all are made in one
    order and in its reverse, which gives the same shares wherever no three act on each other.
    More than twelve are first brought together table by table. A mixture that is no sound study
    (a measurement whose bone is not there yet) counts as if its last change had not been made,
    so that its effect falls to the row that makes it whole.
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

    everything = frozenset(range(n))

    def value(chosen: frozenset[int], key: str) -> float:
        return of(chosen).get(key, summaries[key].median)

    def hardly_moves(place: int, key: str, half: float) -> bool:
        alone = value(frozenset({place}), key) - value(frozenset(), key)
        last = value(everything, key) - value(everything - {place}, key)
        return max(abs(alone), abs(last)) < _HARDLY * half

    shares: dict[str, tuple[Share, ...]] = {}
    for key, summary in summaries.items():
        low, high = summary.interval95
        half = (high - low) / 2
        if half <= 0:
            continue
        players = [frozenset({place}) for place in range(n)]
        if n > _MOST_IN_FULL:
            idle = frozenset(place for place in range(n) if hardly_moves(place, key, half))
            moving = [player for player in players if not player <= idle]
            if len(moving) < _MOST_PLAYERS or len(idle) <= 1:
                players = [*moving, idle] if idle else moving
        shares[key] = tuple(
            Share(
                change=_together([grouped[place] for place in sorted(player)]),
                by=sum(
                    weight * (value(chosen | player, key) - value(chosen, key))
                    for weight, chosen in _orders(players, player)
                )
                / half,
            )
            for player in players
        )
    return shares


def _together(changes: Sequence[Change]) -> Change:
    """Name several changes as one; its rows are those of its first change's table."""
    first = changes[0]
    if len(changes) == 1:
        return first
    return replace(first, words=f"{len(changes)} changes that hardly count one by one")


def _orders(
    players: Sequence[frozenset[int]], player: frozenset[int]
) -> list[tuple[float, frozenset[int]]]:
    """Return the sets that come before a player, each with its weight (they sum to 1)."""
    n, place = len(players), players.index(player)
    before, behind = players[:place], players[place + 1 :]
    if n > _MOST_PLAYERS:
        return [(0.5, _union(before)), (0.5, _union(behind))]
    return [
        (factorial(count) * factorial(n - count - 1) / factorial(n), _union(chosen))
        for count in range(n)
        for chosen in combinations((*before, *behind), count)
    ]


def _union(players: Iterable[frozenset[int]]) -> frozenset[int]:
    return frozenset[int]().union(*players)


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
    earlier, later = rows_by_name(old), rows_by_name(new)
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
