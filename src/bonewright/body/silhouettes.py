"""The standing body drawn from the side, the front and above, with the skeleton inside."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment, loft_mesh, loft_moments
from bonewright.body.overlap import placed_meshes, typical_lofts
from bonewright.body.posture import Place, place_segments, point_on, to_world
from bonewright.body.solids import Mesh, joined, mesh_measures, solid_of
from bonewright.quantity import Draws

__all__ = ["VIEWS", "BonePiece", "Outline", "standing_bones", "state_mesh", "view_outlines"]

VIEWS = ("side", "front", "top")

Outline = tuple[tuple[float, float], ...]

# How the body is turned before it is looked at from above. From the front the animal's left
# is on the right.
_TURNS = {"side": (-90.0, 0.0, 0.0), "front": (0.0, 0.0, -90.0), "top": (0.0, 0.0, 0.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePiece:
    """A bone of the skeleton as drawn in one view, a closed outline in mm."""

    element: str
    outline: Outline


def fat_lofts(
    body: GrownBody, state: str, *, plumage: bool = False, times: float = 1.0
) -> dict[str, LoftedSegment]:
    """Return the median body of a state: the fat-free segments with their fat laid on.

    Under the skin each segment is thickened evenly; in the root the underside is lowered by
    the volume of the belly's fat. ``times`` multiplies the fat. With ``plumage`` the feathers'
    depth is added.
    """
    fatness = body.states[state].fatness
    fat_m3 = _fat_m3(body, state) * times
    belly_m3 = fat_m3 * float(np.median(fatness.in_belly))
    weights = {
        name: body.plan.segments[name].segment.fat_share * float(np.median(area))
        for name, area in body.skin_m2.items()
    }
    total = sum(weights.values()) or 1.0
    root = next(iter(body.plan.segments))
    lofts = {}
    for name, loft in typical_lofts(body.lofts).items():
        area = float(np.median(body.skin_m2[name])) if name in body.skin_m2 else 0.0
        share = weights.get(name, 0.0) / total
        depth_mm = 1000 * (fat_m3 - belly_m3) * share / area if area else 0.0
        thick = _thickened(loft, depth_mm)
        if name == root:
            thick = _bellied(thick, belly_m3 * 1e9)
        if plumage and name in body.plumage_depth_mm:
            thick = _thickened(thick, float(np.median(body.plumage_depth_mm[name])))
        lofts[name] = thick
    return lofts


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


def _fat_m3(body: GrownBody, state: str) -> float:
    return float(np.median(body.states[state].fat_draws_kg / body.lean.fat_density_kg_m3))


def state_mesh(body: GrownBody, state: str, *, plumage: bool = False) -> Mesh:
    """Join the median body of a state into one solid standing on the ground z = 0, mm.

    The middle of the feet stands at x = 0; x runs forward, y to the left. Where thickened
    parts grow into each other fat is lost to sight, so that it is laid on again until the
    joined solid has gained the fat's volume.
    """
    bare = mesh_measures(_joined(body, fat_lofts(body, state, times=0.0))).volume_mm3
    laid = mesh_measures(_joined(body, fat_lofts(body, state))).volume_mm3
    times = _fat_m3(body, state) * 1e9 / max(laid - bare, 1.0)
    whole = _joined(
        body, fat_lofts(body, state, plumage=plumage, times=float(np.clip(times, 1, 3)))
    )
    return Mesh(vertices_mm=whole.vertices_mm - _datum(body), faces=whole.faces)


def _joined(body: GrownBody, lofts: Mapping[str, LoftedSegment]) -> Mesh:
    swing = np.median(body.stance.swing_rad, keepdims=True)
    meshes = placed_meshes(body.plan, lofts, swing, around=40, places=4)
    return joined([mesh for pair in meshes.values() for mesh in pair])


def _datum(body: GrownBody) -> Draws:
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


# Bones drawn inside: on which segment, from where to where along its axis, how far above the
# axis as a share of the height there (below where negative), and half-widths and half-depths
# at the near end, the middle and the far end, each (element's code, factor).
@dataclass(frozen=True, slots=True, kw_only=True)
class _BoneShape:
    element: str
    segment: str
    start: float
    end: float | tuple[str, float]
    up: float
    widths: tuple[tuple[str, float], tuple[str, float], tuple[str, float]]
    depths: tuple[tuple[str, float], tuple[str, float], tuple[str, float]]


def _long_bone(
    element: str, segment: str, codes: tuple[str, str, str], depths: tuple[str, str, str] | None
) -> _BoneShape:
    def halves(of: tuple[str, str, str]) -> tuple[tuple[str, float], ...]:
        return tuple((code, 0.5) for code in of)

    widths = halves(codes)
    across = halves(depths or codes)
    return _BoneShape(
        element=element,
        segment=segment,
        start=0.0,
        end=1.0,
        up=0.0,
        widths=(widths[0], widths[1], widths[2]),
        depths=(across[0], across[1], across[2]),
    )


_BONES: tuple[_BoneShape, ...] = (
    _BoneShape(
        element="pelvis",
        segment="trunk",
        start=0.07,
        end=("LV", 1.0),
        up=0.33,
        widths=(("AA", 0.18), ("AA", 0.5), ("SB", 0.3)),
        depths=(("AA", 0.10), ("AA", 0.22), ("AA", 0.14)),
    ),
    _BoneShape(
        element="sternum",
        segment="trunk",
        start=0.60,
        end=("LM", 1.0),
        up=-0.80,
        widths=(("SBF", 0.35), ("SBF", 0.55), ("SBF", 0.5)),
        depths=(("SBF", 0.10), ("SBF", 0.16), ("SBF", 0.12)),
    ),
    _BoneShape(
        element="scapula",
        segment="trunk",
        start=0.62,
        end=("GL", 1.0),
        up=0.35,
        widths=(("Dic", 0.2), ("Dic", 0.2), ("Dic", 0.35)),
        depths=(("Dic", 0.2), ("Dic", 0.2), ("Dic", 0.5)),
    ),
    _BoneShape(
        element="skull",
        segment="head",
        start=0.0,
        end=1.0,
        up=0.0,
        widths=(("GB", 0.30), ("GB", 0.5), ("SBO", 0.5)),
        depths=(("GH", 0.30), ("GH", 0.48), ("GH", 0.25)),
    ),
    _BoneShape(
        element="mandible",
        segment="beak",
        start=-0.1,
        end=0.9,
        up=-0.25,
        widths=(("GL", 0.10), ("GL", 0.06), ("GL", 0.02)),
        depths=(("GL", 0.05), ("GL", 0.05), ("GL", 0.02)),
    ),
    _long_bone("humerus", "upper wing", ("Bp", "SC", "Bd"), None),
    _long_bone("ulna", "forearm", ("Bp", "SC", "Did"), None),
    _long_bone("femur", "thigh", ("Bp", "SC", "Bd"), ("Dp", "SC", "Dd")),
    _long_bone("tibiotarsus", "shank", ("Dip", "SC", "Bd"), ("Dip", "SC", "Dd")),
    _long_bone("tarsometatarsus", "foot", ("Bp", "SC", "Bd"), None),
)


def standing_bones(body: GrownBody, view: str) -> tuple[BonePiece, ...]:
    """Return the measured bones of the median body as drawn in one view, at true scale.

    Long bones have their measured length and breadths; pelvis, sternum, scapula and skull
    have their measured extents, with ends rounded. Both sides of a pair are drawn.
    """
    swing = np.median(body.stance.swing_rad, keepdims=True)
    lofts = typical_lofts(body.lofts)
    places = place_segments(body.plan, lofts, swing)
    datum = _datum(body)
    pieces = []
    for shape in _BONES:
        if shape.segment not in places:
            continue
        mesh = _bone_mesh(shape, body.bone_mm, lofts[shape.segment], places[shape.segment])
        if mesh is None:
            continue
        sides = [mesh]
        if body.plan.segments[shape.segment].copies == 2:
            sides.append(mesh.mirrored())
        for side in sides:
            placed = Mesh(vertices_mm=side.vertices_mm - datum, faces=side.faces)
            pieces += [
                BonePiece(element=shape.element, outline=outline)
                for outline in view_outlines(placed, view)
            ]
    return tuple(pieces)


def _bone_mesh(
    shape: _BoneShape,
    bone_mm: Mapping[tuple[str, str], float],
    loft: LoftedSegment,
    place: Place,
) -> Mesh | None:
    def sizes(of: tuple[tuple[str, float], ...]) -> Draws | None:
        found = [bone_mm.get((shape.element, code)) for code, _ in of]
        if any(value is None for value in found):
            return None
        near, middle, far = (
            factor * value for (_, factor), value in zip(of, found, strict=True) if value
        )
        return np.array([[0.0, near, 0.6 * near + 0.4 * middle, middle, middle, far, 0.0]])

    widths, depths = sizes(shape.widths), sizes(shape.depths)
    if widths is None or (depths is None and shape.depths == shape.widths):
        return None
    depths = widths if depths is None else depths
    axis = float(loft.length_mm[0])
    if isinstance(shape.end, tuple):
        own = bone_mm.get((shape.element, shape.end[0]))
        if own is None:
            return None
        length = own * shape.end[1]
    else:
        length = (shape.end - shape.start) * axis
    bone = LoftedSegment(
        station=np.array([-0.02, 0.03, 0.15, 0.4, 0.75, 0.96, 1.02]),
        half_width_mm=widths,
        dorsal_mm=depths,
        ventral_mm=depths,
        dorsal_exponent=np.full(7, 2.0),
        ventral_exponent=np.full(7, 2.0),
        length_mm=np.array([length]),
    )
    vertices, faces = loft_mesh(bone, around=24, places=3)
    heights = loft.dorsal_mm if shape.up >= 0 else loft.ventral_mm
    middle = shape.start + length / axis / 2
    lift = shape.up * float(np.interp(middle, loft.station, heights[0]))
    local = vertices[0] + point_on(loft, shape.start)[0] + [0.0, 0.0, lift]
    world = to_world(Place(origin_mm=place.origin_mm[:1], turn=place.turn[:1]), local)
    return Mesh(vertices_mm=world, faces=faces)
