"""The standing figure of a body: its segments where they stand, holding the body's volume."""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.loft_moments import loft_moments
from bonewright.body.measures import side_label
from bonewright.body.places import Place, place_segments, to_world
from bonewright.body.shared_space import joined_volume_mm3
from bonewright.body.silhouettes import standing_datum, state_lofts
from bonewright.body.solids import Mesh, mesh_measures

__all__ = ["filled_lofts", "standing_meshes", "standing_places", "true_mesh"]

# Corners around a hoop and places between two hoops.
_FINE: Final = (48, 5)
# Rounds in which the figure's volume is brought to the body's.
_ROUNDS: Final = 2


def true_mesh(loft: LoftedSegment, *, around: int, places: int) -> Mesh:
    """Mesh one draw of a loft so that the mesh holds as much as the loft, in its own axes.

    Flat triangles in a round solid hold less than it does. Widened by a few thousandths they
    hold as much, and their corners stand as far outside as their middles lie inside.
    """
    vertices, faces = loft_mesh(loft, around=around, places=places)
    holds = mesh_measures(Mesh(vertices_mm=vertices[0], faces=faces)).volume_mm3
    wanted = float(loft_moments(loft).volume_mm3[0])
    wider = _across_times(loft, float(np.sqrt(wanted / holds)))
    return Mesh(vertices_mm=loft_mesh(wider, around=around, places=places)[0][0], faces=faces)


def _across_times(loft: LoftedSegment, factor: float) -> LoftedSegment:
    """Multiply a loft's half-widths and heights."""
    return replace(
        loft,
        half_width_mm=loft.half_width_mm * factor,
        dorsal_mm=loft.dorsal_mm * factor,
        ventral_mm=loft.ventral_mm * factor,
    )


def standing_places(grown: GrownBody, lofts: Mapping[str, LoftedSegment]) -> dict[str, Place]:
    """Place one draw's segments in the axes of the standing body."""
    swing = grown.stance.middle_swing_rad
    datum = standing_datum(grown)
    return {
        name: Place(origin_mm=place.origin_mm - datum, turn=place.turn)
        for name, place in place_segments(grown.plan, lofts, swing).items()
    }


def standing_meshes(
    grown: GrownBody,
    lofts: Mapping[str, LoftedSegment],
    places: Mapping[str, Place],
) -> dict[str, Mesh]:
    """Mesh every segment where it stands, by label."""
    meshes: dict[str, Mesh] = {}
    for name, loft in lofts.items():
        own = true_mesh(loft, around=_FINE[0], places=_FINE[1])
        left = Mesh(vertices_mm=to_world(places[name], own.vertices_mm), faces=own.faces)
        if grown.plan.segments[name].copies == 2:
            meshes |= {side_label(name, "left"): left, side_label(name, "right"): left.mirrored()}
        else:
            meshes[name] = left
    return meshes


# The layers of a figure, and its scales, are made one after another from the same state.
@lru_cache(maxsize=1)
def filled_lofts(grown: GrownBody, state: str) -> dict[str, LoftedSegment]:
    """Widen all hoops alike until the solid holds the state's median volume."""
    lofts = state_lofts(grown, state)
    swing = grown.stance.middle_swing_rad
    target = float(np.median(grown.states[state].volume_draws_m3)) * 1e9
    for _ in range(_ROUNDS):
        factor = float(np.sqrt(target / joined_volume_mm3(grown.plan, lofts, swing)))
        lofts = {name: _across_times(loft, factor) for name, loft in lofts.items()}
    return lofts
