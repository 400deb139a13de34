"""Mass from a maquette's displaced volume."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Doubt, Finding, RowRef
from bonewright.quantity import Draws
from bonewright.study.model import BodyReading
from bonewright.study.settings import RangeChoice

__all__ = ["BodyResult", "MaquetteMass", "mass_from_maquettes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaquetteMass:
    """One maquette: life-size volume and mass. ``readings_m3`` are at model scale, net of armature."""

    body_id: str
    state: str
    scale_denominator: float
    readings_m3: tuple[float, ...]
    volume_draws_m3: Draws
    mass_draws_kg: Draws
    rows: tuple[RowRef, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BodyResult:
    """Every maquette, keyed by its name."""

    maquettes: Mapping[str, MaquetteMass]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def mass_from_maquettes(
    readings: tuple[BodyReading, ...],
    *,
    density: RangeChoice,
    shape_percent: RangeChoice,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
    n_draws: int,
) -> BodyResult:
    """Life-size mass = displaced volume x scale cubed x density, with all uncertainties."""
    raise NotImplementedError
