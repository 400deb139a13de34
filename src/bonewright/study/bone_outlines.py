"""The points of the bone drawings: outlines, and where each measurement is taken.

Units are those of the drawing; y grows downwards, the proximal end of a limb bone is at
the top. The module is long because it is a list of points, not logic.
"""

from dataclasses import dataclass

__all__ = ["VIEWS", "Mark", "Point", "View"]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A measurement: from ``start`` to ``end``, or ``around`` a shaft between the two."""

    code: str
    start: Point
    end: Point
    label: Point | None = None
    around: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A bone from one side: closed outlines and the measurements that show there."""

    title: str
    width: float
    height: float
    outlines: tuple[tuple[Point, ...], ...]
    marks: tuple[Mark, ...]


def _ring(points: str) -> tuple[Point, ...]:
    """Return an outline from 'x,y x,y ...'."""
    pairs = (pair.split(",") for pair in points.split())
    return tuple((float(x), float(y)) for x, y in pairs)


def _across(code: str, y: float, left: float, right: float, *, around: bool = False) -> Mark:
    """Return a breadth at height y, its label to the right."""
    return Mark(
        code=code, start=(left, y), end=(right, y), label=(right + 11, y + 3), around=around
    )


def _along(code: str, x: float, top: float, bottom: float) -> Mark:
    """Return a length beside the bone, its label across the line."""
    return Mark(code=code, start=(x, top), end=(x, bottom), label=(x, (top + bottom) / 2))


def _shaft(*halves: tuple[float, float], middle: float) -> tuple[Point, ...]:
    """Return a closed outline from (y, half-width) pairs about a middle line."""
    left = [(middle - half, y) for y, half in halves]
    right = [(middle + half, y) for y, half in reversed(halves)]
    return (*left, *right)


_SHAFT_MARKS = (
    _across("SC", 92, 42, 58),
    _across("CD", 106, 42, 58, around=True),
    _across("Bm", 76, 41.5, 58.5),
)
_FEMUR = _ring(
    "30,10 38,2 48,6 56,4 64,0 71,8 68,24 60,40 58,70 58,100 "
    "61,124 70,138 72,152 62,158 54,151 46,158 34,156 30,144 "
    "38,126 42,100 42,70 40,40 33,24"
)
_TIBIOTARSUS = _ring(
    "48,0 57,3 70,12 72,22 63,32 66,44 60,58 58,90 58,122 60,138 "
    "66,148 65,158 56,160 50,154 44,160 35,158 34,148 40,138 "
    "42,122 42,90 40,58 36,36 30,22 33,12 42,6"
)
_TARSOMETATARSUS = _ring(
    "34,6 42,8 50,2 58,8 66,6 69,16 62,28 58,60 58,100 61,124 "
    "71,138 70,148 64,150 60,142 57,152 50,158 43,152 40,142 "
    "36,150 30,148 29,138 39,124 42,100 42,60 38,28 31,16"
)
_HUMERUS = _ring(
    "40,4 52,0 64,6 72,18 70,34 62,44 58,70 58,100 61,126 69,140 "
    "67,152 58,157 50,152 42,157 33,152 32,140 39,126 42,100 42,70 "
    "36,44 29,30 31,14"
)
_ULNA = _ring(
    "48,0 56,6 64,14 64,26 58,40 57,80 57,120 62,140 62,152 52,158 "
    "40,154 38,142 43,120 43,80 40,40 35,24 38,12"
)
_RADIUS = _shaft(
    (0, 3), (4, 9), (12, 9), (22, 6), (80, 5), (130, 6), (146, 11), (156, 11), (159, 5), middle=50
)


def _side(half_top: float, half_shaft: float, half_bottom: float) -> tuple[Point, ...]:
    return _shaft(
        (0, half_top * 0.5),
        (8, half_top),
        (20, half_top * 0.9),
        (44, half_shaft),
        (112, half_shaft),
        (136, half_bottom * 0.8),
        (148, half_bottom),
        (158, half_bottom * 0.5),
        middle=28,
    )


def _side_view(half_top: float, half_bottom: float, *, top: str, bottom: str) -> View:
    marks = [_across("Dm", 76, 28 - 7.5, 28 + 7.5)]
    if top:
        marks.append(_across(top, 11, 28 - half_top, 28 + half_top))
    if bottom:
        marks.append(_across(bottom, 148, 28 - half_bottom, 28 + half_bottom))
    return View(
        title="from the side",
        width=66,
        height=164,
        outlines=(_side(half_top, 7.5, half_bottom),),
        marks=tuple(marks),
    )


VIEWS: dict[str, tuple[View, ...]] = {
    "skull": (
        View(
            title="from the side",
            width=186,
            height=92,
            outlines=(
                _ring(
                    "4,62 30,46 64,38 84,34 104,14 136,6 164,16 176,38 172,58 "
                    "158,66 140,68 112,66 84,62 60,64 30,66"
                ),
                _ring("112,34 128,28 140,38 132,52 116,50"),
            ),
            marks=(
                Mark(code="GL", start=(4, 86), end=(176, 86), label=(92, 84)),
                Mark(code="CBL", start=(4, 76), end=(160, 76), label=(70, 75)),
                Mark(code="GH", start=(148, 6), end=(148, 68), label=(160, 30)),
                Mark(code="LI", start=(4, 30), end=(82, 30), label=(42, 27)),
                Mark(code="LP", start=(74, 2), end=(172, 2), label=(96, 0)),
            ),
        ),
        View(
            title="from above",
            width=108,
            height=150,
            outlines=(
                _ring(
                    "48,2 54,30 58,60 60,74 66,82 74,92 68,98 72,112 66,130 48,140 "
                    "30,130 24,112 28,98 22,92 30,82 36,74 38,60 42,30"
                ),
            ),
            marks=(
                _across("SBO", 76, 35, 61),
                _across("GBP", 92, 22, 74),
                _across("GB", 113, 24, 72),
            ),
        ),
    ),
    "mandible": (
        View(
            title="from above",
            width=120,
            height=156,
            outlines=(
                _ring(
                    "55,4 63,20 76,70 88,120 92,136 84,146 78,136 70,80 58,40 "
                    "55,36 52,40 40,80 32,136 26,146 18,136 22,120 34,70 47,20"
                ),
            ),
            marks=(
                _along("GL", 108, 4, 146),
                Mark(code="LaF", start=(96, 4), end=(96, 132), label=(92, 40)),
                Mark(code="LS", start=(55, 4), end=(55, 36), label=(40, 20)),
            ),
        ),
    ),
    "sternum": (
        View(
            title="from the side",
            width=176,
            height=104,
            outlines=(
                _ring("8,34 22,26 60,24 110,26 160,34 164,42 120,48 70,70 34,86 20,82 16,58"),
            ),
            marks=(
                Mark(code="LM", start=(8, 12), end=(164, 12), label=(90, 9)),
                Mark(code="dL", start=(22, 22), end=(162, 30), label=(110, 23)),
                Mark(code="LC", start=(20, 96), end=(158, 56), label=(100, 84)),
            ),
        ),
        View(
            title="from above",
            width=96,
            height=120,
            outlines=(
                _ring(
                    "44,2 62,8 74,4 70,24 60,46 62,90 52,112 44,108 36,112 26,90 "
                    "28,46 18,24 14,4 26,8"
                ),
            ),
            marks=(_across("SBF", 46, 28, 60),),
        ),
    ),
    "coracoid": (
        View(
            title="from the back",
            width=120,
            height=150,
            outlines=(
                _ring(
                    "40,6 50,2 56,12 52,26 54,60 66,96 86,122 80,132 56,134 34,130 "
                    "36,110 40,70 38,30"
                ),
            ),
            marks=(
                Mark(code="GL", start=(24, 4), end=(64, 142), label=(32, 64)),
                Mark(code="Lm", start=(62, 6), end=(96, 118), label=(88, 60)),
                Mark(code="Bb", start=(33, 144), end=(87, 144), label=(98, 147)),
                Mark(code="BF", start=(38, 126), end=(80, 126), label=(60, 123)),
            ),
        ),
    ),
    "scapula": (
        View(
            title="from the side",
            width=176,
            height=58,
            outlines=(
                _ring(
                    "6,16 14,6 26,8 36,16 80,12 130,14 164,26 168,32 140,26 90,26 40,30 24,36 12,32"
                ),
            ),
            marks=(
                Mark(code="GL", start=(6, 48), end=(168, 48), label=(88, 46)),
                Mark(code="Dic", start=(13, 5), end=(25, 37), label=(38, 6)),
            ),
        ),
    ),
    "furcula": (
        View(
            title="from the front",
            width=120,
            height=126,
            outlines=(
                _ring(
                    "14,6 24,4 30,40 44,86 52,98 60,86 74,40 80,4 90,6 84,44 66,96 "
                    "56,116 48,116 38,96 20,44"
                ),
            ),
            marks=(
                _along("GL", 104, 4, 117),
                Mark(code="GB", start=(13, -4), end=(91, -4), label=(52, -6)),
            ),
        ),
    ),
    "humerus": (
        View(
            title="from the back",
            width=104,
            height=164,
            outlines=(_HUMERUS,),
            marks=(
                _along("GL", 12, 0, 157),
                _across("Bp", 26, 29, 71),
                *_SHAFT_MARKS,
                _across("Bd", 144, 32, 69),
            ),
        ),
        _side_view(13, 12, top="Dp", bottom="Dd"),
    ),
    "radius": (
        View(
            title="from the side",
            width=104,
            height=164,
            outlines=(_RADIUS,),
            marks=(
                _along("GL", 22, 0, 159),
                _across("Bp", 8, 41, 59),
                _across("SC", 86, 45, 55),
                _across("CD", 104, 45, 55, around=True),
                _across("Bd", 151, 39, 61),
            ),
        ),
    ),
    "ulna": (
        View(
            title="from the side",
            width=104,
            height=164,
            outlines=(_ULNA,),
            marks=(
                _along("GL", 14, 0, 158),
                Mark(code="Dip", start=(46, -1), end=(62, 29), label=(74, 6)),
                _across("Bp", 22, 35, 65),
                _across("SC", 90, 43, 57),
                _across("CD", 106, 43, 57, around=True),
                Mark(code="Did", start=(37, 142), end=(62, 155), label=(74, 152)),
            ),
        ),
    ),
    "carpometacarpus": (
        View(
            title="from the side",
            width=110,
            height=158,
            outlines=(
                _ring(
                    "44,4 58,2 70,10 68,26 62,36 60,110 66,138 60,150 44,148 "
                    "38,130 30,90 32,50 32,30 28,20 34,10"
                ),
                _ring("50,46 52,80 50,118 42,104 38,80 42,54"),
            ),
            marks=(
                _along("GL", 12, 2, 151),
                _along("L", 96, 6, 146),
                _across("Bp", 18, 28, 70),
                Mark(code="Did", start=(43, 150), end=(66, 134), label=(76, 152)),
            ),
        ),
    ),
    "pelvis": (
        View(
            title="from above",
            width=140,
            height=176,
            outlines=(
                _ring(
                    "60,4 78,18 76,50 70,66 84,82 92,92 84,104 86,130 78,160 "
                    "68,166 60,150 52,166 42,160 34,130 36,104 28,92 36,82 50,66 "
                    "44,50 42,18"
                ),
            ),
            marks=(
                _along("GL", 10, 4, 166),
                Mark(code="LS", start=(116, 4), end=(116, 152), label=(116, 40)),
                _along("LV", 60, 10, 120),
                _across("SB", 60, 48, 72),
                _across("AA", 92, 28, 92),
            ),
        ),
        View(
            title="from the side",
            width=120,
            height=84,
            outlines=(
                _ring("6,24 30,14 60,18 90,24 108,44 98,60 74,54 62,52 48,48 26,38"),
                ((56, 36), (63, 30), (70, 36), (63, 43)),
            ),
            marks=(Mark(code="DiA", start=(55, 36), end=(71, 36), label=(63, 66)),),
        ),
    ),
    "femur": (
        View(
            title="from the front",
            width=104,
            height=166,
            outlines=(_FEMUR,),
            marks=(
                _along("GL", 96, 0, 158),
                _along("Lm", 14, 4, 158),
                _across("Bp", 14, 30, 70),
                *_SHAFT_MARKS,
                _across("Bd", 148, 30, 73),
            ),
        ),
        _side_view(15, 16, top="Dp", bottom="Dd"),
    ),
    "tibiotarsus": (
        View(
            title="from the front",
            width=104,
            height=168,
            outlines=(_TIBIOTARSUS,),
            marks=(
                _along("GL", 90, 0, 160),
                _along("La", 12, 12, 160),
                Mark(code="Dip", start=(31, 26), end=(71, 14), label=(52, 16)),
                *_SHAFT_MARKS,
                _across("Bd", 152, 34, 66),
            ),
        ),
        _side_view(15, 14, top="", bottom="Dd"),
    ),
    "tarsometatarsus": (
        View(
            title="from the front",
            width=104,
            height=166,
            outlines=(_TARSOMETATARSUS,),
            marks=(
                _along("GL", 12, 2, 158),
                _across("Bp", 15, 31, 69),
                *_SHAFT_MARKS,
                _across("Bd", 140, 29, 71),
            ),
        ),
        _side_view(14, 11, top="Dp", bottom="Dd"),
    ),
    "phalanx": (
        View(
            title="from above",
            width=90,
            height=110,
            outlines=(
                _shaft(
                    (2, 8),
                    (8, 15),
                    (20, 14),
                    (44, 9),
                    (68, 9),
                    (86, 13),
                    (96, 13),
                    (100, 7),
                    middle=40,
                ),
            ),
            marks=(
                _along("GL", 10, 2, 100),
                _across("Bp", 12, 25, 55),
                _across("SC", 56, 31, 49),
                _across("Bd", 92, 27, 53),
            ),
        ),
    ),
}
"""The views of each element."""
