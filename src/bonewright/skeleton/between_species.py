"""How measurements go together from species to species, learned from living relatives.

Size and bone, the joint model's pattern, are not all that species share: a bird with a small
humerus has a small ulna, since wings go as wholes. The covariance seen among the relatives
says so, but forty species do not show sixty measurements' covariance by themselves. So it
is pulled to the joint model's; how strongly, is decided by how well each species is foretold
from the others.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.quantity import Draws
from bonewright.skeleton.joint_model import fit_joint_model
from bonewright.skeleton.ln_matrix import LnMatrix
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES

__all__ = ["BetweenSpecies", "learn_between_species"]

N_STATES = 200
_SOUND_WEIGHT = 4.0
"""Species that the belief 'the spread is as foretold' counts for: common practice."""
_STRENGTHS = (1.0, 2.0, 4.0, 8.0, 32.0, 1000.0)
"""Imagined species that the joint model's covariance counts for, as multiples of the codes."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BetweenSpecies:
    """Means (p,), covariance (p, p), and what is not known about them.

    ``weight`` is the number of imagined species that the joint model's covariance counts
    for, ``n_species`` that of real ones. ``calibration`` (n_wanted,) is the factor by which
    species left out lie further off (or nearer) than foretold.
    """

    mean_ln: Array
    covariance_ln: Array
    weight: float
    n_species: int
    calibration: Array

    def states(
        self, *, rng: np.random.Generator, n_draws: int
    ) -> tuple[Draws, NDArray[np.float64]]:
        """Draw covariances (n_states, p, p), and means (n_draws, p) that take turns with them.

        Covariances are inverse Wishart about the one learned, means normal about theirs.
        """
        p, degrees = len(self.mean_ln), self.weight + self.n_species
        lower = np.linalg.cholesky(self.covariance_ln * (degrees - p - 1))
        spreads = np.empty((N_STATES, p, p))
        means = np.empty((n_draws, p))
        for number in range(N_STATES):
            # Bartlett: a Wishart's Cholesky factor has chi on its diagonal, normals beneath.
            factor = np.tril(rng.standard_normal((p, p)), -1)
            factor[np.diag_indices(p)] = np.sqrt(rng.chisquare(degrees - np.arange(p)))
            root = np.linalg.solve(factor, lower.T).T
            spreads[number] = root @ root.T
            world = means[number::N_STATES]
            noise = rng.standard_normal(world.shape) / np.sqrt(self.n_species)
            world[:] = self.mean_ln + noise @ root.T
        return means, spreads


def learn_between_species(
    relatives: LnMatrix, *, n_known: int, rng: np.random.Generator
) -> BetweenSpecies:
    """Learn how the codes go together among relatives.

    Parameters
    ----------
    relatives : LnMatrix
        Rows are species; the first ``n_known`` codes are those to tell from.
    n_known : int
    rng : numpy.random.Generator

    Notes
    -----
    Species are taken as equally related. A species' missing values are filled with what the
    joint model expects, and their doubt is added to the covariance.
    """
    model = fit_joint_model(relatives, pull=BETWEEN_SPECIES, rng=rng)
    kept = relatives.known_part()
    pattern = model.covariance_ln
    filled, doubt = _filled(kept, model.mean_ln, pattern)
    mean = filled.mean(axis=0)
    own = [np.outer(row - mean, row - mean) + left for row, left in zip(filled, doubt, strict=True)]
    squares = np.sum(own, axis=0)
    n, p = filled.shape
    weights = [p * strength + 2 for strength in _STRENGTHS]
    tried = [
        _left_out(weight, pattern, squares, own, filled - mean, kept.present, n_known)
        for weight in weights
    ]
    best = int(np.argmax([ln_density for ln_density, _ in tried]))
    weight, z = weights[best], tried[best][1]
    n_foretold = np.isfinite(z).sum(axis=0)
    scale2 = (_SOUND_WEIGHT + np.nansum(z**2, axis=0)) / (_SOUND_WEIGHT + n_foretold)
    return BetweenSpecies(
        mean_ln=mean,
        covariance_ln=(weight * pattern + squares) / (weight + n),
        weight=weight,
        n_species=n,
        calibration=np.sqrt(scale2),
    )


def _filled(matrix: LnMatrix, mean: Array, pattern: Array) -> tuple[Array, list[Array]]:
    """Fill the gaps of each species with what is expected; return the doubt of that too."""
    values, doubts = np.array(matrix.values_ln), []
    for row, present in enumerate(matrix.present):
        slopes = np.linalg.solve(pattern[np.ix_(present, present)], pattern[present]).T
        expected = mean + slopes @ (values[row, present] - mean[present])
        values[row] = np.where(present, values[row], expected)
        left = pattern - slopes @ pattern[present]
        lost = ~present
        doubts.append(np.where(np.outer(lost, lost), left, 0.0))
    return values, doubts


def _left_out(
    weight: float,
    pattern: Array,
    squares: Array,
    own: list[Array],
    off: Array,
    present: NDArray[np.bool_],
    n_known: int,
) -> tuple[float, Array]:
    """Foretell each species' last codes without it: summed ln density, z (n, n_wanted)."""
    total = 0.0
    z = np.full((len(off), off.shape[1] - n_known), np.nan)
    for number, row in enumerate(off):
        known = np.flatnonzero(present[number, :n_known])
        wanted = n_known + np.flatnonzero(present[number, n_known:])
        if not len(known) or not len(wanted):
            continue
        spread = (weight * pattern + squares - own[number]) / (weight + len(off) - 1)
        slopes = np.linalg.solve(spread[np.ix_(known, known)], spread[np.ix_(known, wanted)])
        left = np.diag(spread[np.ix_(wanted, wanted)] - spread[np.ix_(wanted, known)] @ slopes)
        miss = row[wanted] - row[known] @ slopes
        z[number, wanted - n_known] = miss / np.sqrt(left)
        total -= float(np.sum(miss**2 / left + np.log(left))) / 2
    return total, z
