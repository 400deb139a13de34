"""The body plan: segments between landmarks of the skeleton, each drawn through hoops."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.body.loft import LoftedSegment
from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.findings import RowRef
from bonewright.quantity import Draws
from bonewright.study.ground_bird import GROUND_BIRD_HOOPS, GROUND_BIRD_SEGMENTS
from bonewright.study.model import BodyHoop, BodySegment

__all__ = ["BodyPlan", "SegmentPlan", "body_plan", "bones_of_plan", "lofted_segments"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentPlan:
    """One segment with its hoops in order along the axis."""

    segment: BodySegment
    hoops: tuple[BodyHoop, ...]

    @property
    def copies(self) -> int:
        """How often the animal has it: twice where it is paired."""
        return 2 if self.segment.sides == "paired" else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyPlan:
    """Segments by name, each after the one it hangs on; the first is the root.

    ``own_rows`` are the study's rows used; ``replaced`` names the segments they draw.
    """

    segments: Mapping[str, SegmentPlan]
    own_rows: tuple[RowRef, ...]
    replaced: tuple[str, ...]


def body_plan(segments: Sequence[BodySegment], hoops: Sequence[BodyHoop]) -> BodyPlan:
    """Join a study's rows with the plan of a ground bird.

    A study's rows replace those of the plan segment by segment; new names add segments. A
    study whose segments have a root of their own replaces the plan whole.

    Raises
    ------
    OutsideRange
        If a segment hangs on none that is known, on itself, or has no hoops.
    """
    own_root = any(segment.parent is None for segment in segments)
    known = {} if own_root else {s.segment: s for s in GROUND_BIRD_SEGMENTS}
    known |= {segment.segment: segment for segment in segments}
    outlines = _by_segment(GROUND_BIRD_HOOPS) | _by_segment(hoops)
    ordered = _parents_first(known)
    bare = [name for name in ordered if name not in outlines]
    if bare:
        raise OutsideRange(
            f"The body plan has no hoops for: {', '.join(bare)}.",
            remedy="Add rows for them to tables/body_hoops.csv.",
        )
    rows = [s.ref for s in segments] + [hoop.ref for hoop in hoops]
    return BodyPlan(
        segments={
            name: SegmentPlan(
                segment=known[name],
                hoops=tuple(sorted(outlines[name], key=lambda hoop: hoop.station)),
            )
            for name in ordered
        },
        own_rows=tuple(ref for ref in rows if ref is not None),
        replaced=tuple(
            dict.fromkeys(
                [s.segment for s in segments] + [h.segment for h in hoops if h.segment in known]
            )
        ),
    )


def _by_segment(hoops: Iterable[BodyHoop]) -> dict[str, list[BodyHoop]]:
    grouped: dict[str, list[BodyHoop]] = {}
    for hoop in hoops:
        grouped.setdefault(hoop.segment, []).append(hoop)
    return grouped


def _parents_first(known: Mapping[str, BodySegment]) -> list[str]:
    ordered: list[str] = []
    waiting = list(known)
    while waiting:
        ready = [n for n in waiting if known[n].parent is None or known[n].parent in ordered]
        if not ready:
            raise OutsideRange(
                f"These segments of the body hang on none that is known: {', '.join(waiting)}.",
                remedy="Mend the column of what they hang on in tables/body_segments.csv.",
            )
        ordered += ready
        waiting = [name for name in waiting if name not in ready]
    return ordered


def bones_of_plan(plan: BodyPlan) -> tuple[tuple[str, str], ...]:
    """Return the (element, code) of every bone measurement the plan refers to, each once."""
    return tuple(
        dict.fromkeys(
            key
            for part in plan.segments.values()
            for key in (
                (part.segment.element, part.segment.code),
                *((h.element, h.code) for h in part.hoops if h.element and h.code),
            )
        )
    )


def lofted_segments(
    plan: BodyPlan, bone_draws_mm: Mapping[tuple[str, str], Draws]
) -> dict[str, LoftedSegment]:
    """Give every hoop its size from the average skeleton, draw by draw.

    Parameters
    ----------
    bone_draws_mm : mapping from (element, code) to (n_draws,) float
        Draws of the average skeleton's measurements, mm.

    Raises
    ------
    NotEnoughEvidence
        If the average skeleton lacks a measurement the plan refers to.
    """
    missing = [
        f"{element} {code}"
        for element, code in bones_of_plan(plan)
        if (element, code) not in bone_draws_mm
    ]
    if missing:
        raise NotEnoughEvidence(
            "The body could not be grown from the skeleton.",
            needed="the average of every bone measurement its plan refers to",
            found=f"no {', '.join(missing)}",
            would_help="measure them, or give the segments concerned rows of your own in"
            " body_segments.csv and body_hoops.csv that refer to bones you have",
        )
    return {name: _loft(part, bone_draws_mm) for name, part in plan.segments.items()}


def _loft(part: SegmentPlan, bone_draws_mm: Mapping[tuple[str, str], Draws]) -> LoftedSegment:
    segment = part.segment
    length = bone_draws_mm[segment.element, segment.code] * segment.length_ratio
    sizes = np.stack(
        [
            bone_draws_mm[hoop.element, hoop.code] if hoop.element and hoop.code else length
            for hoop in part.hoops
        ],
        axis=1,
    )

    def values(ratios: list[float]) -> Draws:
        return np.asarray(sizes * np.array(ratios) + [hoop.tissue_mm for hoop in part.hoops])

    return LoftedSegment(
        station=np.array([hoop.station for hoop in part.hoops]),
        half_width_mm=values([hoop.half_width_ratio for hoop in part.hoops]),
        dorsal_mm=values([hoop.dorsal_ratio for hoop in part.hoops]),
        ventral_mm=values([hoop.ventral_ratio for hoop in part.hoops]),
        dorsal_exponent=np.array([hoop.dorsal_exponent for hoop in part.hoops]),
        ventral_exponent=np.array([hoop.ventral_exponent for hoop in part.hoops]),
        length_mm=length,
        bend_rad=segment.bend_rad,
    )
