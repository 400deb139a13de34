"""What some measurements of an animal (or of a species) say of others it lacks.

Both a broken bone and a bone nobody has are foretold in the same way: a covariance says how
measurements go together, and each imagined world has its own means and covariance.
"""

import numpy as np
from numpy.typing import NDArray

from bonewright.quantity import Draws

__all__ = ["foretold_ln"]


def foretold_ln(
    means_ln: Draws,
    spreads_ln: NDArray[np.float64],
    known_ln: Draws,
    *,
    known: NDArray[np.intp],
    wanted: NDArray[np.intp],
    error_sd_ln: NDArray[np.float64] | float = 0.0,
    widened: Draws | float = 1.0,
    rng: np.random.Generator,
) -> Draws:
    """Draw the ln values an individual lacks, given those it has, (n_draws, n_wanted).

    Parameters
    ----------
    means_ln : (n_draws, p) float
        Means of the logarithms; draw i is of state i modulo the number of states.
    spreads_ln : (n_states, p, p) float
        Covariance between individuals in each state.
    known_ln : (n_draws, n_known) or (n_known,) float
        Its known values, ln mm.
    known, wanted : (n_known,), (n_wanted,) int
        Columns.
    error_sd_ln : float or (n_known,) float
        Technical error of measurement of the known ones, as a share.
    widened : float or (n_draws, n_wanted) float
        Factor on the spread about what is foretold.
    rng : numpy.random.Generator
    """
    inner = spreads_ln[:, known[:, None], known]
    inner = inner + np.eye(len(known)) * np.asarray(error_sd_ln) ** 2
    cross = spreads_ln[:, known[:, None], wanted]
    slopes = np.linalg.solve(inner, cross)
    left = spreads_ln[:, wanted[:, None], wanted] - np.swapaxes(cross, 1, 2) @ slopes
    spread, vectors = np.linalg.eigh(left)
    roots = vectors * np.sqrt(np.maximum(spread, 0.0))[:, None, :]
    off = known_ln - means_ln[:, known]
    noise = rng.standard_normal((len(means_ln), len(wanted)))
    widened = np.broadcast_to(widened, noise.shape)
    drawn = np.array(means_ln[:, wanted])
    for number in range(len(spreads_ln)):
        world = slice(number, None, len(spreads_ln))
        drawn[world] += off[world] @ slopes[number]
        drawn[world] += noise[world] @ roots[number].T * widened[world]
    return drawn
