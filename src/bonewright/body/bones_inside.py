"""The measured bones inside the standing body, as simple closed solids of their own sizes."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.overlap import typical_lofts
from bonewright.body.places import Place, place_segments, point_on, to_world
from bonewright.body.silhouettes import Outline, standing_datum, view_outlines
from bonewright.body.solids import Mesh
from bonewright.quantity import Draws

__all__ = ["BonePiece", "BoneSolid", "bone_solids", "standing_bones"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePiece:
    """A bone of the skeleton as drawn in one view, a closed outline in mm."""

    element: str
    outline: Outline


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoneSolid:
    """A bone as a closed solid where it stands; ``side`` is left, right or middle."""

    element: str
    segment: str
    side: str
    mesh: Mesh


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


def bone_solids(body: GrownBody) -> tuple[BoneSolid, ...]:
    """Return the measured bones of the median body as closed solids where they stand, mm.

    Long bones have their measured length and breadths; pelvis, sternum, scapula and skull
    have their measured extents, with ends rounded. Both sides of a pair are given; x runs
    forward from amid the feet, y to the left, z up from the ground.
    """
    swing = body.stance.middle_swing_rad
    lofts = typical_lofts(body.lofts)
    places = place_segments(body.plan, lofts, swing)
    datum = standing_datum(body)
    solids = []
    for shape in _BONES:
        if shape.segment not in places:
            continue
        mesh = _bone_mesh(shape, body.bone_mm, lofts[shape.segment], places[shape.segment])
        if mesh is None:
            continue
        paired = body.plan.segments[shape.segment].copies == 2
        sides = {"left": mesh, "right": mesh.mirrored()} if paired else {"middle": mesh}
        solids += [
            BoneSolid(
                element=shape.element,
                segment=shape.segment,
                side=side,
                mesh=Mesh(vertices_mm=of_side.vertices_mm - datum, faces=of_side.faces),
            )
            for side, of_side in sides.items()
        ]
    return tuple(solids)


def standing_bones(body: GrownBody, view: str) -> tuple[BonePiece, ...]:
    """Return the measured bones of the median body as drawn in one view, at true scale."""
    return tuple(
        BonePiece(element=bone.element, outline=outline)
        for bone in bone_solids(body)
        for outline in view_outlines(bone.mesh, view)
    )


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
