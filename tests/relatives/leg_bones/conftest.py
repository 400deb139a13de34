"""A made-up family of birds that follow a known law, for the tests of mass from leg bones."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pytest

from bonewright.findings import RowRef
from bonewright.quantity import Draws
from bonewright.relatives.leg_bones import JointQuestion, RelativesResult, mass_from_leg_bones
from bonewright.study.equations import shipped_equations
from bonewright.study.model import Relative, RelativeMeasurement

# ln(mm) at 1 kg, slope on ln(kg), scatter: chosen for the tests.
LAW = {
    ("femur", "GL"): (np.log(75.0), 0.36, 0.07),
    ("femur", "CD"): (np.log(17.0), 0.41, 0.04),
    ("femur", "Bd"): (np.log(14.0), 0.39, 0.045),
    ("tibiotarsus", "GL"): (np.log(115.0), 0.37, 0.10),
    ("tibiotarsus", "CD"): (np.log(15.0), 0.41, 0.045),
    ("tarsometatarsus", "CD"): (np.log(15.0), 0.40, 0.06),
}


@dataclass
class Family:
    relatives: list[Relative]
    measurements: list[RelativeMeasurement]

    def predict(
        self,
        bone_mm: Mapping[tuple[str, str], float],
        *,
        bone_cv: float = 0.01,
        retransformation: str = "lognormal",
        blind_species: str | None = None,
        question: JointQuestion | None = None,
        kept: frozenset[tuple[str, str]] = frozenset(),
        set_aside: frozenset[tuple[str, str]] = frozenset(),
        n_draws: int = 2000,
        seed: int = 1,
    ) -> RelativesResult:
        rng = np.random.default_rng(seed)
        bones: dict[tuple[str, str], Draws] = {
            key: value * (1 + bone_cv * rng.standard_normal(n_draws))
            for key, value in bone_mm.items()
        }
        return mass_from_leg_bones(
            tuple(self.relatives),
            tuple(self.measurements),
            bone_draws_mm=bones,
            retransformation=retransformation,
            blind_species=blind_species,
            question=question,
            equations=shipped_equations(),
            kept=kept,
            set_aside=set_aside,
            rng=rng,
        )

    def damage_mass(self, place: int, factor: float) -> RowRef:
        row = self.relatives[place]
        self.relatives[place] = replace(row, body_mass_kg=row.body_mass_kg * factor)
        return row.ref

    def damage_bone(self, place: int, factor: float) -> RowRef:
        row = self.measurements[place]
        self.measurements[place] = replace(row, value_mm=row.value_mm * factor)
        return row.ref


def bones_of(mass_kg: float, *, only: tuple[tuple[str, str], ...] = tuple(LAW)) -> dict:
    """Return the bones of an animal that follows the law without scatter."""
    return {key: float(np.exp(LAW[key][0] + LAW[key][1] * np.log(mass_kg))) for key in only}


def make_family(seed: int, n_species: int = 40) -> Family:
    rng = np.random.default_rng(seed)
    family = Family([], [])
    for number in range(n_species):
        name = f"Fictavis species{number:02d}"
        mass_ln = rng.uniform(np.log(0.05), np.log(25.0))
        family.relatives.append(
            Relative(
                ref=RowRef(table="relatives", row=number + 2, row_id=name),
                species=name,
                family=None,
                locomotion="walker",
                flight="flying",
                body_mass_kg=float(np.exp(mass_ln)),
                n_weighed=None,
                source_id=None,
            )
        )
        stout = rng.normal(0.0, 0.03)
        for (element, code), (intercept, slope, scatter) in LAW.items():
            row_id = f"r-{len(family.measurements) + 1:04d}"
            bone_ln = intercept + slope * mass_ln + stout + rng.normal(0.0, scatter)
            family.measurements.append(
                RelativeMeasurement(
                    ref=RowRef(
                        table="relative_measurements",
                        row=len(family.measurements) + 2,
                        row_id=row_id,
                    ),
                    species=name,
                    element=element,
                    code=code,
                    value_mm=float(np.exp(bone_ln)),
                    n_measured=None,
                    source_id=None,
                )
            )
    return family


@pytest.fixture
def family() -> Family:
    return make_family(1)


@pytest.fixture
def families():
    return make_family


@pytest.fixture
def bones():
    return bones_of
