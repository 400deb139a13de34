"""How the figure to build is got out of a run: solids, hoops, joints and feet."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import ConvexHull

from bonewright.body.fat_states import with_fat
from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment, hoop_sizes
from bonewright.body.measures import joint_name, side_label
from bonewright.body.places import Place, point_on, to_world
from bonewright.body.silhouettes import feathered_lofts
from bonewright.body.solids import mesh_measures
from bonewright.body.standing_figure import filled_lofts, standing_meshes, standing_places
from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.quantity import Draws, Quantity
from bonewright.study.settings import Settings
from bonewright.workshop.bones_to_build import bones_to_build
from bonewright.workshop.figure_to_build import (
    LAYERS,
    FigureToBuild,
    Hoop,
    Interval,
    Joint,
    SegmentToBuild,
)
from bonewright.workshop.parts import Part, divided

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["figure_of_body", "figure_to_build", "hoop_at"]

# A toe lies flat on the ground from its joint to its tip with this part of its width (common
# practice: its pad, when pressed down).
_TOUCHING = 0.5


def figure_to_build(
    run: "Run", *, scale_denominator: float, state: str, layer: str
) -> FigureToBuild:
    """Take the standing animal out of a run and bring it to the scale of the figure.

    Parameters
    ----------
    scale_denominator : float
        n of the scale 1:n; 1 is life size.
    state : str
        Lean, mean or fat, as the body's states are named.
    layer : str
        Skeleton (bones, and rods where none was measured), naked or feathered.

    Raises
    ------
    NotEnoughEvidence
        If no body could be grown.
    OutsideRange
        If there is no such scale, state or layer.

    Notes
    -----
    The hoops of the naked figure are widened or narrowed all alike until the solid holds the
    median volume of the body in that state; feathers add their depth to that.
    """
    return figure_of_body(
        _grown(run),
        run.study.settings,
        scale_denominator=scale_denominator,
        state=state,
        layer=layer,
    )


def figure_of_body(
    grown: GrownBody, settings: Settings, *, scale_denominator: float, state: str, layer: str
) -> FigureToBuild:
    """Take a grown body as the figure to build; see :func:`figure_to_build`."""
    if not 0.1 <= scale_denominator <= 1000:
        raise OutsideRange(
            f"A figure cannot be built at 1:{scale_denominator:g}.",
            remedy="Give n of the scale 1:n between 0.1 and 1000; 1 is life size.",
        )
    for word, known, kind in ((state, tuple(grown.states), "state"), (layer, LAYERS, "layer")):
        if word not in known:
            raise OutsideRange(
                f"There is no {kind} '{word}'.", remedy=f"Choose one of: {', '.join(known)}."
            )
    figure = _life_size(grown, state, layer)
    return replace(
        figure.at_scale(scale_denominator),
        title=settings.study.title,
        animal=settings.animal.name,
        invented=settings.study.invented,
    )


# A pack asks for the same figure at several scales, and for its layers.
@lru_cache(maxsize=3)
def _life_size(grown: GrownBody, state: str, layer: str) -> FigureToBuild:
    naked = filled_lofts(grown, state)
    lofts = feathered_lofts(grown, naked) if layer == "feathered" else naked
    places = standing_places(grown, lofts)
    bones = bones_to_build(grown, naked, places)
    labels = {side_label(name, side): (name, side) for name, side in _sides(grown)}
    if layer == "skeleton":
        solids = {
            label: [bone.mesh for bone in bones if (bone.segment, bone.side) == place]
            for label, place in labels.items()
        }
    else:
        solids = {label: [mesh] for label, mesh in standing_meshes(grown, lofts, places).items()}
    parts, whole = divided(solids)
    # Feet of flesh, feathers and bone are not equally deep: each figure stands on its own.
    lift = np.array([0.0, 0.0, -whole.vertices_mm[:, 2].min()])
    segments = tuple(
        _segment(grown, labels[label], lofts, places, part=part, state=state, layer=layer)
        for label, part in parts.items()
    )
    measured = mesh_measures(whole)
    living = Quantity(draws=grown.states[state].mass_draws_kg, unit="kg").summary()
    feet = _feet(segments)
    figure = FigureToBuild(
        title="",
        animal="",
        invented=False,
        scale_denominator=1.0,
        state=state,
        layer=layer,
        segments=segments,
        joints={
            segment.label: Joint(name=segment.joint, segment=segment.label, at_mm=segment.origin_mm)
            for segment in segments
            if segment.parent is not None
        },
        bones=bones,
        whole=whole,
        volume_mm3=measured.volume_mm3,
        skin_mm2=sum(segment.skin_mm2 for segment in segments),
        centre_mm=measured.centre_mm,
        foot_mm=_hull(np.concatenate(list(feet.values()))),
        feet_mm=feet,
        living_mass_kg=living.median,
        living_mass95_kg=living.interval95,
    )
    return figure.lifted(lift)


def _grown(run: "Run") -> GrownBody:
    grown = None if run.body is None else run.body.grown
    if grown is None:
        gaps = run.unanswered.get("body", "") if run.body is None else " ".join(run.body.gaps)
        raise NotEnoughEvidence(
            "There is no grown body to build.",
            needed="the average of every bone measurement the body plan refers to",
            found=gaps or "none",
            would_help="see what the body step says is missing",
        )
    return grown


def _sides(grown: GrownBody) -> list[tuple[str, str]]:
    return [
        (name, side)
        for name, part in grown.plan.segments.items()
        for side in (("left", "right") if part.copies == 2 else ("middle",))
    ]


def _segment(
    grown: GrownBody,
    named: tuple[str, str],
    lofts: Mapping[str, LoftedSegment],
    places: Mapping[str, Place],
    *,
    part: Part,
    state: str,
    layer: str,
) -> SegmentToBuild:
    name, side = named
    plan, loft, place = grown.plan.segments[name].segment, lofts[name], places[name]
    parent = plan.parent
    if parent is not None:
        parent = side_label(parent, side if grown.plan.segments[parent].copies == 2 else "middle")
    flip = np.array([1.0, -1.0 if side == "right" else 1.0, 1.0])
    along = np.linspace(0, 1, 17 if loft.bend_rad else 2)
    axis = np.concatenate([to_world(place, point_on(loft, float(at))) for at in along]) * flip
    feathered = layer == "feathered" and name in grown.plumage_depth_mm
    segment = SegmentToBuild(
        segment=name,
        side=side,
        label=side_label(name, side),
        parent=parent,
        joint=joint_name(name, side) if parent else "",
        on_ground=plan.on_ground,
        axis_mm=axis,
        length_mm=float(loft.length_mm[0]),
        length95_mm=_interval(grown.lofts[name].length_mm, around=float(loft.length_mm[0])),
        hoops=(),
        mesh=part.whole,
        own=part.own,
        volume_mm3=part.volume_mm3,
        volume95_mm3=_interval(_volumes(grown, name, state, layer), around=part.volume_mm3),
        centre_mm=part.centre_mm,
        skin_mm2=part.skin_mm2,
        plumage_mm=float(np.median(grown.plumage_depth_mm[name])) if feathered else 0.0,
        loft=loft,
        origin_mm=place.origin_mm[0] * flip,
        # The right side is the mirror image, with its second axis still to the animal's left.
        turn=flip[:, None] * place.turn[0] * flip,
    )
    if layer == "skeleton":
        return segment
    sized = [
        hoop
        for hoop in (hoop_at(segment, float(at)) for at in loft.station if 0 <= at <= 1)
        if hoop.half_width_mm > 0
    ]
    hoops = (replace(hoop, number=number) for number, hoop in enumerate(sized, start=1))
    return replace(segment, hoops=tuple(hoops))


def _volumes(grown: GrownBody, name: str, state: str, layer: str) -> Draws:
    """Return draws that vary as the segment's volume does in the layer."""
    if layer == "skeleton" or name not in grown.lean.volume_m3:
        return np.asarray(grown.lofts[name].length_mm ** 3)
    lean, fatness = grown.lean, grown.states[state].fatness
    fat_kg = with_fat(grown.plan, lean, grown.skin_m2, fatness)[name] - lean.mass_kg[name]
    return np.asarray(lean.volume_m3[name] + fat_kg / lean.fat_density_kg_m3)


def _interval(draws: Draws, *, around: float) -> Interval:
    """Return the 95 % interval of draws, their median brought to a given value."""
    low, middle, high = np.quantile(draws, [0.025, 0.5, 0.975])
    return around * float(low / middle), around * float(high / middle)


def hoop_at(segment: SegmentToBuild, station: float) -> Hoop:
    """Return the hoop at any place along a segment's axis, 0 to 1; its number is 0.

    Raises
    ------
    OutsideRange
        If the segment does not reach that place.
    """
    loft = segment.loft
    if not loft.station[0] <= station <= loft.station[-1]:
        raise OutsideRange(
            f"The {segment.label} does not reach {100 * station:g} % of its axis.",
            remedy="Give a place between 0 and 100 %.",
        )
    width, dorsal, ventral = hoop_sizes(loft, station)
    bend = loft.bend_rad * station
    return Hoop(
        number=0,
        station=station,
        along_mm=station * segment.length_mm,
        centre_mm=segment.origin_mm + segment.turn @ point_on(loft, station)[0],
        axis=segment.turn @ np.array([np.cos(bend), 0.0, np.sin(bend)]),
        across=segment.turn @ np.array([0.0, 1.0, 0.0]),
        dorsal=segment.turn @ np.array([-np.sin(bend), 0.0, np.cos(bend)]),
        half_width_mm=width,
        dorsal_mm=dorsal,
        ventral_mm=ventral,
        dorsal_exponent=float(np.interp(station, loft.station, loft.dorsal_exponent)),
        ventral_exponent=float(np.interp(station, loft.station, loft.ventral_exponent)),
    )


def _feet(segments: Sequence[SegmentToBuild]) -> dict[str, Draws]:
    """Return the outline of what each foot sets on the ground, by side."""
    touching: dict[str, list[Draws]] = {}
    for segment in segments:
        if segment.on_ground:
            for at in np.linspace(0, 1, 9):
                hoop = hoop_at(segment, float(at))
                aside = _TOUCHING * hoop.half_width_mm * hoop.across
                touching.setdefault(segment.side, []).append(
                    np.stack((hoop.centre_mm - aside, hoop.centre_mm + aside))[:, :2]
                )
    if not touching:
        raise OutsideRange(
            "The figure has no feet to stand on.",
            remedy="Mark the segments that touch the ground in tables/body_segments.csv.",
        )
    return {side: _hull(np.concatenate(points)) for side, points in touching.items()}


def _hull(points: Draws) -> Draws:
    """Return the convex outline of points (n, 2), anticlockwise, (m, 2)."""
    return np.asarray(points[ConvexHull(points).vertices])
