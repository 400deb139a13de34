"""A made-up flock measured bone by bone, for the tests of the average skeleton."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from bonewright.findings import Doubt, RowRef
from bonewright.skeleton.average import AverageSkeleton, average_skeleton
from bonewright.skeleton.joint_average import AverageChoice
from bonewright.skeleton.sorting import sort_rows
from bonewright.study.model import Measurement, RelativeMeasurement, Specimen

# Typical sizes (mm) of a large flightless bird, chosen for the tests.
TYPICAL_MM = {
    "femur": {"GL": 170.0, "Bp": 42.0, "Bd": 39.0, "SC": 15.5, "CD": 52.0},
    "tibiotarsus": {"GL": 280.0, "La": 270.0, "Bd": 33.0, "SC": 14.5, "CD": 47.0},
    "tarsometatarsus": {"GL": 190.0, "Bp": 34.0, "Bd": 37.0, "SC": 16.0, "CD": 49.0},
    "humerus": {"GL": 95.0, "Bp": 20.0, "Bd": 14.0, "SC": 6.0},
    "ulna": {"GL": 74.0, "Bp": 9.5, "Did": 8.2, "SC": 4.6},
    "radius": {"GL": 68.0, "Bd": 5.6, "SC": 2.9},
    "pelvis": {"GL": 230.0, "AA": 85.0, "DiA": 19.0},
    "skull": {"GL": 150.0, "GB": 48.0, "GH": 41.0},
}


@dataclass
class Flock:
    """Tables under construction."""

    specimens: list[Specimen]
    measurements: list[Measurement]

    def bone(self, element: str, values: dict[str, float], **changes: object) -> str:
        number = len(self.specimens) + 1
        name = f"bone-{number:03d}"
        row: dict[str, object] = {
            "ref": RowRef(table="specimens", row=number + 1, row_id=name),
            "specimen_id": name,
            "institution_code": "INV",
            "catalog_number": str(number),
            "individual_id": None,
            "element": element,
            "side": "left",
            "sex": "unknown",
            "life_stage": "adult",
            "preparation": "bone",
            "cast_of": None,
            "preservation": "complete",
            "source_id": None,
        }
        self.specimens.append(Specimen(**(row | changes)))  # type: ignore[arg-type]
        for code, value in values.items():
            self.measure(name, code, value)
        return name

    def measure(self, bone: str, code: str, value_mm: float, observer: str = "A") -> str:
        number = len(self.measurements) + 1
        name = f"m-{number:04d}"
        self.measurements.append(
            Measurement(
                ref=RowRef(table="measurements", row=number + 1, row_id=name),
                measurement_id=name,
                specimen_id=bone,
                code=code,
                value_mm=value_mm,
                accuracy_mm=0.1,
                observer=observer,
                source_id=None,
            )
        )
        return name

    def average(
        self,
        *,
        kept: frozenset[tuple[str, str]] = frozenset(),
        set_aside: frozenset[tuple[str, str]] = frozenset(),
        n_draws: int = 2000,
        choice: AverageChoice | None = None,
        relative_measurements: tuple[RelativeMeasurement, ...] = (),
    ) -> AverageSkeleton:
        return average_skeleton(
            tuple(self.specimens),
            tuple(self.measurements),
            kept=kept,
            set_aside=set_aside,
            choice=choice,
            relative_measurements=relative_measurements,
            rng=np.random.default_rng(1),
            n_draws=n_draws,
        )

    def doubts(self) -> tuple[Doubt, ...]:
        """Return the doubts alone, without averaging."""
        nothing: frozenset[tuple[str, str]] = frozenset()
        rows = tuple(self.specimens), tuple(self.measurements)
        return sort_rows(*rows, kept=nothing, set_aside=nothing).doubts


@pytest.fixture
def flock() -> Flock:
    return Flock([], [])


@pytest.fixture
def random_flock() -> Callable[[int], Flock]:
    return make_random_flock


def make_random_flock(seed: int) -> Flock:
    """Return about 28 incomplete birds of two sexes 8 % apart, bones drawn at random."""
    rng = np.random.default_rng(seed)
    flock = Flock([], [])
    for number in range(28):
        size = rng.normal(0.0, 0.04) + (0.04 if rng.random() < 0.5 else -0.04)
        for element, codes in TYPICAL_MM.items():
            sides = ("midline",) if element in ("pelvis", "skull") else ("left", "right")
            for side in sides:
                if rng.random() > 0.35:
                    continue
                logs = {
                    code: np.log(value) + size + rng.normal(0.0, 0.015)
                    for code, value in codes.items()
                    if rng.random() < 0.8
                }
                name = flock.bone(
                    element, {}, side=side, individual_id=f"i{number}" if number < 15 else None
                )
                for code, value_ln in logs.items():
                    for observer in "AB" if rng.random() < 0.2 else "A":
                        reading = float(np.exp(value_ln)) + rng.normal(0.0, 0.15)
                        flock.measure(name, code, round(reading, 1), observer)
    return flock
