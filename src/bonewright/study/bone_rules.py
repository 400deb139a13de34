"""Rules that join cells of the tables of bones, relatives, sections and body models."""

from collections import Counter
from collections.abc import Iterator, Mapping

from bonewright.errors import Problem
from bonewright.study.schemas import MIDLINE_ELEMENTS
from bonewright.study.spelling import listed, with_article
from bonewright.study.table_cells import TableCells

__all__ = [
    "DIAMETERS",
    "WALLS",
    "body_rules",
    "measurement_rules",
    "relative_rules",
    "section_rules",
    "specimen_rules",
]

DIAMETERS = (
    ("outerMediolateral", "innerMediolateral"),
    ("outerAnteroposterior", "innerAnteroposterior"),
)
WALLS = ("wallMedial", "wallLateral", "wallAnterior", "wallPosterior")
_COARSEST_ACCURACY = 0.25


def specimen_rules(specimens: TableCells, rows: Mapping[str, int]) -> Iterator[Problem]:
    """Check sides and casts. ``rows`` maps a specimen's name to its row's index."""
    for index in specimens.sound_rows():
        element, side = specimens.text("element", index), specimens.text("side", index)
        if element and side and side != "unknown":
            alone = element in MIDLINE_ELEMENTS
            if (side == "midline") != alone:
                yield specimens.problem(
                    index,
                    "side",
                    expected=f"{'midline' if alone else 'left or right'} (or unknown) for"
                    f" {with_article(element)}",
                    mend="Mend the side, or the element if that is wrong.",
                )
        original = rows.get(specimens.text("castOf", index) or "")
        if original is not None:
            yield from _cast_rules(specimens, index, original)


def _cast_rules(specimens: TableCells, index: int, original: int) -> Iterator[Problem]:
    if original == index:
        return
    preparation = specimens.text("preparations", index)
    if preparation == "bone":
        yield specimens.problem(
            index,
            "preparations",
            expected="cast or print, since castOf names a bone",
            mend="Mend the preparation, or empty castOf.",
        )
    for column in ("element", "side"):
        mine, theirs = specimens.text(column, index), specimens.text(column, original)
        if mine and theirs and mine != theirs and "unknown" not in (mine, theirs):
            yield specimens.problem(
                index,
                column,
                expected=f"'{theirs}', as the bone it was cast from ({specimens.place(original)})",
                mend="Mend whichever of the two rows is wrong, or castOf.",
            )


def measurement_rules(measurements: TableCells, overruled: frozenset[str]) -> Iterator[Problem]:
    """Check that the instrument is finer than the thing measured."""
    factors = measurements.factors["measurementUnit"]
    for index in measurements.sound_rows():
        accuracy = measurements.number("measurementAccuracy", index)
        value = measurements.number("measurementValue", index)
        factor = factors[index]
        if accuracy is None or value is None or factor is None:
            continue
        if accuracy * factor > _COARSEST_ACCURACY * value:
            if measurements.key(index) in overruled:
                continue
            yield measurements.problem(
                index,
                "measurementAccuracy",
                expected="a division finer than a quarter of the value",
                mend="Mend the accuracy, the value or the unit",
                keepable=True,
            )


def relative_rules(relative_measurements: TableCells) -> Iterator[Problem]:
    """Check that each measurement of a species stands once."""
    columns = ("scientificName", "element", "measurementType")
    first: dict[tuple[str, ...], int] = {}
    for index in relative_measurements.sound_rows():
        texts = [relative_measurements.text(column, index) for column in columns]
        what = tuple(text for text in texts if text)
        if len(what) == len(columns) and first.setdefault(what, index) != index:
            yield relative_measurements.problem(
                index,
                "measurementType",
                expected="each measurement of a species once",
                mend=f"{what[0]}, {what[1]} {what[2]} stands in"
                f" {relative_measurements.place(first[what])} already: mend the species, element or"
                " code, or delete one of the two.",
            )


def section_rules(
    sections: TableCells, specimens: TableCells, rows: Mapping[str, int]
) -> Iterator[Problem]:
    """Check what a section is of, and that its measures make a tube.

    ``rows`` maps a specimen's name to its row's index.
    """
    for index in sections.sound_rows():
        yield from _section_owner(sections, index)
        bone = rows.get(sections.text("materialEntityID", index) or "")
        element = sections.text("element", index)
        if bone is not None and element:
            other = specimens.text("element", bone)
            if other and other != element:
                yield sections.problem(
                    index,
                    "element",
                    expected=f"'{other}', as the bone itself ({specimens.place(bone)})",
                    mend="Mend whichever of the two rows is wrong, or the name of the bone.",
                )
        yield from _section_measures(sections, index)


def _section_owner(sections: TableCells, index: int) -> Iterator[Problem]:
    bone = sections.filled("materialEntityID", index)
    species = sections.filled("scientificName", index)
    if bone == species:
        yield sections.problem(
            index,
            "scientificName" if bone else "materialEntityID",
            expected="either a bone of the lost animal or a living species",
            mend="Empty one of the two cells." if bone else "Fill in one of the two.",
        )


def _section_measures(sections: TableCells, index: int) -> Iterator[Problem]:
    outer = [outer for outer, _ in DIAMETERS]
    inner = [inner for _, inner in DIAMETERS]
    given = [name for name in (*outer, *inner, *WALLS) if sections.filled(name, index)]
    if sections.filled("outlineFile", index):
        if given:
            yield sections.problem(
                index,
                given[0],
                expected="diameters or an outline file, not both",
                mend="Empty the diameters and walls, or the outline file.",
            )
        return
    by_walls = any(name in WALLS for name in given)
    if by_walls and any(name in inner for name in given):
        yield sections.problem(
            index,
            next(name for name in given if name in inner),
            expected="inner diameters or the four walls, not both",
            mend="Empty the inner diameters, or the walls.",
        )
        return
    missing = [name for name in (*outer, *(WALLS if by_walls else inner)) if name not in given]
    for name in missing:
        yield sections.problem(
            index,
            name,
            expected="all four walls beside the outer diameters"
            if by_walls
            else "all four diameters, or walls or an outline file instead",
            mend=f"Fill in {listed(missing, last='and')}, or name an outline file.",
        )
    yield from _inner_within_outer(sections, index)
    for name in outer:
        diameter, length = sections.number(name, index), sections.number("boneLength", index)
        if diameter is not None and length is not None and diameter >= length:
            yield sections.problem(
                index,
                name,
                expected=f"less than the bone's length ({sections.written['boneLength'][index]})",
                mend="Look both up again.",
            )


def _inner_within_outer(sections: TableCells, index: int) -> Iterator[Problem]:
    for (outer_name, inner_name), walls in zip(DIAMETERS, (WALLS[:2], WALLS[2:]), strict=True):
        outer, inner = sections.number(outer_name, index), sections.number(inner_name, index)
        if outer is None:
            continue
        if inner is not None and inner >= outer:
            yield sections.problem(
                index,
                inner_name,
                expected=f"less than {outer_name} ({sections.written[outer_name][index]})",
                mend="Swap the two, or look them up again.",
            )
        thicknesses = [sections.number(name, index) for name in walls]
        known = [thickness for thickness in thicknesses if thickness is not None]
        if len(known) == len(walls) and sum(known) >= outer:
            yield sections.problem(
                index,
                walls[known.index(max(known))],
                expected=f"walls that leave a marrow space within {outer_name}"
                f" ({sections.written[outer_name][index]})",
                mend="Look the walls and the outer diameter up again.",
            )


def body_rules(bodies: TableCells) -> Iterator[Problem]:
    """Check that repeats of one model agree on scale and state, and armatures fit in."""
    models: dict[str, list[int]] = {}
    for index in bodies.sound_rows():
        models.setdefault(bodies.text("bodyID", index) or "", []).append(index)
        armature = bodies.number("armatureVolume", index)
        volume = bodies.number("measurementValue", index)
        if armature is not None and volume is not None and armature >= volume:
            yield bodies.problem(
                index,
                "armatureVolume",
                expected="less than the volume displaced",
                mend="Look both up again; the armature is part of the volume displaced.",
            )
    for model, indices in models.items():
        for column in ("scaleDenominator", "bodyState") if model else ():
            values = [(index, bodies.columns[column][index]) for index in indices]
            known = [(index, value) for index, value in values if value is not None]
            if len({value for _, value in known}) < 2:
                continue
            usual = Counter(value for _, value in known).most_common(1)[0][0]
            pattern = next(index for index, value in known if value == usual)
            for index, value in known:
                if value != usual:
                    yield bodies.problem(
                        index,
                        column,
                        expected=f"'{bodies.written[column][pattern]}', as other readings of"
                        f" {model} ({bodies.place(pattern)})",
                        mend="Mend the row that is wrong, or give the other model its own name.",
                    )
