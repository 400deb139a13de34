"""Rows of the body plan and of the tissues that are probably mistakes."""

from collections.abc import Mapping, Sequence

import numpy as np

from bonewright.body.decisions import Places, decision_on
from bonewright.body.plan import BodyPlan, body_plan
from bonewright.findings import Doubt, RowRef
from bonewright.quantity import Draws
from bonewright.study.ground_bird import GROUND_BIRD_HOOPS, GROUND_BIRD_SEGMENTS, TISSUES
from bonewright.study.model import BodyHoop, BodySegment, Tissue

__all__ = ["sound_plan", "sound_tissues"]

# The middle of each bone measurement, mm.
_Bones = Mapping[tuple[str, str], float]

_NEIGHBOURS_LN = float(np.log(2.2))
_PLAN_LN = float(np.log(2.5))
_DENSITY_LN = float(np.log(1.2))
_SIZES = (
    ("halfWidthRatio", "half_width_ratio"),
    ("dorsalRatio", "dorsal_ratio"),
    ("ventralRatio", "ventral_ratio"),
)


def sound_plan(
    segments: Sequence[BodySegment],
    hoops: Sequence[BodyHoop],
    *,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    kept: Places,
    set_aside: Places,
) -> tuple[BodyPlan, tuple[Doubt, ...]]:
    """Join a study's rows with the ground bird's plan, doubtful rows left out.

    A segment is doubted whose length is more than 2.5 times off the plan's of that name, or
    whose bone the average skeleton lacks; the plan's stands in. A hoop is doubted whose sizes
    are more than 2.2 times off what its neighbours lead one to expect; its neighbours stand
    in, or the plan's hoops where too few are left.
    """
    asked = {(s.element, s.code) for s in (*segments, *GROUND_BIRD_SEGMENTS)} | {
        (hoop.element, hoop.code) for hoop in hoops if hoop.element and hoop.code
    }
    bones = {key: float(np.median(mm)) for key, mm in bone_draws_mm.items() if key in asked}
    doubts = [
        *_segment_doubts(segments, bones, kept, set_aside),
        *_hoop_doubts(hoops, bones, kept, set_aside),
    ]
    out = {doubt.ref for doubt in doubts if doubt.held_out}
    used_segments = [s for s in segments if _used(s.ref, out, set_aside)]
    left = [hoop for hoop in hoops if _used(hoop.ref, out, set_aside)]
    known = {hoop.segment for hoop in GROUND_BIRD_HOOPS}
    used_hoops = [
        hoop
        for hoop in left
        if hoop.segment not in known or _spans([h for h in left if h.segment == hoop.segment])
    ]
    return body_plan(used_segments, used_hoops), tuple(doubts)


def _used(ref: RowRef | None, out: set[RowRef], set_aside: Places) -> bool:
    return ref is None or (ref not in out and (ref.table, ref.row_id) not in set_aside)


def _spans(hoops: Sequence[BodyHoop]) -> bool:
    stations = [hoop.station for hoop in hoops]
    return len(stations) >= 3 and min(stations) <= 0 and max(stations) >= 1


def _doubt(
    ref: RowRef,
    *,
    column: str,
    kind: str,
    found: str,
    expected: str,
    mend: str,
    always_out: bool,
    kept: Places,
    set_aside: Places,
) -> Doubt:
    decided = decision_on(ref, kept, set_aside)
    return Doubt(
        ref=ref,
        column=column,
        kind=kind,
        found=found,
        expected=expected,
        mend=mend,
        held_out=always_out or decided != "keep",
        decided=decided,
    )


def _segment_doubts(
    segments: Sequence[BodySegment], bones: _Bones, kept: Places, set_aside: Places
) -> list[Doubt]:
    planned = {segment.segment: segment for segment in GROUND_BIRD_SEGMENTS}
    doubts = []
    for segment in segments:
        if segment.ref is None:
            continue
        if (segment.element, segment.code) not in bones:
            doubts.append(
                _doubt(
                    segment.ref,
                    column="measurementType",
                    kind="bone not measured",
                    found=f"{segment.element} {segment.code}",
                    expected="a measurement that the average skeleton has",
                    mend="Name another, or measure that bone.",
                    always_out=True,
                    kept=kept,
                    set_aside=set_aside,
                )
            )
            continue
        like = planned.get(segment.segment)
        if like is None or (like.element, like.code) not in bones:
            continue
        length, usual = (bones[s.element, s.code] * s.length_ratio for s in (segment, like))
        if abs(np.log(length / usual)) > _PLAN_LN:
            doubts.append(
                _doubt(
                    segment.ref,
                    column="lengthRatio",
                    kind="out of line",
                    found=f"{segment.length_ratio:g}, an axis of {length:.3g} mm",
                    expected=f"about {usual:.3g} mm, as the plan of a ground bird has",
                    mend="Look at the decimal point and at the bone it is over.",
                    always_out=False,
                    kept=kept,
                    set_aside=set_aside,
                )
            )
    return doubts


def _hoop_doubts(
    hoops: Sequence[BodyHoop], bones: _Bones, kept: Places, set_aside: Places
) -> list[Doubt]:
    doubts = []
    for hoop in hoops:
        if hoop.ref is None:
            continue
        if hoop.element and hoop.code and (hoop.element, hoop.code) not in bones:
            doubts.append(
                _doubt(
                    hoop.ref,
                    column="measurementType",
                    kind="bone not measured",
                    found=f"{hoop.element} {hoop.code}",
                    expected="a measurement that the average skeleton has",
                    mend="Name another, or measure that bone.",
                    always_out=True,
                    kept=kept,
                    set_aside=set_aside,
                )
            )
            continue
        others = [
            other
            for other in hoops
            if other.segment == hoop.segment
            and other is not hoop
            and not (other.ref and (other.ref.table, other.ref.row_id) in set_aside)
        ]
        for column, field in _SIZES:
            size, expected = _size_mm(hoop, field, bones), _between(hoop, others, field, bones)
            if not size or not expected or abs(np.log(size / expected)) <= _NEIGHBOURS_LN:
                continue
            doubts.append(
                _doubt(
                    hoop.ref,
                    column=column,
                    kind="out of line",
                    found=f"{getattr(hoop, field):g} ({size:.3g} mm)",
                    expected=f"about {expected:.3g} mm, as its neighbours lead to",
                    mend="Look at the decimal point, the station and the bone it is over.",
                    always_out=False,
                    kept=kept,
                    set_aside=set_aside,
                )
            )
            break
    return doubts


def _size_mm(hoop: BodyHoop, field: str, bones: _Bones) -> float:
    """Return a size of a hoop, mm; over its segment's length where it names no bone."""
    ratio = float(getattr(hoop, field))
    if hoop.element and hoop.code:
        bone = bones.get((hoop.element, hoop.code))
        return 0.0 if bone is None else ratio * bone + hoop.tissue_mm
    return ratio * _axis_mm(hoop.segment, bones) + hoop.tissue_mm


def _axis_mm(segment: str, bones: _Bones) -> float:
    planned = next((s for s in GROUND_BIRD_SEGMENTS if s.segment == segment), None)
    if planned is None or (planned.element, planned.code) not in bones:
        return 100.0
    return bones[planned.element, planned.code] * planned.length_ratio


def _between(hoop: BodyHoop, others: Sequence[BodyHoop], field: str, bones: _Bones) -> float | None:
    """Return the size that the nearest hoops of some size on either side lead one to expect."""
    before = [o for o in others if o.station < hoop.station and _size_mm(o, field, bones) > 0]
    after = [o for o in others if o.station > hoop.station and _size_mm(o, field, bones) > 0]
    if not before and not after:
        return None
    nearest = [max(before, key=lambda o: o.station)] if before else []
    nearest += [min(after, key=lambda o: o.station)] if after else []
    sizes = [float(np.log(_size_mm(o, field, bones))) for o in nearest]
    if len(nearest) == 1:
        return float(np.exp(sizes[0]))
    share = (hoop.station - nearest[0].station) / (nearest[1].station - nearest[0].station)
    return float(np.exp(sizes[0] + share * (sizes[1] - sizes[0])))


def sound_tissues(
    tissues: Sequence[Tissue], *, kept: Places, set_aside: Places
) -> tuple[tuple[Tissue, ...], tuple[Doubt, ...]]:
    """Doubt densities more than a fifth off those known; the program's stand in for them."""
    known = {tissue.tissue: tissue.density_kg_m3 for tissue in TISSUES}
    doubts = []
    for tissue in tissues:
        if tissue.ref is None or tissue.tissue not in known:
            continue
        usual = known[tissue.tissue]
        worst = max(
            (tissue.density_kg_m3, tissue.low_kg_m3, tissue.high_kg_m3),
            key=lambda density: abs(np.log(density / usual)),
        )
        limit = _DENSITY_LN * (2 if tissue.tissue == "bone" else 1)
        if abs(np.log(worst / usual)) > limit:
            doubts.append(
                _doubt(
                    tissue.ref,
                    column="density",
                    kind="out of line",
                    found=f"{worst / 1000:g} kg/L",
                    expected=f"about {usual / 1000:g} kg/L for {tissue.tissue}",
                    mend="Look at the decimal point and the unit: kg/L.",
                    always_out=False,
                    kept=kept,
                    set_aside=set_aside,
                )
            )
    out = {doubt.ref for doubt in doubts if doubt.held_out}
    return tuple(t for t in tissues if _used(t.ref, out, set_aside)), tuple(doubts)
