"""Strength indicators of living animals read in publications, for one leg bone each."""

from dataclasses import dataclass

__all__ = ["PUBLISHED_INDICATORS", "PublishedIndicator"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedIndicator:
    """One published indicator, GPa^-1. ``runs`` says whether the animal runs fast.

    ``element`` is the leg bone it is for; of a mammal's hind leg the tibia answers to the
    tibiotarsus. ``status`` says how far the number was checked.
    """

    animal: str
    element: str
    indicator_per_gpa: float
    runs: bool
    source: str
    status: str


def _read(
    animal: str, element: str, indicator: float, *, runs: bool, source: str, status: str
) -> PublishedIndicator:
    return PublishedIndicator(
        animal=animal,
        element=element,
        indicator_per_gpa=indicator,
        runs=runs,
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
