"""Which lines on leg bones can be fitted, and which of them tell a mass."""

from collections.abc import Mapping

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Doubt
from bonewright.quantity import Draws
from bonewright.relatives.gathering import SpeciesPoints
from bonewright.relatives.line import of_different_sizes
from bonewright.relatives.results import LegBoneFit
from bonewright.relatives.retransformation import mass_kg_of

__all__ = ["LEAST_SPECIES", "SAYS_NOTHING", "lines_that_tell", "tells", "usable_points"]

Key = tuple[str, str]

LEAST_SPECIES = 5
SAYS_NOTHING = "leave the mass open by more than a factor of ten thousand"
_MOST_OPEN = 10_000
_NOT_TOLD = "Body mass could not be told from leg bones."


def usable_points(
    points: Mapping[Key, SpeciesPoints],
    bone_draws_mm: Mapping[Key, Draws],
    *,
    doubts: tuple[Doubt, ...],
) -> dict[Key, SpeciesPoints]:
    """Keep the measurements that the lost animal and enough relatives of different sizes have.

    Raises
    ------
    NotEnoughEvidence
        If there is none.
    """
    shared = {key: entry for key, entry in points.items() if key in bone_draws_mm}
    usable = {
        key: entry
        for key, entry in shared.items()
        if len(entry.species) >= LEAST_SPECIES and of_different_sizes(entry.bone_mm)
    }
    if not usable:
        raise NotEnoughEvidence(
            _NOT_TOLD,
            needed=f"one leg-bone measurement that the lost animal and {LEAST_SPECIES} relatives"
            " of different sizes share",
            found=", ".join(_seen(key, entry) for key, entry in shared.items())
            or "no leg-bone measurement that both have",
            would_help="rows in relative_measurements.csv for femur, tibiotarsus or"
            " tarsometatarsus, with codes measured on the lost animal",
            doubts=doubts,
        )
    return usable


def _seen(key: Key, entry: SpeciesPoints) -> str:
    seen = f"{key[0]} {key[1]} of {len(entry.species)} relatives"
    if len(entry.species) < LEAST_SPECIES:
        return seen
    low, *_, high = np.sort(entry.bone_mm)
    return f"{seen}, nearly all of one size ({low:.4g} to {high:.4g} mm)"


def tells(mass_kg: Draws) -> bool:
    """Say whether a mass is told, be it roughly: its 95 % interval spans less than 10 000 times.

    Where relatives hardly differ in size, or the animal is far off, a line can be fitted and
    its interval is honest, and holds everything from a mite to a mountain, or either.
    """
    low, high = np.quantile(mass_kg, [0.025, 0.975])
    least, most = mass_kg_of(np.array([-np.inf, np.inf]))
    return bool(high <= _MOST_OPEN * low and low > least and high < most)


def lines_that_tell(
    fits: Mapping[Key, LegBoneFit], *, doubts: tuple[Doubt, ...]
) -> dict[Key, LegBoneFit]:
    """Keep the lines that tell a mass.

    Raises
    ------
    NotEnoughEvidence
        If none does: the relatives' bones are too alike, or too far from the animal's.
    """
    telling = {key: fit for key, fit in fits.items() if tells(fit.mass_draws_kg)}
    if not telling:
        raise NotEnoughEvidence(
            _NOT_TOLD,
            needed="relatives whose bones differ in size, some of them near the lost animal's",
            found=f"lines that {SAYS_NOTHING}: "
            + ", ".join(
                f"{fit.element} {fit.code} of {len(fit.species)} relatives,"
                f" {fit.bone_mm.min():.4g} to {fit.bone_mm.max():.4g} mm, for a bone of"
                f" {fit.lost_bone_mm:.4g} mm"
                for fit in fits.values()
            ),
            would_help="relatives of other sizes in relative_measurements.csv",
            doubts=doubts,
        )
    return telling
