"""The body plan that comes with the program: a ground bird, as rows a study may replace.

The proportions are this program's own judgement of a heavy walking bird, made from the
general build of fowl, rails and emus; no publication stands behind them (common practice).
A study's own rows for a segment replace the segment's rows here.
"""

import math
from typing import Final

from bonewright.study.model import BodyHoop, BodySegment, Tissue

__all__ = ["GROUND_BIRD_HOOPS", "GROUND_BIRD_SEGMENTS", "TISSUES"]

_OUTLINES: Final[dict[str, tuple[tuple[str, str] | None, tuple[tuple[float, ...], ...]]]] = {
    # segment: (bone measurement, hoops: station, half-width, dorsal, ventral, exponents)
    "trunk": (
        ("pelvis", "AA"),
        (
            (0.00, 0.00, 0.00, 0.00, 2.0, 2.0),
            (0.12, 0.55, 0.45, 0.55, 2.0, 2.0),
            (0.30, 1.00, 0.66, 1.10, 2.2, 2.0),
            (0.50, 1.22, 0.74, 1.52, 2.2, 2.1),
            (0.70, 1.28, 0.75, 1.70, 2.2, 2.0),
            (0.87, 1.00, 0.60, 1.30, 2.1, 1.9),
            (1.00, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "neck base": (
        ("skull", "GB"),
        (
            (-0.40, 0.00, 0.00, 0.00, 2.0, 2.0),
            (0.00, 1.00, 0.95, 1.10, 2.0, 2.0),
            (0.50, 0.74, 0.76, 0.86, 2.0, 2.0),
            (1.00, 0.58, 0.60, 0.64, 2.0, 2.0),
            (1.25, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "neck middle": (
        ("skull", "GB"),
        (
            (0.00, 0.58, 0.60, 0.64, 2.0, 2.0),
            (0.50, 0.52, 0.54, 0.56, 2.0, 2.0),
            (1.00, 0.48, 0.50, 0.52, 2.0, 2.0),
            (1.22, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "neck top": (
        ("skull", "GB"),
        (
            (0.00, 0.48, 0.50, 0.52, 2.0, 2.0),
            (0.50, 0.46, 0.48, 0.50, 2.0, 2.0),
            (1.00, 0.44, 0.44, 0.44, 2.0, 2.0),
            (1.28, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "head": (
        ("skull", "GB"),
        (
            (0.00, 0.00, 0.00, 0.00, 2.0, 2.0),
            (0.25, 0.52, 0.46, 0.50, 2.0, 2.0),
            (0.55, 0.54, 0.46, 0.54, 2.0, 2.0),
            (0.85, 0.38, 0.34, 0.44, 2.0, 2.0),
            (1.00, 0.30, 0.28, 0.40, 2.0, 2.0),
            (1.14, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "beak": (
        ("skull", "GB"),
        (
            (-0.15, 0.00, 0.00, 0.00, 2.0, 2.0),
            (0.02, 0.28, 0.30, 0.38, 2.0, 2.0),
            (0.50, 0.20, 0.27, 0.32, 2.0, 2.0),
            (0.85, 0.10, 0.18, 0.17, 2.0, 2.0),
            (1.00, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "thigh": (
        ("femur", "GL"),
        (
            (0.00, 0.20, 0.36, 0.40, 2.0, 2.0),
            (0.35, 0.24, 0.42, 0.46, 2.2, 2.2),
            (0.70, 0.21, 0.34, 0.38, 2.1, 2.1),
            (0.92, 0.17, 0.25, 0.28, 2.0, 2.0),
            (1.12, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "shank": (
        ("tibiotarsus", "GL"),
        (
            (-0.07, 0.000, 0.000, 0.000, 2.0, 2.0),
            (0.03, 0.100, 0.125, 0.145, 2.0, 2.0),
            (0.22, 0.115, 0.140, 0.185, 2.1, 2.1),
            (0.50, 0.085, 0.100, 0.135, 2.0, 2.0),
            (0.78, 0.052, 0.062, 0.075, 2.0, 2.0),
            (0.99, 0.056, 0.060, 0.064, 2.2, 2.2),
            (1.06, 0.000, 0.000, 0.000, 2.0, 2.0),
        ),
    ),
    "foot": (
        ("tarsometatarsus", "GL"),
        (
            (-0.10, 0.000, 0.000, 0.000, 2.0, 2.0),
            (0.02, 0.110, 0.110, 0.125, 2.2, 2.2),
            (0.30, 0.092, 0.092, 0.105, 2.2, 2.2),
            (0.75, 0.092, 0.085, 0.095, 2.2, 2.2),
            (0.96, 0.135, 0.110, 0.110, 2.2, 2.2),
            (1.08, 0.000, 0.000, 0.000, 2.0, 2.0),
        ),
    ),
    "middle toe": (
        None,
        (
            (-0.15, 0.0, 0.0, 0.0, 2.0, 2.0),
            (0.0, 0.13, 0.13, 0.13, 2.2, 2.4),
            (0.5, 0.10, 0.10, 0.10, 2.2, 2.4),
            (0.85, 0.07, 0.07, 0.08, 2.0, 2.0),
            (1.0, 0.0, 0.0, 0.0, 2.0, 2.0),
        ),
    ),
    "inner toe": (
        None,
        (
            (-0.15, 0.0, 0.0, 0.0, 2.0, 2.0),
            (0.0, 0.15, 0.15, 0.15, 2.2, 2.4),
            (0.5, 0.12, 0.12, 0.12, 2.2, 2.4),
            (0.85, 0.08, 0.08, 0.09, 2.0, 2.0),
            (1.0, 0.0, 0.0, 0.0, 2.0, 2.0),
        ),
    ),
    "outer toe": (
        None,
        (
            (-0.15, 0.0, 0.0, 0.0, 2.0, 2.0),
            (0.0, 0.15, 0.15, 0.15, 2.2, 2.4),
            (0.5, 0.12, 0.12, 0.12, 2.2, 2.4),
            (0.85, 0.08, 0.08, 0.09, 2.0, 2.0),
            (1.0, 0.0, 0.0, 0.0, 2.0, 2.0),
        ),
    ),
    "hind toe": (
        None,
        (
            (-0.15, 0.0, 0.0, 0.0, 2.0, 2.0),
            (0.0, 0.22, 0.22, 0.22, 2.2, 2.4),
            (0.5, 0.17, 0.17, 0.17, 2.2, 2.4),
            (0.85, 0.11, 0.11, 0.12, 2.0, 2.0),
            (1.0, 0.0, 0.0, 0.0, 2.0, 2.0),
        ),
    ),
    "upper wing": (
        None,
        (
            (-0.15, 0.00, 0.00, 0.00, 2.0, 2.0),
            (0.02, 0.14, 0.22, 0.22, 2.0, 2.0),
            (0.40, 0.13, 0.20, 0.20, 2.0, 2.0),
            (1.00, 0.09, 0.13, 0.13, 2.0, 2.0),
            (1.14, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "forearm": (
        None,
        (
            (0.00, 0.13, 0.18, 0.18, 2.0, 2.0),
            (0.40, 0.12, 0.17, 0.17, 2.0, 2.0),
            (1.00, 0.09, 0.11, 0.11, 2.0, 2.0),
            (1.13, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "hand": (
        None,
        (
            (0.00, 0.14, 0.18, 0.18, 2.0, 2.0),
            (0.60, 0.10, 0.13, 0.13, 2.0, 2.0),
            (1.00, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
    "tail": (
        None,
        (
            (0.00, 0.44, 0.36, 0.44, 2.0, 2.0),
            (0.60, 0.28, 0.22, 0.26, 2.0, 2.0),
            (1.00, 0.00, 0.00, 0.00, 2.0, 2.0),
        ),
    ),
}


def _hoops() -> tuple[BodyHoop, ...]:
    return tuple(
        BodyHoop(
            ref=None,
            segment=segment,
            station=station,
            element=None if bone is None else bone[0],
            code=None if bone is None else bone[1],
            half_width_ratio=half_width,
            dorsal_ratio=dorsal,
            ventral_ratio=ventral,
            tissue_mm=0.0,
            dorsal_exponent=dorsal_exponent,
            ventral_exponent=ventral_exponent,
        )
        for segment, (bone, hoops) in _OUTLINES.items()
        for station, half_width, dorsal, ventral, dorsal_exponent, ventral_exponent in hoops
    )


def _segment(
    segment: str,
    parent: str | None,
    *,
    sides: str = "midline",
    length: tuple[str, str, float],
    attach: tuple[float, float, float] = (1.0, 0.0, 0.0),
    angle: tuple[float, float, float],
    splay: float = 0.0,
    bend: float = 0.0,
    balance: float = 0.0,
    on_ground: bool = False,
    bone: float = 5.0,
    air: float = 0.0,
    fat: float = 1.0,
    plumage: float = 0.0,
) -> BodySegment:
    best, low, high = (math.radians(degrees) for degrees in angle)
    return BodySegment(
        ref=None,
        segment=segment,
        parent=parent,
        sides=sides,
        element=length[0],
        code=length[1],
        length_ratio=length[2],
        attach_along=attach[0],
        attach_up=attach[1],
        attach_out=attach[2],
        angle_rad=best,
        angle_low_rad=low,
        angle_high_rad=high,
        splay_rad=math.radians(splay),
        bend_rad=math.radians(bend),
        balance=balance,
        on_ground=on_ground,
        bone_percent=bone,
        air_percent=air,
        fat_share=fat,
        plumage_percent=plumage,
    )


GROUND_BIRD_SEGMENTS: Final[tuple[BodySegment, ...]] = (
    _segment(
        "trunk",
        None,
        length=("pelvis", "LV", 2.3),
        angle=(15, -20, 60),
        bone=5,
        air=16,
        plumage=22,
    ),
    _segment(
        "neck base",
        "trunk",
        length=("tibiotarsus", "GL", 0.36),
        attach=(0.92, 0.02, 0.0),
        angle=(42, -60, 100),
        bend=22,
        bone=10,
        air=2,
        plumage=30,
    ),
    _segment(
        "neck middle",
        "neck base",
        length=("tibiotarsus", "GL", 0.36),
        angle=(0, -40, 40),
        bend=-5,
        bone=12,
        air=2,
        fat=0.5,
        plumage=35,
    ),
    _segment(
        "neck top",
        "neck middle",
        length=("tibiotarsus", "GL", 0.30),
        angle=(0, -40, 40),
        bend=-30,
        bone=12,
        air=2,
        fat=0.3,
        plumage=35,
    ),
    _segment(
        "head",
        "neck top",
        length=("skull", "GL", 0.55),
        attach=(0.90, -0.02, 0.0),
        angle=(-44, -110, 20),
        bone=25,
        air=3,
        fat=0.0,
        plumage=12,
    ),
    _segment(
        "beak",
        "head",
        length=("mandible", "GL", 0.62),
        attach=(0.96, -0.03, 0.0),
        angle=(-6, -15, 15),
        bend=-16,
        bone=45,
        air=3,
        fat=0.0,
    ),
    _segment(
        "thigh",
        "trunk",
        sides="paired",
        length=("femur", "GL", 1.0),
        attach=(0.36, 0.02, 0.125),
        angle=(-50, -125, -5),
        splay=8,
        bone=6,
        plumage=14,
    ),
    _segment(
        "shank",
        "thigh",
        sides="paired",
        length=("tibiotarsus", "GL", 1.0),
        angle=(-80, -150, -5),
        splay=-8,
        balance=1.0,
        bone=9,
        fat=0.5,
        plumage=10,
    ),
    _segment(
        "foot",
        "shank",
        sides="paired",
        length=("tarsometatarsus", "GL", 1.0),
        angle=(35, 5, 150),
        balance=-1.0,
        bone=32,
        fat=0.0,
    ),
    _segment(
        "middle toe",
        "foot",
        sides="paired",
        length=("tarsometatarsus", "GL", 0.62),
        attach=(0.98, 0.0, 0.0),
        angle=(80, 20, 130),
        on_ground=True,
        bone=28,
        fat=0.0,
    ),
    _segment(
        "inner toe",
        "foot",
        sides="paired",
        length=("tarsometatarsus", "GL", 0.46),
        attach=(0.98, 0.0, -0.08),
        angle=(80, 20, 130),
        splay=-22,
        on_ground=True,
        bone=28,
        fat=0.0,
    ),
    _segment(
        "outer toe",
        "foot",
        sides="paired",
        length=("tarsometatarsus", "GL", 0.50),
        attach=(0.98, 0.0, 0.08),
        angle=(80, 20, 130),
        splay=24,
        on_ground=True,
        bone=28,
        fat=0.0,
    ),
    _segment(
        "hind toe",
        "foot",
        sides="paired",
        length=("tarsometatarsus", "GL", 0.24),
        attach=(0.96, -0.04, 0.0),
        angle=(-98, -150, -20),
        bone=28,
        fat=0.0,
    ),
    _segment(
        "upper wing",
        "trunk",
        sides="paired",
        length=("humerus", "GL", 1.0),
        attach=(0.86, -0.03, 0.235),
        splay=12,
        angle=(-175, -190, 30),
        bone=9,
        air=4,
        fat=0.5,
        plumage=25,
    ),
    _segment(
        "forearm",
        "upper wing",
        sides="paired",
        length=("ulna", "GL", 1.0),
        angle=(150, 0, 170),
        bone=12,
        fat=0.2,
        plumage=25,
    ),
    _segment(
        "hand",
        "forearm",
        sides="paired",
        length=("ulna", "GL", 0.75),
        angle=(-140, -170, 0),
        bone=15,
        fat=0.0,
        plumage=25,
    ),
    _segment(
        "tail",
        "trunk",
        length=("pelvis", "LV", 0.36),
        attach=(0.07, 0.0, 0.0),
        angle=(175, 120, 220),
        bone=8,
        plumage=60,
    ),
)

GROUND_BIRD_HOOPS: Final[tuple[BodyHoop, ...]] = _hoops()


def _tissue(tissue: str, density: float, low: float, high: float) -> Tissue:
    return Tissue(ref=None, tissue=tissue, density_kg_m3=density, low_kg_m3=low, high_kg_m3=high)


# Fat, muscle and skin: ranges printed by a table of densities of tissues (secondary); bone is
# whole bone with its marrow (common practice); air is no more than its own weight.
TISSUES: Final[tuple[Tissue, ...]] = (
    _tissue("muscle", 1050.0, 1038.0, 1060.0),
    _tissue("fat", 920.0, 901.0, 939.0),
    _tissue("skin", 1120.0, 1090.0, 1190.0),
    _tissue("bone", 1400.0, 1200.0, 1700.0),
)
