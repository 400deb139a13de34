"""The standing body in a state of fatness as one solid, and its shadow from three sides."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment
from bonewright.body.loft_moments import loft_moments
from bonewright.body.overlap import placed_meshes
from bonewright.body.shared_space import joined_volume_mm3
from bonewright.body.solids import Mesh, joined, solid_of
from bonewright.quantity import Draws

__all__ = [
    "VIEWS",
    "Outline",
    "aspect_outlines",
    "fat_lofts",
    "fat_volume_m3",
    "feathered_lofts",
    "shadow_of_hoops",
    "standing_datum",
    "state_lofts",
    "state_mesh",
    "view_outlines",
]

VIEWS = ("side", "front", "top")

Outline = tuple[tuple[float, float], ...]

# How the body is turned before it is looked at from above. From the front the animal's left
# is on the right.
_TURNS = {"side": (-90.0, 0.0, 0.0), "front": (0.0, 0.0, -90.0), "top": (0.0, 0.0, 0.0)}


def fat_lofts(
    body: GrownBody, state: str, *, plumage: bool = False, times: float = 1.0
) -> dict[str, LoftedSegment]:
    """Return the median body of a state: the fat-free segments with their fat laid on.

    Under the skin each segment is thickened evenly; in the root the underside is lowered by
    the volume of the belly's fat. ``times`` multiplies the fat. With ``plumage`` the feathers'
    depth is added.
    """
    fatness = body.states[state].fatness
    fat_m3 = fat_volume_m3(body, state) * times
    belly_m3 = fat_m3 * float(np.median(fatness.in_belly))
    weights = {
        name: body.plan.segments[name].segment.fat_share * float(np.median(area))
        for name, area in body.skin_m2.items()
    }
    total = sum(weights.values()) or 1.0
    root = next(iter(body.plan.segments))
    lofts = {}
    for name, loft in body.typical.items():
        area = float(np.median(body.skin_m2[name])) if name in body.skin_m2 else 0.0
        share = weights.get(name, 0.0) / total
        depth_mm = 1000 * (fat_m3 - belly_m3) * share / area if area else 0.0
        thick = _thickened(loft, depth_mm)
        if name == root:
            thick = _bellied(thick, belly_m3 * 1e9)
        lofts[name] = thick
    return feathered_lofts(body, lofts) if plumage else lofts


def feathered_lofts(
    body: GrownBody, lofts: Mapping[str, LoftedSegment]
) -> dict[str, LoftedSegment]:
    """Add the median depth of plumage to the segments that have any."""
    return {
        name: _thickened(loft, float(np.median(body.plumage_depth_mm[name])))
        if name in body.plumage_depth_mm
        else loft
        for name, loft in lofts.items()
    }


def _thickened(loft: LoftedSegment, depth_mm: float) -> LoftedSegment:
    """Add a depth to every hoop that is not a closed end."""
    solid = (loft.half_width_mm > 0) & (depth_mm > 0)
    return replace(
        loft,
        half_width_mm=loft.half_width_mm + depth_mm * solid,
        dorsal_mm=loft.dorsal_mm + depth_mm * solid,
        ventral_mm=loft.ventral_mm + depth_mm * solid,
    )


def _bellied(loft: LoftedSegment, volume_mm3: float) -> LoftedSegment:
    """Lower the underside between 5 and 75 % of the axis until the volume is gained."""
    bump = np.clip(1 - np.abs(loft.station - 0.38) / 0.36, 0, None) * (loft.ventral_mm[0] > 0)
    before = loft_moments(loft).volume_mm3[0]
    trial = replace(loft, ventral_mm=loft.ventral_mm + 10.0 * bump)
    gained = loft_moments(trial).volume_mm3[0] - before
    if gained <= 0:
        return loft
    # The volume rises in proportion to the depth: its area is linear in the ventral height.
    return replace(loft, ventral_mm=loft.ventral_mm + 10.0 * volume_mm3 / gained * bump)


def fat_volume_m3(body: GrownBody, state: str) -> float:
    """Return the volume of a state's fat in the middle world."""
    return float(np.median(body.states[state].fat_draws_kg / body.lean.fat_density_kg_m3))


def state_lofts(body: GrownBody, state: str, *, plumage: bool = False) -> dict[str, LoftedSegment]:
    """Return the median body's segments with as much fat as is seen on the joined solid.

    Where thickened parts grow into each other fat is lost to sight, so that it is laid on
    again until the joined solid has gained the fat's volume.
    """
    swing = body.stance.middle_swing_rad
    bare, laid = (
        joined_volume_mm3(body.plan, fat_lofts(body, state, times=times), swing)
        for times in (0.0, 1.0)
    )
    times = fat_volume_m3(body, state) * 1e9 / max(laid - bare, 1.0)
    return fat_lofts(body, state, plumage=plumage, times=float(np.clip(times, 1, 3)))


def state_mesh(body: GrownBody, state: str, *, plumage: bool = False) -> Mesh:
    """Join the median body of a state into one solid standing on the ground z = 0, mm.

    The middle of the feet stands at x = 0; x runs forward, y to the left.
    """
    whole = joined(_placed(body, state_lofts(body, state, plumage=plumage), fineness=(40, 4)))
    return Mesh(vertices_mm=whole.vertices_mm - standing_datum(body), faces=whole.faces)


def _placed(
    body: GrownBody, lofts: Mapping[str, LoftedSegment], *, fineness: tuple[int, int]
) -> list[Mesh]:
    """Mesh every segment where it stands, with so many corners around and places a span."""
    swing = body.stance.middle_swing_rad
    around, places = fineness
    meshes = placed_meshes(body.plan, lofts, swing, around=around, places=places)
    return [mesh for pair in meshes.values() for mesh in pair]


def shadow_of_hoops(body: GrownBody, *, fat_kg: float) -> tuple[Outline, ...]:
    """Return the outlines of the median body's shadow from the side, mm, soon.

    Each stretch between two hoops casts the hull of their points, which is what its surface
    casts but for the bulge between them; fat that parts hide in each other is not laid on
    again (:func:`state_lofts` does). Good for looking on while something is moved.

    Parameters
    ----------
    body : GrownBody
    fat_kg : float
        The body's fat, laid on as in its mean state.
    """
    import shapely

    around = 20
    fat_m3 = fat_kg / float(np.median(body.lean.fat_density_kg_m3))
    lofts = fat_lofts(body, "mean", times=fat_m3 / fat_volume_m3(body, "mean"))
    swing = body.stance.middle_swing_rad
    datum = standing_datum(body)
    hulls = []
    for meshes in placed_meshes(body.plan, lofts, swing, around=around, places=2).values():
        points = (meshes[0].vertices_mm - datum)[:, [0, 2]]
        rings = points[:-2].reshape(-1, around, 2)
        ends = np.repeat(points[-2:, None, :], around, axis=1)
        rings = np.concatenate((ends[:1], rings, ends[1:]))
        pairs = np.concatenate((rings[:-1], rings[1:]), axis=1)
        hulls.append(shapely.convex_hull(shapely.multipoints(pairs)))
    whole = shapely.simplify(shapely.union_all(np.concatenate(hulls)), 0.5)
    return tuple(
        tuple((float(x), float(y)) for x, y in part.exterior.coords)
        for part in shapely.get_parts(whole)
        if part.geom_type == "Polygon"
    )


def standing_datum(body: GrownBody) -> Draws:
    """Return the point of the ground amid the feet, in the axes of the places."""
    ground = float(np.median(body.stance.ground_mm))
    feet = float(np.median(body.stance.foot_mm.mean(axis=1)))
    return np.array([feet, 0.0, ground])


def view_outlines(mesh: Mesh, view: str) -> tuple[Outline, ...]:
    """Return the outlines of a solid's shadow, mm, the first coordinate to the right."""
    solid = solid_of(mesh).rotate(_TURNS[view])
    if view == "front":
        solid = solid.rotate((-90.0, 0.0, 0.0))
    section = solid.project().simplify(0.5)
    return tuple(
        tuple((float(x), float(y)) for x, y in polygon) for polygon in section.to_polygons()
    )


def aspect_outlines(mesh: Mesh, *, azimuth_rad: float, elevation_rad: float) -> tuple[Outline, ...]:
    """Return the outlines of a solid's shadow seen from any side, mm, the second one up.

    Parameters
    ----------
    azimuth_rad : float
        0 looks at the animal's right side, a quarter turn on at its front.
    elevation_rad : float
        How far the eye stands above the level, a quarter turn looking straight down.
    """
    sine, cosine = np.sin(azimuth_rad), np.cos(azimuth_rad)
    level = float(np.cos(elevation_rad))
    towards = np.array([sine * level, -cosine * level, np.sin(elevation_rad)])
    right = np.array([cosine, sine, 0.0])
    turned = mesh.vertices_mm @ np.stack((right, np.cross(towards, right), towards)).T
    section = solid_of(Mesh(vertices_mm=turned, faces=mesh.faces)).project().simplify(0.1)
    return tuple(
        tuple((float(x), float(y)) for x, y in polygon) for polygon in section.to_polygons()
    )
