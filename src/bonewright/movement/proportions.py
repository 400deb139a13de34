"""Leg-bone proportions beside those of living relatives that move in known ways."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.findings import RowRef
from bonewright.quantity import Draws
from bonewright.study.model import Relative

__all__ = ["GroupProportions", "LegProportions", "leg_proportions"]

_BONES = ("femur", "tibiotarsus", "tarsometatarsus")
_FEWEST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupProportions:
    """Bone over femur in one way of moving: mean, range and number of species."""

    locomotion: str
    mean: float
    least: float
    greatest: float
    n_species: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegProportions:
    """Length of ``bone`` over that of the femur: the lost animal's draws, and the groups."""

    bone: str
    ratio: Draws
    groups: tuple[GroupProportions, ...]
    rows: tuple[RowRef, ...]

    def within(self) -> tuple[str, ...]:
        """Return the ways of moving whose range holds the animal's median ratio."""
        middle = float(np.median(self.ratio))
        return tuple(g.locomotion for g in self.groups if g.least <= middle <= g.greatest)


def leg_proportions(
    length_draws_mm: Mapping[str, Draws],
    species_length_mm: Mapping[tuple[str, str], float],
    relatives: Sequence[Relative],
) -> tuple[LegProportions, ...]:
    """Compare the lower leg bones' lengths over the femur's with living relatives'.

    Groups of fewer than three species are left out; so is a bone without any group.
    """
    compared = []
    for bone in _BONES[1:]:
        if bone not in length_draws_mm or "femur" not in length_draws_mm:
            continue
        ratios: dict[str, list[float]] = {}
        rows = []
        for relative in relatives:
            lower = species_length_mm.get((relative.species, bone))
            upper = species_length_mm.get((relative.species, "femur"))
            if lower is not None and upper is not None:
                ratios.setdefault(relative.locomotion, []).append(lower / upper)
                rows.append(relative.ref)
        groups = tuple(
            GroupProportions(
                locomotion=locomotion,
                mean=float(np.exp(np.mean(np.log(values)))),
                least=min(values),
                greatest=max(values),
                n_species=len(values),
            )
            for locomotion, values in sorted(ratios.items())
            if len(values) >= _FEWEST
        )
        if groups:
            compared.append(
                LegProportions(
                    bone=bone,
                    ratio=length_draws_mm[bone] / length_draws_mm["femur"],
                    groups=groups,
                    rows=tuple(rows),
                )
            )
    return tuple(compared)
