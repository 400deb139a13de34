import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from bonewright.errors import OutsideRange
from bonewright.sections.ellipse import ellipse_rings, hollow_ellipse
from bonewright.sections.outline import traced_outline

BOX_WITH_HOLE = (((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)), ((1, 1), (3, 1), (3, 3), (1, 3)))
angles_rad = st.floats(-np.pi, np.pi)
shifts_mm = st.floats(-500, 500)


def test_a_rectangle_has_the_moments_every_handbook_gives() -> None:
    box = traced_outline([((0, 0), (6, 0), (6, 4), (0, 4))])
    assert box.area_mm2 == pytest.approx(24)
    assert box.centroid_mm == pytest.approx((3, 2))
    assert box.second_moment_mediolateral_mm4 == pytest.approx(6 * 4**3 / 12)
    assert box.second_moment_anteroposterior_mm4 == pytest.approx(4 * 6**3 / 12)
    assert box.product_moment_mm4 == pytest.approx(0, abs=1e-12)
    assert box.section_modulus_mediolateral_mm3 == pytest.approx(6 * 4**2 / 6)
    assert box.section_modulus_anteroposterior_mm3 == pytest.approx(4 * 6**2 / 6)


def test_a_triangle_has_its_modulus_from_the_farther_side() -> None:
    triangle = traced_outline([((0, 0), (6, 0), (3, 9))])
    assert triangle.centroid_mm == pytest.approx((3, 3))
    assert triangle.second_moment_mediolateral_mm4 == pytest.approx(6 * 9**3 / 36)
    assert triangle.section_modulus_mediolateral_mm3 == pytest.approx(6 * 9**3 / 36 / 6)


def test_a_hole_is_taken_out_whichever_way_the_rings_run_and_closed_or_not() -> None:
    outer, hole = BOX_WITH_HOLE
    plain = traced_outline([outer, hole])
    assert plain.area_mm2 == pytest.approx(20)
    for rings in (
        [outer[::-1], hole],
        [outer, hole[::-1]],
        [(*outer, outer[0]), (*hole, hole[0])],
    ):
        assert traced_outline(rings).second_moment_mediolateral_mm4 == pytest.approx(
            plain.second_moment_mediolateral_mm4
        )


def test_area_and_centroid_agree_with_shapely_for_an_irregular_hollow_shape() -> None:
    rng = np.random.default_rng(3)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 40))
    radii = rng.uniform(8, 12, 40)
    outer = np.column_stack([radii * np.cos(angles), 1.3 * radii * np.sin(angles)])
    outer += np.array([40, -70])
    inner = 0.5 * (outer - np.array([40, -70])) + np.array([41, -69])
    ours = traced_outline([[tuple(p) for p in outer], [tuple(p) for p in inner]])
    theirs = shapely.Polygon(outer, [inner])
    assert ours.area_mm2 == pytest.approx(theirs.area, rel=1e-12)
    assert ours.centroid_mm == pytest.approx((theirs.centroid.x, theirs.centroid.y), rel=1e-12)


def test_second_moments_agree_with_the_sum_over_a_shapely_triangulation() -> None:
    outer, hole = BOX_WITH_HOLE
    ours = traced_outline([outer, hole])
    centre = np.array(ours.centroid_mm)
    about_x = about_y = product = 0.0
    for triangle in shapely.constrained_delaunay_triangles(shapely.Polygon(outer, [hole])).geoms:
        corners = np.array(triangle.exterior.coords)[:3] - centre
        # Exact for quadratics: a triangle's mass at the middles of its three sides.
        middles = (corners + np.roll(corners, 1, axis=0)) / 2
        about_x += triangle.area / 3 * (middles[:, 1] ** 2).sum()
        about_y += triangle.area / 3 * (middles[:, 0] ** 2).sum()
        product += triangle.area / 3 * (middles[:, 0] * middles[:, 1]).sum()
    assert ours.second_moment_mediolateral_mm4 == pytest.approx(about_x, rel=1e-12)
    assert ours.second_moment_anteroposterior_mm4 == pytest.approx(about_y, rel=1e-12)
    assert ours.product_moment_mm4 == pytest.approx(product, rel=1e-12)


@given(angle=angles_rad, east=shifts_mm, north=shifts_mm)
def test_principal_moments_do_not_depend_on_where_and_how_the_bone_lies(
    angle: float, east: float, north: float
) -> None:
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    moved = [
        [tuple(point) for point in np.asarray(ring) @ turn.T + [east, north]]
        for ring in BOX_WITH_HOLE
    ]
    still, turned = traced_outline(BOX_WITH_HOLE), traced_outline(moved)
    assert turned.area_mm2 == pytest.approx(still.area_mm2)
    assert turned.greatest_moment_mm4 == pytest.approx(still.greatest_moment_mm4)
    assert turned.least_moment_mm4 == pytest.approx(still.least_moment_mm4)
    assert turned.polar_moment_mm4 == pytest.approx(still.polar_moment_mm4)


@given(factor=st.floats(0.01, 100))
def test_enlarging_by_k_enlarges_area_modulus_and_moment_by_its_powers(factor: float) -> None:
    small = hollow_ellipse(20, 16, inner_mediolateral_mm=14, inner_anteroposterior_mm=10)
    large = hollow_ellipse(
        20 * factor,
        16 * factor,
        inner_mediolateral_mm=14 * factor,
        inner_anteroposterior_mm=10 * factor,
    )
    assert large.area_mm2 == pytest.approx(small.area_mm2 * factor**2)
    assert large.section_modulus_mediolateral_mm3 == pytest.approx(
        small.section_modulus_mediolateral_mm3 * factor**3
    )
    assert large.polar_moment_mm4 == pytest.approx(small.polar_moment_mm4 * factor**4)


def test_a_finely_traced_ellipse_approaches_the_formula() -> None:
    formula = hollow_ellipse(20, 16, inner_mediolateral_mm=14, inner_anteroposterior_mm=10)
    rings = ellipse_rings(
        20, 16, inner_mediolateral_mm=14, inner_anteroposterior_mm=10, n_points=4000
    )
    traced = traced_outline(rings)
    assert traced.area_mm2 == pytest.approx(formula.area_mm2, rel=1e-6)
    assert traced.section_modulus_mediolateral_mm3 == pytest.approx(
        formula.section_modulus_mediolateral_mm3, rel=1e-5
    )


def test_a_36_point_circle_falls_short_by_as_much_as_the_docstring_says() -> None:
    rings = ellipse_rings(
        20, 20, inner_mediolateral_mm=10, inner_anteroposterior_mm=10, n_points=36
    )
    circle = traced_outline(rings[:1])
    assert 1 - circle.area_mm2 / (np.pi * 100) == pytest.approx(0.005, abs=0.0005)
    assert 1 - circle.second_moment_mediolateral_mm4 / (np.pi * 1e4 / 4) == pytest.approx(
        0.010, abs=0.0006
    )


@pytest.mark.parametrize(
    "rings", [[], [()], [((0, 0), (1, 1))], [((0, 0), (1, 0), (0, 1)), ((0, 0), (9, 0), (0, 9))]]
)
def test_an_outline_without_bone_has_no_answer(rings: list[tuple[tuple[float, float]]]) -> None:
    with pytest.raises(OutsideRange):
        traced_outline(rings)


def test_a_marrow_space_wider_than_the_bone_has_no_answer() -> None:
    with pytest.raises(OutsideRange):
        hollow_ellipse(10, 10, inner_mediolateral_mm=11, inner_anteroposterior_mm=4)
