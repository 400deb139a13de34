"""Marks on pictures: one configuration of points a picture, how well marks repeat, doubts.

Marks are averaged over an observer's rounds, then over observers. How far marks of one
point lie apart is kept as the repeat error, within an observer (between rounds) and
between observers; it goes into every measure taken from a picture.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import Doubt, RowRef
from bonewright.study.model import Landmark, Picture
from bonewright.testimony.decisions import Decisions

__all__ = ["MarkedPicture", "doubt_marks", "mark_pictures"]

_Array = NDArray[np.float64]

# Marks of one point this many repeat errors apart, and this share of the picture's marked
# height, are a slip: both limits must be passed.
_APART_ERRORS = 6.0
_APART_SHARE = 0.04
_OUTLINE_STEP = 6.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MarkedPicture:
    """A picture's points in px, y upwards.

    ``points`` maps a name to its mean place (2,); ``outline`` is (n, 2), empty if none was
    traced. ``error_px`` is the standard deviation of one coordinate of one mark, pooled over
    repeats, and ``n_repeats`` counts the pairs it rests on (0: none, so no error is known).
    """

    picture: Picture
    points: Mapping[str, _Array]
    outline: _Array
    error_px: float
    n_repeats: int
    observers: tuple[str, ...]
    refs: tuple[RowRef, ...]


def mark_pictures(
    pictures: Sequence[Picture], marks: Sequence[Landmark]
) -> tuple[MarkedPicture, ...]:
    """Join each picture with its marks; pictures without any are left out."""
    by_picture: dict[str, list[Landmark]] = defaultdict(list)
    for mark in marks:
        by_picture[mark.picture_id].append(mark)
    return tuple(
        _marked(picture, by_picture[picture.picture_id])
        for picture in pictures
        if picture.picture_id in by_picture
    )


def _marked(picture: Picture, marks: Sequence[Landmark]) -> MarkedPicture:
    height = float(picture.height_px or 0)
    places: dict[str, dict[str, list[_Array]]] = defaultdict(lambda: defaultdict(list))
    outlines: dict[tuple[str, int], list[Landmark]] = defaultdict(list)
    for mark in marks:
        if mark.order is None:
            place = np.array([mark.x_px, height - mark.y_px])
            places[mark.name][mark.observer].append(place)
        else:
            outlines[mark.observer, mark.marking_round].append(mark)
    squares, n_repeats = _repeat_squares(places)
    first = min(outlines) if outlines else None
    traced = [] if first is None else sorted(outlines[first], key=lambda mark: mark.order or 0)
    return MarkedPicture(
        picture=picture,
        points={
            name: np.mean([np.mean(rounds, axis=0) for rounds in by_observer.values()], axis=0)
            for name, by_observer in places.items()
        },
        outline=np.array([[m.x_px, height - m.y_px] for m in traced]).reshape(-1, 2),
        error_px=float(np.sqrt(squares / (2 * n_repeats))) if n_repeats else 0.0,
        n_repeats=n_repeats,
        observers=tuple(sorted({mark.observer for mark in marks})),
        refs=tuple(mark.ref for mark in marks),
    )


def _repeat_squares(
    places: Mapping[str, Mapping[str, Sequence[_Array]]],
) -> tuple[float, int]:
    """Pool squares about each point's mean over all its marks: sum over x and y, and df."""
    squares, freedom = 0.0, 0
    for by_observer in places.values():
        every = np.array([place for rounds in by_observer.values() for place in rounds])
        if len(every) > 1:
            squares += float(np.sum((every - every.mean(axis=0)) ** 2))
            freedom += len(every) - 1
    return squares, freedom


def doubt_marks(
    pictures: Sequence[Picture], marks: Sequence[Landmark], decisions: Decisions
) -> list[Doubt]:
    """Doubt marks made on another file, repeats far apart, and outlines that leap."""
    by_id = {picture.picture_id: picture for picture in pictures}
    used = [mark for mark in marks if decisions.of(mark.ref) != "set aside"]
    doubts = _on_another_file(by_id, used, decisions)
    groups: dict[str, list[Landmark]] = defaultdict(list)
    for mark in used:
        groups[mark.picture_id].append(mark)
    typical = _typical_spread(groups)
    for of_picture in groups.values():
        height = float(np.ptp([mark.y_px for mark in of_picture]))
        doubts += _repeats_apart(of_picture, typical=typical, height=height, decisions=decisions)
        doubts += _leaping_outline(of_picture, decisions)
    return doubts


def _on_another_file(
    by_id: Mapping[str, Picture], marks: Sequence[Landmark], decisions: Decisions
) -> list[Doubt]:
    return [
        decisions.doubt(
            mark.ref,
            column="pictureChecksum",
            kind="marked on another file",
            found=f"{mark.checksum[:12]}…",
            expected=f"{checksum[:12]}…, the checksum of {by_id[mark.picture_id].file}",
            mend="The file was replaced since it was marked, or the mark belongs to another"
            " picture. Mark the picture anew, or keep the mark by decision.",
            grave=True,
        )
        for mark in marks
        if mark.picture_id in by_id
        and mark.checksum is not None
        and (checksum := by_id[mark.picture_id].checksum) is not None
        and mark.checksum.casefold() != checksum
    ]


def _typical_spread(groups: Mapping[str, Sequence[Landmark]]) -> float:
    """Return the median distance between repeats of a point over all pictures, in px."""
    distances = []
    for marks in groups.values():
        for repeats in _by_name(marks).values():
            distances += [float(d) for d in _distances(repeats)]
    return float(np.median(distances)) if distances else 0.0


def _by_name(marks: Sequence[Landmark]) -> dict[str, list[Landmark]]:
    named: dict[str, list[Landmark]] = defaultdict(list)
    for mark in marks:
        if mark.order is None:
            named[mark.name].append(mark)
    return {name: repeats for name, repeats in named.items() if len(repeats) > 1}


def _distances(repeats: Sequence[Landmark]) -> _Array:
    """Return each mark's distance from the median of the others, in px."""
    places = np.array([[mark.x_px, mark.y_px] for mark in repeats])
    if len(repeats) == 2:
        return np.full(2, float(np.hypot(*(places[0] - places[1]))))
    others = [np.median(np.delete(places, i, axis=0), axis=0) for i in range(len(places))]
    return np.asarray(np.hypot(*(places - np.array(others)).T), dtype=np.float64)


def _repeats_apart(
    marks: Sequence[Landmark], *, typical: float, height: float, decisions: Decisions
) -> list[Doubt]:
    limit = max(_APART_ERRORS * typical, _APART_SHARE * height)
    doubts = []
    for name, repeats in _by_name(marks).items():
        distances = _distances(repeats)
        if distances.max() <= limit:
            continue
        # Of two that disagree neither can be believed; of three or more the odd one is known.
        odd = [
            mark
            for mark, distance in zip(repeats, distances, strict=True)
            if distance > limit and (len(repeats) == 2 or distance == distances.max())
        ]
        doubts += [
            decisions.doubt(
                mark.ref,
                column="xPixel",
                kind="repeated marks far apart",
                found=f"{name} at {mark.x_px:g}, {mark.y_px:g} px, {distances.max():.0f} px from"
                " the other marks of it",
                expected=f"marks of one point within {limit:.0f} px",
                mend="Mark the point again on the page.",
                grave=True,
            )
            for mark in odd
        ]
    return doubts


def _leaping_outline(marks: Sequence[Landmark], decisions: Decisions) -> list[Doubt]:
    traced: dict[tuple[str, int], list[Landmark]] = defaultdict(list)
    for mark in marks:
        if mark.order is not None:
            traced[mark.observer, mark.marking_round].append(mark)
    doubts = []
    for outline in traced.values():
        ordered = sorted(outline, key=lambda mark: mark.order or 0)
        places = np.array([[mark.x_px, mark.y_px] for mark in ordered])
        steps = np.hypot(*(np.roll(places, -1, axis=0) - places).T)
        limit = _OUTLINE_STEP * float(np.median(steps))
        for index, mark in enumerate(ordered):
            if len(ordered) > 4 and min(steps[index], steps[index - 1]) > limit:
                doubts.append(
                    decisions.doubt(
                        mark.ref,
                        column="xPixel",
                        kind="outline leaps",
                        found=f"point {mark.order} at {mark.x_px:g}, {mark.y_px:g} px",
                        expected=f"steps of the order of {np.median(steps):.0f} px",
                        mend="Trace this stretch of the outline again.",
                        grave=True,
                    )
                )
    return doubts
