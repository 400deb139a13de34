"""Compile what a run compiles once for each machine, so that the first run is as quick as any.

The compiled code is kept beside the package (or in the user's cache where that cannot be
written), for this version of the package and this processor.
"""

import numpy as np

from bonewright.relatives.in_trees import star_of
from bonewright.relatives.kin_and_size import BonesAndMass, fit_kin_and_size
from bonewright.relatives.tree_algebra import traversal_of


def warm_up() -> None:
    """Fit a dozen made-up birds."""
    rng = np.random.default_rng(1)
    mass_ln = rng.normal(size=12)
    bones_ln = 0.4 * mass_ln[:, None] + rng.normal(0, 0.1, (12, 2))
    traversal = traversal_of(star_of(tuple(f"bird {number}" for number in range(12))))
    fit_kin_and_size(
        BonesAndMass(
            traversal=traversal, mass_ln=mass_ln, bones_ln=bones_ln, groups=np.zeros((12, 0))
        )
    )
