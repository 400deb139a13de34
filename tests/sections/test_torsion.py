import numpy as np
import pytest

from bonewright.errors import OutsideRange
from bonewright.sections.ellipse import ellipse_rings, hollow_ellipse
from bonewright.sections.torsion import torsion_constant

SQUARE = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))


@pytest.mark.parametrize(("a", "b", "hollow"), [(10, 10, 0.6), (10, 8, 0.7), (9, 6, 0.9)])
def test_similar_hollow_ellipses_have_the_known_constant(a: float, b: float, hollow: float) -> None:
    rings = ellipse_rings(
        2 * a,
        2 * b,
        inner_mediolateral_mm=2 * a * hollow,
        inner_anteroposterior_mm=2 * b * hollow,
        n_points=360,
    )
    known = np.pi * a**3 * b**3 / (a**2 + b**2) * (1 - hollow**4)
    assert torsion_constant(rings) == pytest.approx(known, rel=4e-4)


def test_a_solid_ellipse_and_a_square_have_the_known_constants() -> None:
    solid = ellipse_rings(20, 16, inner_mediolateral_mm=0, inner_anteroposterior_mm=0, n_points=360)
    assert torsion_constant(solid) == pytest.approx(np.pi * 10**3 * 8**3 / (10**2 + 8**2), rel=4e-4)
    # Timoshenko's series for a square of side 2 b: 0.1406 (2 b)^4.
    assert torsion_constant([SQUARE]) == pytest.approx(0.140577 * 16, rel=2e-3)


def test_the_thin_wall_formula_meets_the_solved_constant_as_the_wall_thins() -> None:
    errors = []
    for hollow in (0.7, 0.9, 0.97):
        tube = hollow_ellipse(
            20, 20, inner_mediolateral_mm=20 * hollow, inner_anteroposterior_mm=20 * hollow
        )
        known = np.pi * 10**4 / 2 * (1 - hollow**4)
        errors.append(abs(tube.torsion_constant_thin_wall_mm4 / known - 1))
    assert errors[0] > errors[1] > errors[2]
    assert errors[2] < 3e-4


def test_a_solid_circle_has_twice_the_thin_wall_constant() -> None:
    rod = hollow_ellipse(20, 20, inner_mediolateral_mm=0, inner_anteroposterior_mm=0)
    assert rod.torsion_constant_thin_wall_mm4 == pytest.approx(np.pi * 10**4 / 4)


def test_several_cavities_and_edges_that_double_back_are_refused() -> None:
    outer, hole = ellipse_rings(20, 16, inner_mediolateral_mm=4, inner_anteroposterior_mm=4)
    other = tuple((x + 5, y) for x, y in hole)
    with pytest.raises(OutsideRange):
        torsion_constant([outer, hole, other])
    hook = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (6.0, 9.0), (6.0, 2.0), (0.0, 2.0))
    with pytest.raises(OutsideRange):
        torsion_constant([hook])
