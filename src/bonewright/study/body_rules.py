"""Rules that join cells of the tables of the body: plan, tissues, lost parts, weighings."""

from collections.abc import Iterator, Mapping

from bonewright.errors import Problem
from bonewright.study.ground_bird import GROUND_BIRD_HOOPS, GROUND_BIRD_SEGMENTS
from bonewright.study.spelling import listed, nearest
from bonewright.study.table_cells import TableCells

__all__ = [
    "density_rules",
    "hoop_rules",
    "known_segments",
    "lost_part_rules",
    "segment_rules",
    "weighing_rules",
]

_PLAN_SEGMENTS = tuple(segment.segment for segment in GROUND_BIRD_SEGMENTS)
_FEWEST_HOOPS = 3


def known_segments(segments: TableCells) -> tuple[str, ...]:
    """Return the names of the segments a study has: its own, and the plan's it adds to."""
    own = [segments.key(index) for index in range(len(segments))]
    has_root = any(segments.text("parentSegment", index) is None for index in segments.sound_rows())
    return tuple(dict.fromkeys([*own, *(() if has_root else _PLAN_SEGMENTS)]))


def segment_rules(segments: TableCells, hoops: TableCells) -> Iterator[Problem]:
    """Check that segments hang on one another in a chain, and joints can have their angle."""
    if segments.raw.problems:
        return
    known = known_segments(segments)
    outlined = {hoop.segment for hoop in GROUND_BIRD_HOOPS}
    outlined |= {hoops.text("segmentID", index) or "" for index in range(len(hoops))}
    parents = {
        segments.key(index): segments.text("parentSegment", index)
        for index in segments.sound_rows()
    }
    roots = [index for index in segments.sound_rows() if parents[segments.key(index)] is None]
    for index in roots[1:]:
        yield segments.problem(
            index,
            "parentSegment",
            expected="one segment only that hangs on no other",
            mend=f"{segments.place(roots[0])} is one already: say what this one hangs on.",
        )
    if roots and not any(
        segments.columns["onGround"][index] is True for index in segments.sound_rows()
    ):
        yield segments.problem(
            roots[0],
            "parentSegment",
            expected="the segment it hangs on; a row that hangs on none begins a whole plan, which"
            " needs parts on the ground",
            mend="Say what it hangs on, or mark the parts of your plan that stand on the ground.",
        )
    for index in segments.sound_rows():
        name, parent = segments.key(index), segments.text("parentSegment", index)
        if parent is not None and parent not in known:
            guess = nearest(parent, known)
            yield segments.problem(
                index,
                "parentSegment",
                expected="a segment of this table or of the ground bird's plan",
                mend=f"Did you mean '{guess}'?" if guess else f"One of: {listed(known)}.",
                instead=(guess,) if guess else (),
            )
        elif _hangs_on_itself(name, parents):
            yield segments.problem(
                index,
                "parentSegment",
                expected="a segment that does not hang on this one",
                mend="Follow the chain from the trunk outwards.",
            )
        if name not in outlined:
            guess = nearest(name, outlined)
            yield segments.problem(
                index,
                "segmentID",
                expected="a segment with hoops",
                mend=f"Did you mean '{guess}'?" if guess else "Add its rows to body_hoops.csv.",
                instead=(guess,) if guess else (),
            )
        yield from _angle_problems(segments, index)


def _hangs_on_itself(name: str, parents: Mapping[str, str | None]) -> bool:
    seen, at = {name}, parents.get(name)
    while at is not None:
        if at in seen:
            return at == name
        seen.add(at)
        at = parents.get(at)
    return False


def _angle_problems(segments: TableCells, index: int) -> Iterator[Problem]:
    angle, low, high = (
        segments.number(column, index) for column in ("jointAngle", "jointLowest", "jointHighest")
    )
    if angle is None or low is None or high is None or low <= angle <= high:
        return
    yield segments.problem(
        index,
        "jointAngle",
        expected=f"an angle that the joint allows, {low:g} to {high:g} degrees",
        mend="Look the three angles up again.",
    )


def hoop_rules(hoops: TableCells, segments: TableCells) -> Iterator[Problem]:
    """Check that each segment's hoops span a solid."""
    if hoops.raw.problems:
        return
    known = known_segments(segments)
    by_segment: dict[str, list[int]] = {}
    for index in hoops.sound_rows():
        name = hoops.text("segmentID", index)
        if name is None:
            continue
        if name not in known and not segments.raw.problems:
            guess = nearest(name, known)
            yield hoops.problem(
                index,
                "segmentID",
                expected="a segment of the body plan",
                mend=f"Did you mean '{guess}'?" if guess else f"One of: {listed(known)}.",
                instead=(guess,) if guess else (),
            )
        by_segment.setdefault(name, []).append(index)
        yield from _bone_and_unit(hoops, index)
        yield from _flat(hoops, index)
    for name, indices in by_segment.items():
        yield from _span_problems(hoops, name, indices)


def _bone_and_unit(hoops: TableCells, index: int) -> Iterator[Problem]:
    element, code = hoops.text("element", index), hoops.text("measurementType", index)
    if (element is None) != (code is None):
        yield hoops.problem(
            index,
            "measurementType" if code is None else "element",
            expected="both an element and a code, or neither",
            mend="Fill in the missing one, or empty both for the segment's own length.",
        )
    if hoops.written["tissueThickness"][index] and not hoops.written["measurementUnit"][index]:
        yield hoops.problem(
            index,
            "measurementUnit",
            expected="the unit of the tissue beside",
            mend="Write mm, or empty the thickness.",
        )


def _flat(hoops: TableCells, index: int) -> Iterator[Problem]:
    width = hoops.number("halfWidthRatio", index)
    heights = [hoops.number(column, index) for column in ("dorsalRatio", "ventralRatio")]
    if width is None or None in heights:
        return
    tall = any(heights)
    if bool(width) != tall:
        yield hoops.problem(
            index,
            "halfWidthRatio",
            expected="a width and a height, or neither (a closed end)",
            mend="Fill in all three sizes, or put all three at 0.",
        )


def _span_problems(hoops: TableCells, name: str, indices: list[int]) -> Iterator[Problem]:
    stations: dict[float, int] = {}
    for index in indices:
        station = hoops.number("station", index)
        if station is None:
            continue
        if station in stations:
            yield hoops.problem(
                index,
                "station",
                expected=f"another station than {hoops.place(stations[station])} has",
                mend="Two hoops of a segment cannot stand at one place.",
            )
        stations.setdefault(station, index)
    if len(indices) < _FEWEST_HOOPS:
        yield hoops.problem(
            indices[0],
            "segmentID",
            expected=f"at least {_FEWEST_HOOPS} hoops for the {name}",
            mend="Add hoops along the segment, or delete this one to use the plan's.",
        )
        return
    ordered = sorted(stations)
    if not ordered or ordered[0] > 0 or ordered[-1] < 100:
        yield hoops.problem(
            stations[ordered[0]] if ordered else indices[0],
            "station",
            expected=f"hoops of the {name} from 0 to 100 %",
            mend="Add a hoop at each end of the axis.",
        )
    for station in ordered[1:-1]:
        index = stations[station]
        sizes = [
            hoops.number(column, index)
            for column in ("halfWidthRatio", "dorsalRatio", "ventralRatio", "tissueThickness")
        ]
        if not any(sizes):
            yield hoops.problem(
                index,
                "halfWidthRatio",
                expected="a hoop of some size between the ends, which are"
                f" {hoops.place(stations[ordered[0]])} and {hoops.place(stations[ordered[-1]])}",
                mend="Only the first and last hoop of a segment may be closed.",
            )


def density_rules(rows: TableCells) -> Iterator[Problem]:
    """Check that a density lies inside its own range."""
    for index in rows.sound_rows():
        best, low, high = (
            rows.number(column, index) for column in ("density", "densityLow", "densityHigh")
        )
        if best is not None and low is not None and high is not None and not low <= best <= high:
            yield rows.problem(
                index,
                "density",
                expected=f"a density inside its range, {low:g} to {high:g} kg/L",
                mend="Look the three numbers up again.",
            )


def lost_part_rules(parts: TableCells) -> Iterator[Problem]:
    """Check that lengths are given over a bone, and masses over body mass."""
    for index in parts.sound_rows():
        part = parts.text("part", index)
        element, code = parts.text("element", index), parts.text("measurementType", index)
        if part is None:
            continue
        of_mass = part.endswith("mass")
        if of_mass and (element or code):
            yield parts.problem(
                index,
                "element",
                expected="no bone: a mass is given over body mass",
                mend="Empty element and code.",
            )
        if not of_mass and not (element and code):
            yield parts.problem(
                index,
                "element" if not element else "measurementType",
                expected="the bone and code the part is given over",
                mend="Fill in both.",
            )
        ratio = parts.number("ratio", index)
        if of_mass and ratio is not None and ratio >= 0.6:
            yield parts.problem(
                index,
                "ratio",
                expected="less than 0.6 of body mass",
                mend="Give the part over body mass, kg over kg.",
            )


def weighing_rules(bodies: TableCells) -> Iterator[Problem]:
    """Check that each reading gives the volume in one way, and weights make sense."""
    for index in bodies.sound_rows():
        volume = bodies.written["measurementValue"][index]
        air, water, density, unit, armature = (
            bodies.written[column][index]
            for column in (
                "weightInAir",
                "weightInWater",
                "materialDensity",
                "weightUnit",
                "armatureWeight",
            )
        )
        ways = [bool(volume), bool(water), bool(density)]
        if sum(ways) != 1 or (bool(air) and bool(volume)):
            yield bodies.problem(
                index,
                "measurementValue",
                expected="the volume in one way: displaced, or weights in air and in water, or"
                " weight in air and the material's density",
                mend="Fill in one way and empty the others; take further readings as further rows.",
            )
            continue
        if volume:
            continue
        for column, text in (("weightInAir", air), ("weightUnit", unit)):
            if not text:
                yield bodies.problem(
                    index,
                    column,
                    expected="the weight in air and its unit",
                    mend="Fill in the cell, or give the volume displaced instead.",
                )
        dry, wet = bodies.number("weightInAir", index), bodies.number("weightInWater", index)
        if dry is not None and wet is not None and wet >= dry:
            yield bodies.problem(
                index,
                "weightInWater",
                expected="less than the weight in air",
                mend="Look both up again.",
            )
        held = bodies.number("armatureWeight", index)
        if armature and (water or (held is not None and dry is not None and held >= dry)):
            yield bodies.problem(
                index,
                "armatureWeight",
                expected="less than the weight in air, and only with the material's density",
                mend="With a weight in water give the armature's volume instead.",
            )
