"""Two people changed one table: join both, and name what contradicts.

A three-way comparison, row by row. Rows are known by their key (the n-th row of a key that
stands more than once is the n-th everywhere). What only one side changed is taken; where
both changed one cell differently the page's value is kept for now and the pair is listed,
so that the person chooses and nothing is lost.
"""

from collections import Counter
from dataclasses import dataclass

__all__ = ["Contradiction", "Joined", "Sheet", "join"]

RowName = tuple[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Header and rows of a table, as text. Every row is as long as the header.

    ``numbers`` are the rows' numbers on disk where they are known.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """One cell with two values. ``column`` is None where one side deleted the row.

    ``index`` is the row's place in the joined sheet.
    """

    row_id: str
    index: int
    column: str | None
    before: str
    yours: str
    on_disk: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Both sides in one sheet.

    ``numbers`` are its rows' numbers on disk, None for a row that is not there; ``standing``
    are the rows on disk that are other here or gone, by number.
    """

    sheet: Sheet
    contradictions: tuple[Contradiction, ...]
    numbers: tuple[int | None, ...]
    standing: dict[int, tuple[str, ...]]


def join(before: Sheet, yours: Sheet, on_disk: Sheet, *, key: str) -> Joined:
    """Join what was changed in the page with what was changed on disk since ``before``."""
    header = on_disk.header + tuple(name for name in yours.header if name not in on_disk.header)
    old = _named(before, header, key)
    mine = _named(yours, header, key)
    theirs = _named(on_disk, header, key)
    numbered = dict(zip(theirs, on_disk.numbers, strict=False))
    standing = {number: theirs[name] for name, number in numbered.items()}
    rows: list[tuple[str, ...]] = []
    numbers: list[int | None] = []
    found: list[Contradiction] = []
    for name in _order(mine, theirs):
        row, contradictions = _join_row(
            old.get(name), mine.get(name), theirs.get(name), header=header
        )
        if row is None:
            continue
        for column, was, here, there in contradictions:
            found.append(
                Contradiction(
                    row_id=name[0],
                    index=len(rows),
                    column=column,
                    before=was,
                    yours=here,
                    on_disk=there,
                )
            )
        rows.append(row)
        number = numbered.get(name)
        numbers.append(number)
        if number is not None and standing[number] == row:
            del standing[number]
    return Joined(
        sheet=Sheet(header=header, rows=tuple(rows)),
        contradictions=tuple(found),
        numbers=tuple(numbers),
        standing=standing,
    )


def _named(sheet: Sheet, header: tuple[str, ...], key: str) -> dict[RowName, tuple[str, ...]]:
    place = {name: index for index, name in enumerate(sheet.header)}
    alike = sheet.header == header
    seen: Counter[str] = Counter()
    named: dict[RowName, tuple[str, ...]] = {}
    for row in sheet.rows:
        cells = row
        if not alike:
            cells = tuple(row[place[name]] if name in place else "" for name in header)
        row_id = row[place[key]].strip() if key in place else ""
        named[(row_id, seen[row_id])] = cells
        seen[row_id] += 1
    return named


def _order(
    mine: dict[RowName, tuple[str, ...]], theirs: dict[RowName, tuple[str, ...]]
) -> list[RowName]:
    """Keep the order on disk; a row only the page has follows the row it followed there."""
    followers: dict[RowName | None, list[RowName]] = {}
    anchor: RowName | None = None
    for name in mine:
        if name in theirs:
            anchor = name
        else:
            followers.setdefault(anchor, []).append(name)
    order = followers.get(None, [])
    for name in theirs:
        order += [name, *followers.get(name, [])]
    return order


Pair = tuple[str | None, str, str, str]


def _join_row(
    old: tuple[str, ...] | None,
    mine: tuple[str, ...] | None,
    theirs: tuple[str, ...] | None,
    *,
    header: tuple[str, ...],
) -> tuple[tuple[str, ...] | None, list[Pair]]:
    if mine is None or theirs is None:
        left = mine if theirs is None else theirs
        if left is None or old == left:
            return None, []  # deleted by one side, untouched by the other
        if old is None:
            return left, []  # new on one side
        mine_words = "deleted" if mine is None else "changed"
        disk_words = "deleted" if theirs is None else "changed"
        return left, [(None, "", mine_words, disk_words)]
    if mine in (theirs, old):
        return theirs, []
    if theirs == old:
        return mine, []
    joined: list[str] = []
    contradictions: list[Pair] = []
    for index, column in enumerate(header):
        was = old[index] if old is not None else ""
        here, there = mine[index], theirs[index]
        joined.append(there if here == was else here)
        if here != there and here != was and there != was:
            contradictions.append((column, was, here, there))
    return tuple(joined), contradictions
