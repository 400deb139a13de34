"""Strength indicators of living animals read in publications, for one leg bone each."""

from collections.abc import Iterable
from dataclasses import dataclass

from bonewright.findings import RowRef
from bonewright.study.model import StrengthIndicator

__all__ = ["PUBLISHED_INDICATORS", "PublishedIndicator", "with_own_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedIndicator:
    """One published indicator, GPa^-1, of an animal with its way of moving.

    ``element`` is the leg bone it is for; of a mammal's hind leg the tibia answers to the
    tibiotarsus. ``status`` says how far the number was checked; ``ref`` is the row of a number
    that the study brings, None of one that comes with the program.
    """

    animal: str
    element: str
    indicator_per_gpa: float
    locomotion: str
    source: str
    status: str
    ref: RowRef | None = None


def with_own_rows(rows: Iterable[StrengthIndicator]) -> tuple[PublishedIndicator, ...]:
    """Join the study's own rows to the indicators that come with the program.

    A row of the study takes the place of the program's number for the same animal and bone.
    """
    own = tuple(
        PublishedIndicator(
            animal=row.animal,
            element=row.element,
            indicator_per_gpa=row.indicator_per_gpa,
            locomotion=row.locomotion,
            source=row.source_id or "no source named",
            status="your row",
            ref=row.ref,
        )
        for row in rows
    )
    taken = {(one.animal.casefold(), one.element) for one in own}
    shipped = (
        one for one in PUBLISHED_INDICATORS if (one.animal.casefold(), one.element) not in taken
    )
    return (*shipped, *own)


def _read(
    animal: str, element: str, indicator: float, *, runs: bool, source: str, status: str
) -> PublishedIndicator:
    return PublishedIndicator(
        animal=animal,
        element=element,
        indicator_per_gpa=indicator,
        locomotion="runner" if runs else "walker",
        source=source,
        status=status,
    )


PUBLISHED_INDICATORS: tuple[PublishedIndicator, ...] = (
    _read("ostrich", "femur", 44, runs=True, source="Farlow1995", status="secondary"),
    _read("white rhinoceros", "femur", 26, runs=True, source="Farlow1995", status="secondary"),
    _read("human", "femur", 15, runs=True, source="Farlow1995", status="secondary"),
    _read("ostrich", "tibiotarsus", 18, runs=True, source="Alexander1989", status="from memory"),
    _read("buffalo", "femur", 22, runs=True, source="Alexander1989", status="from memory"),
    _read("buffalo", "tibiotarsus", 27, runs=True, source="Alexander1989", status="from memory"),
    _read("African elephant", "femur", 7, runs=False, source="Alexander1989", status="from memory"),
    _read(
        "African elephant", "tibiotarsus", 9, runs=False, source="Alexander1989",
        status="from memory",
    ),
)  # fmt: skip
