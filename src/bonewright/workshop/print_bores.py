"""Bores through printed parts for the bars of the armature that they are put on."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from bonewright.workshop.hoop_cards import Bar

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["PLAY_MM", "bored_through", "bores_of"]

# A bore is wider than its bar by this on every side, for glue and a bar not quite straight
# (common practice).
PLAY_MM: Final = 0.4
_CORNERS: Final = 32
# A part of which less than this is left is too slender to be bored.
_LEAST_LEFT: Final = 0.4


def bores_of(bars: Sequence[Bar]) -> "Manifold":
    """Return the space that bars take up with their play, bends rounded."""
    from manifold3d import Manifold, OpType

    solids = []
    for bar in bars:
        radius = bar.diameter_mm / 2 + PLAY_MM
        for start, end in zip(bar.points_mm[:-1], bar.points_mm[1:], strict=True):
            way = end - start
            length = float(np.linalg.norm(way))
            if length == 0:
                continue
            along = way / length
            # Any direction square to the bar will do.
            beside = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
            beside /= np.linalg.norm(beside)
            turn = np.stack((beside, np.cross(along, beside), along), axis=1)
            rod = Manifold.cylinder(length, radius, radius, _CORNERS)
            solids.append(rod.transform(np.column_stack((turn, start)).tolist()))
            solids.append(Manifold.sphere(radius, _CORNERS).translate(end.tolist()))
    return Manifold.batch_boolean(solids, OpType.Add)


def bored_through(solid: "Manifold", bores: "Manifold") -> "Manifold | None":
    """Bore a part; None where no bar passes, or what is left would fall apart."""
    left = solid - bores
    taken = solid.volume() - left.volume()
    if taken < 1e-3 * solid.volume() or left.volume() < _LEAST_LEFT * solid.volume():
        return None
    pieces = [piece.volume() for piece in left.decompose()]
    # A bore that ends inside is a room of its own, which counts below nothing.
    whole = [volume for volume in pieces if volume > 0]
    return left if len(whole) == 1 else None
