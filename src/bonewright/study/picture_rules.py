"""Rules of pictures and the marks on them: readable files, points inside, each point once."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.faults import Fault
from bonewright.study.pictures import PictureFacts, picture_facts
from bonewright.study.schemas import OUTLINE
from bonewright.study.table_cells import TableCells

__all__ = ["landmark_rules", "look_at_pictures", "scale_rules"]

FindFile = Callable[[Path, str], tuple[Path | None, str, str]]
_FEWEST_OUTLINE_POINTS = 3


def look_at_pictures(
    pictures: TableCells, folder: Path, find_file: FindFile
) -> tuple[dict[int, PictureFacts], list[Problem]]:
    """Look at each picture file: what it is by row index, and what is wrong with others."""
    facts: dict[int, PictureFacts] = {}
    problems: list[Problem] = []
    for index in pictures.sound_rows():
        name = pictures.text("pictureFile", index)
        if name is None:
            continue
        path, expected, mend = find_file(folder, name)
        found = Fault(expected=expected, mend=mend) if path is None else picture_facts(path)
        if isinstance(found, Fault):
            problems.append(
                pictures.problem(index, "pictureFile", expected=found.expected, mend=found.mend)
            )
        else:
            facts[index] = found
    return facts, problems


def scale_rules(pictures: TableCells) -> Iterator[Problem]:
    """Check that a scale has its unit and the other way round."""
    for index in pictures.sound_rows():
        filled = {c: pictures.filled(c, index) for c in ("scaleLength", "scaleUnit")}
        if sum(filled.values()) == 1:
            missing = next(column for column, is_filled in filled.items() if not is_filled)
            yield pictures.problem(
                index,
                missing,
                expected="a scale with its unit, or neither",
                mend="Fill in both cells or empty both.",
            )


def landmark_rules(
    marks: TableCells,
    pictures: TableCells,
    rows: Mapping[str, int],
    facts: Mapping[int, PictureFacts],
) -> Iterator[Problem]:
    """Check that points lie on their picture, that none is marked twice, and outlines' order.

    Parameters
    ----------
    rows : mapping from picture to its row's index
    facts : mapping from that index to what its file is
    """
    first: dict[tuple[str, ...], int] = {}
    outlines: dict[tuple[str, ...], dict[int, int]] = defaultdict(dict)
    for index in marks.sound_rows():
        picture, name = marks.text("pictureID", index), marks.text("landmark", index)
        if picture is None or name is None:
            continue
        row = rows.get(picture)
        if row is not None:
            yield from _inside(marks, index, pictures=pictures, row=row, facts=facts)
        order = marks.columns["pointOrder"][index]
        place = (
            picture,
            marks.written["measurementDeterminedBy"][index],
            marks.written["markingRound"][index],
        )
        if (name == OUTLINE) != isinstance(order, int):
            if not marks.filled("pointOrder", index) or isinstance(order, int):
                yield marks.problem(
                    index,
                    "pointOrder",
                    expected="a number for points of the outline, and none for others",
                    mend="Number the outline's points 1, 2, 3 … along it.",
                )
            continue
        earlier = first.setdefault((*place, name, str(order)), index)
        if earlier != index:
            yield marks.problem(
                index,
                "landmark",
                expected="each point once a round",
                mend=f"{marks.place(earlier)} marks it already: delete one of the two, or give"
                " this one its own round.",
            )
        elif isinstance(order, int):
            outlines[place][order] = index
    for points in outlines.values():
        last = max(points)
        if len(points) != last or last < _FEWEST_OUTLINE_POINTS:
            gap = next((n for n in range(1, last + 1) if n not in points), last + 1)
            yield marks.problem(
                points[last],
                "pointOrder",
                expected=f"an outline of three points or more, numbered without gaps (there is no"
                f" point {gap})",
                mend="Mend the number, or trace the outline anew.",
            )


def _inside(
    marks: TableCells,
    index: int,
    *,
    pictures: TableCells,
    row: int,
    facts: Mapping[int, PictureFacts],
) -> Iterator[Problem]:
    if row not in facts:
        if not pictures.filled("pictureFile", row):
            yield marks.problem(
                index,
                "pictureID",
                expected="a picture with a file",
                mend=f"Name the file in {pictures.place(row)}, or mend the picture's name here.",
            )
        return
    limits = {"xPixel": facts[row].width_px, "yPixel": facts[row].height_px}
    for column, most in limits.items():
        value = marks.number(column, index)
        if value is not None and value > most:
            yield marks.problem(
                index,
                column,
                expected=f"a point on the picture, 0 to {most} px",
                mend="Mark the point anew on the page, or mend the number.",
            )
