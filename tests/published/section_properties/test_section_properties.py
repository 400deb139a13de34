import tomllib
from pathlib import Path

import pytest

from bonewright.sections.ellipse import hollow_ellipse

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
