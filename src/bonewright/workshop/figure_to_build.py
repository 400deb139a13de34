"""The figure to build: the standing animal of a run, in one state and layer, at one scale.

Axes are those of the standing body: x forward from amid the feet, y to the animal's left,
z up from the ground. All sizes are at the scale of the figure.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bonewright.body.loft import LoftedSegment
from bonewright.body.solids import Mesh
from bonewright.quantity import Draws

__all__ = [
    "LAYERS",
    "SIDES",
    "BoneToBuild",
    "FigureToBuild",
    "Hoop",
    "Joint",
    "SegmentToBuild",
]

LAYERS: Final = ("skeleton", "naked", "feathered")
SIDES: Final = ("middle", "left", "right")

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hoop:
    """One hoop across a segment's axis.

    ``number`` counts from the joint, 1 first; ``station`` is the place along the axis, 0 to
    1, and ``along_mm`` the same in mm. ``centre_mm`` (3,) lies on the axis; ``across`` and
    ``dorsal`` (3,) are unit vectors in the hoop's plane, to the animal's left and to its
    dorsal side, ``axis`` (3,) the third. Half-widths and heights in mm; the outline of each
    half is a superellipse of its exponent.
    """

    number: int
    station: float
    along_mm: float
    centre_mm: Draws
    axis: Draws
    across: Draws
    dorsal: Draws
    half_width_mm: float
    dorsal_mm: float
    ventral_mm: float
    dorsal_exponent: float
    ventral_exponent: float

    def outline_mm(self, points: int = 96) -> Draws:
        """Return the closed outline in the hoop's own plane, (points, 2): left and dorsal."""
        angle = 2 * np.pi * np.arange(points) / points
        cosine, sine = np.cos(angle), np.sin(angle)
        exponent = np.where(sine >= 0, self.dorsal_exponent, self.ventral_exponent)
        height = np.where(sine >= 0, self.dorsal_mm, self.ventral_mm)
        radius = (np.abs(cosine) ** exponent + np.abs(sine) ** exponent) ** (-1 / exponent)
        return np.stack((self.half_width_mm * radius * cosine, height * radius * sine), axis=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SegmentToBuild:
    """One segment of the figure, of one side.

    ``segment`` is its name in the body plan, ``label`` that with its side ('left thigh'),
    ``parent`` the label of what it hangs on. ``axis_mm`` (k, 3) runs along its axis from its
    joint to its far end. ``mesh`` is the segment whole, ``own`` the part that no earlier
    segment holds: the own parts of all segments together are the figure; ``own`` is None
    where nothing of it lies outside the others. ``volume_mm3`` and ``centre_mm`` are those of
    the own part, ``skin_mm2`` its part of the figure's surface. ``length95_mm`` and
    ``volume95_mm3`` say between what the bones leave the animal's own size, at this scale.
    ``loft`` is the segment along its own axis, one draw, from which hoops are taken;
    ``origin_mm`` and ``turn`` place it. In the skeleton layer there are no hoops.
    """

    segment: str
    side: str
    label: str
    parent: str | None
    joint: str
    on_ground: bool
    axis_mm: Draws
    length_mm: float
    length95_mm: Interval
    hoops: tuple[Hoop, ...]
    mesh: Mesh
    own: Mesh | None
    volume_mm3: float
    volume95_mm3: Interval
    centre_mm: Draws
    skin_mm2: float
    plumage_mm: float
    loft: LoftedSegment
    origin_mm: Draws
    turn: Draws


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joint:
    """The joint at the near end of a segment; ``at_mm`` (3,)."""

    name: str
    segment: str
    at_mm: Draws


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoneToBuild:
    """A bone inside the figure.

    ``measured`` tells bones of the study from stand-ins for bones nobody measured, such as
    the vertebrae of the neck. ``length_mm`` is the bone's greatest length (the stand-in's
    length), ``thickness_mm`` its least breadth.
    """

    element: str
    segment: str
    side: str
    measured: bool
    length_mm: float
    thickness_mm: float
    mesh: Mesh


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FigureToBuild:
    """The animal to be built.

    ``whole`` is one closed solid standing on z = 0, ``centre_mm`` (3,) the centre of its
    volume, ``foot_mm`` (m, 2) the convex outline of what touches the ground, ``feet_mm`` the
    outline of each foot by side. ``living_mass_kg`` and its 95 % interval are the animal's
    own, at life size. ``invented`` marks a demonstration study.
    """

    title: str
    animal: str
    invented: bool
    scale_denominator: float
    state: str
    layer: str
    segments: tuple[SegmentToBuild, ...]
    joints: Mapping[str, Joint]
    bones: tuple[BoneToBuild, ...]
    whole: Mesh
    volume_mm3: float
    skin_mm2: float
    centre_mm: Draws
    foot_mm: Draws
    feet_mm: Mapping[str, Draws]
    living_mass_kg: float
    living_mass95_kg: Interval

    @property
    def size_mm(self) -> Draws:
        """Length, width and height over all, (3,) mm."""
        return np.asarray(np.ptp(self.whole.vertices_mm, axis=0))

    def segment(self, label: str) -> SegmentToBuild:
        """Return the segment of that label."""
        return next(segment for segment in self.segments if segment.label == label)

    def lifted(self, by_mm: Draws) -> "FigureToBuild":
        """Return the same figure moved by (3,) mm."""
        return replace(
            self,
            segments=tuple(
                replace(
                    segment,
                    axis_mm=segment.axis_mm + by_mm,
                    hoops=tuple(
                        replace(hoop, centre_mm=hoop.centre_mm + by_mm) for hoop in segment.hoops
                    ),
                    mesh=_mesh_moved(segment.mesh, by_mm),
                    own=None if segment.own is None else _mesh_moved(segment.own, by_mm),
                    centre_mm=segment.centre_mm + by_mm,
                    origin_mm=segment.origin_mm + by_mm,
                )
                for segment in self.segments
            ),
            joints={
                label: replace(joint, at_mm=joint.at_mm + by_mm)
                for label, joint in self.joints.items()
            },
            bones=tuple(replace(bone, mesh=_mesh_moved(bone.mesh, by_mm)) for bone in self.bones),
            whole=_mesh_moved(self.whole, by_mm),
            centre_mm=self.centre_mm + by_mm,
            foot_mm=self.foot_mm + by_mm[:2],
            feet_mm={side: outline + by_mm[:2] for side, outline in self.feet_mm.items()},
        )

    def at_scale(self, denominator: float) -> "FigureToBuild":
        """Return the same figure at another scale."""
        by = self.scale_denominator / denominator
        return replace(
            self,
            scale_denominator=denominator,
            segments=tuple(_segment_times(segment, by) for segment in self.segments),
            joints={
                label: replace(joint, at_mm=joint.at_mm * by)
                for label, joint in self.joints.items()
            },
            bones=tuple(
                replace(
                    bone,
                    length_mm=bone.length_mm * by,
                    thickness_mm=bone.thickness_mm * by,
                    mesh=_mesh_times(bone.mesh, by),
                )
                for bone in self.bones
            ),
            whole=_mesh_times(self.whole, by),
            volume_mm3=self.volume_mm3 * by**3,
            skin_mm2=self.skin_mm2 * by**2,
            centre_mm=self.centre_mm * by,
            foot_mm=self.foot_mm * by,
            feet_mm={side: outline * by for side, outline in self.feet_mm.items()},
        )


def _mesh_moved(mesh: Mesh, by_mm: Draws) -> Mesh:
    return Mesh(vertices_mm=mesh.vertices_mm + by_mm, faces=mesh.faces)


def _mesh_times(mesh: Mesh, by: float) -> Mesh:
    return Mesh(vertices_mm=mesh.vertices_mm * by, faces=mesh.faces)


def _segment_times(segment: SegmentToBuild, by: float) -> SegmentToBuild:
    low, high = segment.length95_mm
    least, most = segment.volume95_mm3
    loft = segment.loft
    return replace(
        segment,
        axis_mm=segment.axis_mm * by,
        length_mm=segment.length_mm * by,
        length95_mm=(low * by, high * by),
        hoops=tuple(
            replace(
                hoop,
                along_mm=hoop.along_mm * by,
                centre_mm=hoop.centre_mm * by,
                half_width_mm=hoop.half_width_mm * by,
                dorsal_mm=hoop.dorsal_mm * by,
                ventral_mm=hoop.ventral_mm * by,
            )
            for hoop in segment.hoops
        ),
        mesh=_mesh_times(segment.mesh, by),
        own=None if segment.own is None else _mesh_times(segment.own, by),
        volume_mm3=segment.volume_mm3 * by**3,
        volume95_mm3=(least * by**3, most * by**3),
        centre_mm=segment.centre_mm * by,
        skin_mm2=segment.skin_mm2 * by**2,
        plumage_mm=segment.plumage_mm * by,
        loft=replace(
            loft,
            half_width_mm=loft.half_width_mm * by,
            dorsal_mm=loft.dorsal_mm * by,
            ventral_mm=loft.ventral_mm * by,
            length_mm=loft.length_mm * by,
        ),
        origin_mm=segment.origin_mm * by,
    )
