"""The skeleton to build: the measured bones, and rods that stand in for the others.

Bones that the study measures have their own sizes. Where none was measured (vertebrae, toes,
the hand) a rod runs along the segment, and where bones would hang free (breastbone, shoulder)
a strut joins them to the rest, so that a printed or cast skeleton is one piece. Rods and
struts say how the parts hang together; they show no bone's shape.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial import cKDTree

from bonewright.body.bones_inside import bone_solids
from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.places import Place, to_world
from bonewright.body.solids import Mesh, mesh_of, solid_of
from bonewright.quantity import Draws
from bonewright.workshop.figure_to_build import BoneToBuild

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["bones_to_build"]

# Measurements that give a bone's length and its least breadth, whichever it has first.
_LENGTHS: Final = ("GL", "LV", "LM")
_BREADTHS: Final = ("SC", "Dic", "SB", "SBF")
# How thick a stand-in is beside the flesh around it (common practice: vertebrae fill less
# than half of a bird's neck, bone and sheath nearly all of its beak and toes).
_THICK: Final = {"neck": 0.42, "toe": 0.6, "beak": 0.85, "hand": 0.4, "tail": 0.25}
_THICK_ELSE: Final = 0.4
_STRUT_SHARE: Final = 0.02


def bones_to_build(
    grown: GrownBody, lofts: Mapping[str, LoftedSegment], places: Mapping[str, Place]
) -> tuple[BoneToBuild, ...]:
    """Return bones and stand-ins where they stand, in the axes of the standing body, mm.

    Parameters
    ----------
    lofts, places
        The figure's naked segments, one draw, and where they stand.
    """
    measured = _measured(grown)
    bones = [*measured, *_stand_ins(grown, lofts, places, measured)]
    return (*bones, *_struts(bones, lofts))


def _measured(grown: GrownBody) -> list[BoneToBuild]:
    bones = []
    for bone in bone_solids(grown):
        extents = np.ptp(_turned_to_own_axes(bone.mesh.vertices_mm), axis=0)
        bones.append(
            BoneToBuild(
                element=bone.element,
                segment=bone.segment,
                side=bone.side,
                measured=True,
                length_mm=_size(grown, bone.element, _LENGTHS, float(extents.max())),
                thickness_mm=_size(grown, bone.element, _BREADTHS, float(extents.min())),
                mesh=bone.mesh,
            )
        )
    return bones


def _size(grown: GrownBody, element: str, codes: Sequence[str], otherwise: float) -> float:
    return next(
        (grown.bone_mm[element, code] for code in codes if (element, code) in grown.bone_mm),
        otherwise,
    )


def _turned_to_own_axes(points: Draws) -> Draws:
    centred = points - points.mean(axis=0)
    return np.asarray(centred @ np.linalg.svd(centred, full_matrices=False)[2].T)


def _stand_ins(
    grown: GrownBody,
    lofts: Mapping[str, LoftedSegment],
    places: Mapping[str, Place],
    measured: Sequence[BoneToBuild],
) -> list[BoneToBuild]:
    """Lay a rod along every segment without a measured bone, and along the back."""
    with_bones = {bone.segment for bone in measured}
    root = next(iter(grown.plan.segments))
    rods = []
    for name, part in grown.plan.segments.items():
        kind = next((word for word in _THICK if word in name), "")
        # The lower jaw is measured, the upper is not.
        if name in with_bones and kind != "beak" and name != root:
            continue
        loft = lofts[name]
        if name == root:
            rod, element = _back(loft), "backbone"
        else:
            rod, element = _rod(loft, _THICK.get(kind, _THICK_ELSE)), f"{name} (stand-in)"
        vertices, faces = loft_mesh(rod, around=24, places=3)
        left = Mesh(vertices_mm=to_world(places[name], vertices[0]), faces=faces)
        sides = {"left": left, "right": left.mirrored()} if part.copies == 2 else {"middle": left}
        rods += [
            BoneToBuild(
                element=element,
                segment=name,
                side=side,
                measured=False,
                length_mm=float(rod.length_mm[0]),
                thickness_mm=2 * float(rod.half_width_mm[0, 2]),
                mesh=mesh,
            )
            for side, mesh in sides.items()
        ]
    return rods


def _rod(loft: LoftedSegment, share: float) -> LoftedSegment:
    # A rod reaches into the next one, but never out of the flesh at a tip.
    end = min(1.04, float(loft.station[-1]) - 0.03)
    station = np.array([-0.04, 0.06, 0.5, end - 0.1, end])
    halves = [
        share * np.interp(station, loft.station, row[0])
        for row in (loft.half_width_mm, loft.dorsal_mm, loft.ventral_mm)
    ]
    for half in halves:
        # Where the flesh tapers to a point the bone does so too, but not to nothing before it.
        half[1:-1] = np.maximum(half[1:-1], 0.3 * half.max())
        half[[0, -1]] = 0.0
    return replace(
        loft,
        station=station,
        half_width_mm=halves[0][None],
        dorsal_mm=halves[1][None],
        ventral_mm=halves[2][None],
        dorsal_exponent=np.full(5, 2.0),
        ventral_exponent=np.full(5, 2.0),
    )


def _back(loft: LoftedSegment) -> LoftedSegment:
    """Return a rod under the back, where the pelvis lies, as far as the root of the neck."""
    rod = _rod(loft, 1.0)
    station = np.array([0.35, 0.40, 0.60, 0.88, 0.95])
    half = 0.09 * float(loft.dorsal_mm.max()) * np.array([[0, 1, 1, 1, 0]])
    lift = 0.33 * np.interp(station, loft.station, loft.dorsal_mm[0])
    lift[-2:] *= 0.5
    return replace(
        rod, station=station, half_width_mm=half, dorsal_mm=lift + half, ventral_mm=half - lift
    )


def _struts(bones: Sequence[BoneToBuild], lofts: Mapping[str, LoftedSegment]) -> list[BoneToBuild]:
    """Join what hangs free to the largest piece, nearest points first."""
    from manifold3d import Manifold, OpType

    pieces = Manifold.batch_boolean([solid_of(bone.mesh) for bone in bones], OpType.Add).decompose()
    pieces = sorted(pieces, key=lambda piece: -piece.volume())
    root = next(iter(lofts))
    radius = _STRUT_SHARE * float(lofts[root].length_mm[0]) / 2
    main = _corners(pieces[0])
    waiting = [_corners(piece) for piece in pieces[1:]]
    struts = []
    while waiting:
        tree = cKDTree(main)
        nearest = [_nearest(tree, points) for points in waiting]
        first = int(np.argmin([gap for gap, _, _ in nearest]))
        _, own, other = nearest[first]
        start, end = waiting[first][own], main[other]
        struts.append(
            BoneToBuild(
                element="strut (stand-in)",
                segment=root,
                side="middle",
                measured=False,
                length_mm=float(np.linalg.norm(end - start)),
                thickness_mm=2 * radius,
                mesh=_capsule(start, end, radius),
            )
        )
        main = np.vstack((main, waiting.pop(first)))
    return struts


def _nearest(tree: cKDTree, points: Draws) -> tuple[float, int, int]:
    """Return the least gap, and which of the points and which of the tree's it lies between."""
    gaps, others = (np.atleast_1d(found) for found in tree.query(points))
    own = int(np.argmin(gaps))
    return float(gaps[own]), own, int(others[own])


def _corners(solid: "Manifold") -> Draws:
    return mesh_of(solid).vertices_mm


def _capsule(start: Draws, end: Draws, radius: float) -> Mesh:
    """Return a rod with round ends between two points."""
    from manifold3d import Manifold

    ball = Manifold.sphere(radius, 16)
    hull = Manifold.batch_hull([ball.translate(tuple(start)), ball.translate(tuple(end))])
    return mesh_of(hull)
