"""Bones of an import that the study holds already under another name.

A collection's system gives bones names of its own. What says that a bone is the same is the
collection, the catalogue number, which bone it is and of which side. A number that stands for
several such bones (a drawer, a lot) says nothing, and the bones of the import are taken as new.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bonewright.study.cells import read_number
from bonewright.study.raw import RawTable

__all__ = ["Recognised", "recognised"]

Rows = Mapping[str, Sequence[Mapping[str, str]]]

_NO_SIDE = ("", "unknown")
_NO_INSTITUTION = ("", "not given")


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """The rows of an import under the study's names, and what was recognised, in words."""

    rows: dict[str, list[dict[str, str]]]
    words: tuple[str, ...]


def recognised(tables: Mapping[str, RawTable], rows: Rows) -> Recognised:
    """Give bones that the study knows, and readings of them, the names they have there.

    Parameters
    ----------
    tables : mapping from name to RawTable
        The study's tables.
    rows : mapping from table to its rows
        The import's.
    """
    taken = {name: [dict(row) for row in new] for name, new in rows.items()}
    standing = _as_dicts(tables.get("specimens"))
    renamed, words = _same_bones(standing, taken.get("specimens", []))
    if not renamed:
        return Recognised(rows=taken, words=())
    for name in ("specimens", "measurements"):
        for row in taken.get(name, []):
            for column in ("materialEntityID", "castOf"):
                if row.get(column) in renamed:
                    row[column] = renamed[row[column]]
    _name_readings(_as_dicts(tables.get("measurements")), taken, set(renamed.values()))
    return Recognised(rows=taken, words=words)


def _as_dicts(table: RawTable | None) -> list[dict[str, str]]:
    if table is None:
        return []
    return [
        {name: cell.strip() for name, cell in zip(table.header, row, strict=False)}
        for row in table.rows
    ]


def _same_bones(
    standing: Sequence[Mapping[str, str]], new: Sequence[Mapping[str, str]]
) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return the study's name of each bone of the import that stands under another one."""
    here: dict[tuple[str, ...], list[Mapping[str, str]]] = defaultdict(list)
    for row in standing:
        here[_place(row)].append(row)
    names_here = {row.get("materialEntityID", "") for row in standing}
    names_new = Counter(row.get("materialEntityID", "") for row in new)
    found: dict[str, Mapping[str, str]] = {}
    for row in new:
        name, place = row.get("materialEntityID", ""), _place(row)
        if name in names_here or names_new[name] > 1 or place[0] in _NO_INSTITUTION or not place[1]:
            continue
        alike = [one for one in here[place] if _sides_agree(one, row)]
        if len(alike) == 1:
            found[name] = alike[0]
    claimed = Counter(row.get("materialEntityID", "") for row in found.values())
    # A bone that the import names itself is that one and no other.
    claimed.update(name for name in names_new if name in claimed)
    renamed, words = {}, []
    for name, row in found.items():
        known = row.get("materialEntityID", "")
        if not known or claimed[known] > 1:
            continue
        renamed[name] = known
        side = row.get("side", "")
        bone = " ".join(part for part in ("" if side in _NO_SIDE else side, row["element"]) if part)
        number = f"{row['institutionCode']} {row['catalogNumber']}"
        words.append(f"{name} is {known} here: {number}, {bone}")
    return renamed, tuple(words)


def _place(row: Mapping[str, str]) -> tuple[str, ...]:
    """Return collection, number and element; spaces and capitals are no difference."""
    columns = ("institutionCode", "catalogNumber", "element")
    return tuple(" ".join(row.get(column, "").split()).casefold() for column in columns)


def _sides_agree(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
    sides = {row.get("side", "") for row in (one, other)} - {*_NO_SIDE}
    return len(sides) < 2


def _name_readings(
    standing: Sequence[Mapping[str, str]], taken: dict[str, list[dict[str, str]]], bones: set[str]
) -> None:
    """Give each reading of a recognised bone the name of the like one that stands, once each."""
    names = {row.get("measurementID", "") for row in standing}
    here: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for row in reversed(standing):
        here[_reading(row)].append(row.get("measurementID", ""))
    # A reading that the import has under the study's own name is that one.
    own = {row.get("measurementID", "") for row in taken.get("measurements", [])} & names
    for row in taken.get("measurements", []):
        if row.get("materialEntityID") not in bones or row.get("measurementID") in names:
            continue
        alike = [name for name in here[_reading(row)] if name not in own]
        if alike:
            row["measurementID"] = alike[-1]
            here[_reading(row)].remove(alike[-1])


def _reading(row: Mapping[str, str]) -> tuple[str, ...]:
    """Return what makes a reading: bone, code, value, unit, and by whom and when if told."""
    text = row.get("measurementValue", "").replace(",", ".")
    number = read_number(text, ".")
    value = f"{number:.10g}" if isinstance(number, float) else text
    columns = ("measurementUnit", "measurementDeterminedBy", "measurementDeterminedDate")
    return (
        row.get("materialEntityID", ""),
        row.get("measurementType", ""),
        value,
        *(row.get(column, "") for column in columns),
    )
