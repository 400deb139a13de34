"""200 random ring-shaped outlines against a general section-analysis library."""

import csv
import math
import tomllib
from functools import cache
from pathlib import Path

import pytest

from bonewright.sections.outline import traced_outline
from bonewright.sections.shape import Ring, SectionProperties
from bonewright.sections.torsion import torsion_constant

HERE = Path(__file__).parent
SOURCE = tomllib.loads((HERE / "source.toml").read_text(encoding="utf-8"))
TOLERANCE = float(SOURCE["tolerance"]["relative"])
N_POINTS = 48
# Property of ours, and the columns of the library whose least it is.
COLUMNS = {
    "area_mm2": ("area",),
    "second_moment_mediolateral_mm4": ("ixx",),
    "second_moment_anteroposterior_mm4": ("iyy",),
    "greatest_moment_mm4": ("i11",),
    "least_moment_mm4": ("i22",),
    "section_modulus_mediolateral_mm3": ("zx_upper", "zx_lower"),
    "section_modulus_anteroposterior_mm3": ("zy_right", "zy_left"),
    "section_modulus_greatest_mm3": ("z11",),
    "section_modulus_least_mm3": ("z22",),
}


@cache
def outlines() -> tuple[dict[str, float], ...]:
    with (HERE / "values.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            {name: float(value) for name, value in row.items()} for row in csv.DictReader(file)
        )


def rings(made: dict[str, float]) -> tuple[Ring, Ring]:
    """Draw an outline by its recipe: an ellipse with three waves, and a hole with one."""
    outer, hole = [], []
    for place in range(N_POINTS):
        angle = 2 * math.pi * place / N_POINTS
        wave = 1 + sum(made[f"wave{n}"] * math.cos(n * angle + made[f"turn{n}"]) for n in (2, 3, 5))
        outer.append((made["a"] * wave * math.cos(angle), made["b"] * wave * math.sin(angle)))
        wave = made["hollow"] * (1 + made["hole_wave"] * math.cos(3 * angle + made["hole_turn"]))
        hole.append(
            (
                made["hole_x"] + made["a"] * wave * math.cos(angle),
                made["hole_y"] + made["b"] * wave * math.sin(angle),
            )
        )
    return tuple(outer), tuple(hole)


@cache
def ours() -> tuple[SectionProperties, ...]:
    return tuple(traced_outline(rings(made)) for made in outlines())


def test_there_are_200_outlines() -> None:
    assert len(outlines()) == 200


@pytest.mark.parametrize("name", COLUMNS)
def test_every_outline_has_the_librarys_property(name: str) -> None:
    for made, found in zip(outlines(), ours(), strict=True):
        theirs = min(made[column] for column in COLUMNS[name])
        assert getattr(found, name) == pytest.approx(theirs, rel=1e-7)


def test_every_outline_has_the_librarys_centroid_and_product_moment() -> None:
    for made, found in zip(outlines(), ours(), strict=True):
        assert found.centroid_mm == pytest.approx((made["x"], made["y"]), abs=1e-7 * made["a"])
        assert found.product_moment_mm4 == pytest.approx(made["ixy"], abs=1e-7 * made["ixx"])


def test_every_outline_has_the_librarys_torsion_constant() -> None:
    for made in outlines():
        assert torsion_constant(rings(made)) == pytest.approx(made["j"], rel=TOLERANCE)
