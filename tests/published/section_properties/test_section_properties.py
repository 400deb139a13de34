import tomllib
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.outline import traced_outline

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def as_printed(printed: str) -> object:
    places = len(printed.partition(".")[2])
    return pytest.approx(float(printed), abs=0.5 * 10.0**-places)


def test_an_annulus_has_the_handbook_properties() -> None:
    row = SOURCE["annulus"]
    outer, inner = float(row["outer_diameter_mm"]), float(row["inner_diameter_mm"])
    tube = hollow_ellipse(outer, outer, inner_mediolateral_mm=inner, inner_anteroposterior_mm=inner)
    assert tube.area_mm2 == as_printed(row["area_mm2"])
    assert tube.second_moment_mediolateral_mm4 == as_printed(row["second_moment_mm4"])
    assert tube.second_moment_anteroposterior_mm4 == as_printed(row["second_moment_mm4"])
    assert tube.polar_moment_mm4 == as_printed(row["polar_moment_mm4"])
    assert tube.section_modulus_mediolateral_mm3 == as_printed(row["section_modulus_mm3"])


def test_a_hollow_ellipse_has_the_handbook_properties() -> None:
    row = SOURCE["hollow_ellipse"]
    a, b = (2 * float(text) for text in row["semi_axes_outer_mm"])
    a1, b1 = (2 * float(text) for text in row["semi_axes_inner_mm"])
    tube = hollow_ellipse(a, b, inner_mediolateral_mm=a1, inner_anteroposterior_mm=b1)
    assert tube.area_mm2 == as_printed(row["area_mm2"])
    assert tube.second_moment_mediolateral_mm4 == as_printed(row["second_moment_x_mm4"])
    assert tube.second_moment_anteroposterior_mm4 == as_printed(row["second_moment_y_mm4"])
    assert tube.polar_moment_mm4 == as_printed(row["polar_moment_mm4"])
    assert tube.section_modulus_mediolateral_mm3 == as_printed(row["section_modulus_x_mm3"])
    assert tube.section_modulus_anteroposterior_mm3 == as_printed(row["section_modulus_y_mm3"])


# An outline of so many straight pieces is the curve, to ten places.
N_POINTS = 400_000
ROUND = {
    "circle": ((10.0, 10.0), None),
    "annulus": ((10.0, 10.0), (6.0, 6.0)),
    "ellipse": ((10.0, 8.0), None),
    "hollow ellipse": ((10.0, 8.0), (7.0, 5.0)),
}


def _ring(half_x: float, half_y: float, middle: tuple[float, float]) -> Any:
    turn = 2 * np.pi * np.arange(N_POINTS) / N_POINTS
    return np.stack([middle[0] + half_x * np.cos(turn), middle[1] + half_y * np.sin(turn)], axis=1)


@pytest.mark.parametrize("name", ROUND)
def test_a_round_outline_has_the_handbook_formulas_to_nine_places(name: str) -> None:
    (a, b), hole = ROUND[name]
    a1, b1 = hole or (0.0, 0.0)
    rings = [_ring(a, b, (3.0, -2.0))] + ([_ring(a1, b1, (3.0, -2.0))] if hole else [])
    found = traced_outline(rings)
    across = np.pi / 4 * (a * b**3 - a1 * b1**3)
    along = np.pi / 4 * (b * a**3 - b1 * a1**3)
    exactly = partial(pytest.approx, rel=1e-9)
    assert found.area_mm2 == exactly(np.pi * (a * b - a1 * b1))
    assert found.second_moment_mediolateral_mm4 == exactly(across)
    assert found.second_moment_anteroposterior_mm4 == exactly(along)
    assert found.polar_moment_mm4 == exactly(across + along)
    assert found.section_modulus_mediolateral_mm3 == exactly(across / b)
    assert found.section_modulus_anteroposterior_mm3 == exactly(along / a)


def test_an_eccentric_hole_shifts_centroid_and_moment_by_the_parallel_axis_rule() -> None:
    outer, inner, off = 10.0, 5.0, 3.0
    area = np.pi * (outer**2 - inner**2)
    centre = -np.pi * inner**2 * off / area
    about_y = np.pi / 4 * outer**4 + np.pi * outer**2 * centre**2
    about_y -= np.pi / 4 * inner**4 + np.pi * inner**2 * (off - centre) ** 2
    exactly = partial(pytest.approx, rel=1e-9)
    for found in (
        traced_outline([_ring(outer, outer, (0.0, 0.0)), _ring(inner, inner, (off, 0.0))]),
        hollow_ellipse(
            20, 20, inner_mediolateral_mm=10, inner_anteroposterior_mm=10, hole_offset_mm=(off, 0.0)
        ),
    ):
        assert found.area_mm2 == exactly(area)
        assert found.centroid_mm[0] == exactly(centre)
        assert found.second_moment_anteroposterior_mm4 == exactly(about_y)
        assert found.second_moment_mediolateral_mm4 == exactly(np.pi / 4 * (outer**4 - inner**4))
        assert found.section_modulus_anteroposterior_mm3 == exactly(about_y / (outer - centre))


def test_a_hollow_rectangle_has_the_handbook_formulas_to_nine_places() -> None:
    def box(width: float, height: float) -> list[tuple[float, float]]:
        x, y = width / 2, height / 2
        return [(7 - x, 5 - y), (7 + x, 5 - y), (7 + x, 5 + y), (7 - x, 5 + y)]

    found = traced_outline([box(12, 9), box(8, 4)])
    exactly = partial(pytest.approx, rel=1e-9)
    assert found.area_mm2 == exactly(12 * 9 - 8 * 4)
    assert found.second_moment_mediolateral_mm4 == exactly((12 * 9**3 - 8 * 4**3) / 12)
    assert found.section_modulus_mediolateral_mm3 == exactly((12 * 9**3 - 8 * 4**3) / 12 / 4.5)
    assert found.section_modulus_anteroposterior_mm3 == exactly((9 * 12**3 - 4 * 8**3) / 12 / 6)
