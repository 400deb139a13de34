"""From the first bone to the first estimate: what is done in the tables, and what is next.

Nothing here is remembered: each step looks at the tables as they stand.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import Literal

from bonewright.study.raw import RawTable, RawTables
from bonewright.study.settings import Settings
from bonewright.web.workroom import Standing

__all__ = ["FirstStep", "first_steps"]

_LEG = ("femur", "tibiotarsus", "tarsometatarsus")
_LEAST_RELATIVES = 5
_UNNAMED = "the lost animal"


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstStep:
    """One thing to do: whether it is done, what stands in the tables, where to do it."""

    title: str
    state: Literal["done", "next", "later"]
    found: str
    what: str
    href: str


def first_steps(standing: Standing) -> tuple[FirstStep, ...]:
    """Return the way to the first estimate; empty once there is one."""
    raw, run = standing.raw, standing.run
    if run is not None and run.pooled is not None:
        return ()
    bones, measured = _leg_bones(raw)
    relatives = _filled(raw["relatives"], "scientificName", "bodyMass")
    shared, n_shared = _best_shared(raw, set(measured))
    done = [
        (
            "Say which animal, and what you want to know",
            standing.settings is not None and not _is_blank(standing.settings),
            "" if standing.settings is None else standing.settings.animal.name,
            "Two lines are enough to begin.",
            "/study#about",
        ),
        (
            "Enter the first bones",
            bones > 0,
            f"{bones} leg bones" if bones else "no leg bone yet",
            "One row a bone: which bone, where it is kept. Leg bones first: the mass hangs on"
            " them. A spreadsheet can be pasted.",
            "/skeleton#specimens",
        ),
        (
            "Enter what you measured on them",
            bool(measured),
            _listed(measured) if measured else "no measurement of a leg bone yet",
            "One row a measurement, by its code; 'Where the callipers go' shows each.",
            "/skeleton#measurements",
        ),
        (
            "Enter living relatives of known mass",
            len(relatives) >= _LEAST_RELATIVES,
            f"{len(relatives)} of at least {_LEAST_RELATIVES}",
            "One row a species, with its body mass and the source.",
            "/relatives#relatives",
        ),
        (
            "Enter the same measurement on those relatives",
            n_shared >= _LEAST_RELATIVES,
            f"{n_shared} of at least {_LEAST_RELATIVES} share {shared}" if shared else "none yet",
            "One row a species and measurement: one that you also took on the lost animal.",
            "/relatives#relative_measurements",
        ),
        (
            "Read the first estimate of the mass",
            False,
            "" if run is None else run.unanswered.get("judgement", ""),
            "It comes by itself once the rows are there, and moves with every row you add.",
            "/judgement",
        ),
    ]
    following = next(place for place, entry in enumerate(done) if not entry[1])
    return tuple(
        FirstStep(
            title=title,
            state="done" if is_done else "next" if place == following else "later",
            found=found,
            what=what,
            href=href,
        )
        for place, (title, is_done, found, what, href) in enumerate(done)
    )


def _is_blank(settings: Settings) -> bool:
    return settings.animal.name == _UNNAMED


def _leg_bones(raw: RawTables) -> tuple[int, Counter[tuple[str, str]]]:
    """Count the leg bones, and the measurements of them by (element, code)."""
    element = {
        row["materialEntityID"]: row["element"]
        for row in _filled(raw["specimens"], "materialEntityID", "element")
        if row["element"] in _LEG
    }
    wanted = ("materialEntityID", "measurementType", "measurementValue")
    measured = Counter(
        (element[row["materialEntityID"]], row["measurementType"])
        for row in _filled(raw["measurements"], *wanted)
        if row["materialEntityID"] in element
    )
    return len(element), measured


def _best_shared(raw: RawTables, measured: set[tuple[str, str]]) -> tuple[str, int]:
    """Name the measurement of the lost animal that most relatives of known mass have."""
    known = {row["scientificName"] for row in _filled(raw["relatives"], "bodyMass")}
    species: dict[tuple[str, str], set[str]] = defaultdict(set)
    wanted = ("scientificName", "element", "measurementType", "measurementValue")
    for row in _filled(raw["relative_measurements"], *wanted):
        key = (row["element"], row["measurementType"])
        if key in measured and row["scientificName"] in known:
            species[key].add(row["scientificName"])
    if not species:
        return "", 0
    best = max(species, key=lambda key: len(species[key]))
    return " ".join(best), len(species[best])


def _filled(table: RawTable, *columns: str) -> list[dict[str, str]]:
    """Return the rows, by column, in which these columns are all filled in."""
    rows = [
        {name: cell.strip() for name, cell in zip(table.header, row, strict=False)}
        for row in table.rows
    ]
    return [row for row in rows if all(row.get(column) for column in columns)]


def _listed(measured: Counter[tuple[str, str]]) -> str:
    return ", ".join(
        f"{element} {code} {count}" for (element, code), count in measured.most_common(3)
    )
