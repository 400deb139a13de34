"""Volume, centre and inertia of lofts, against solids with known formulas."""

import dataclasses

import numpy as np
import pytest

from bonewright.body.hoop_curves import curve_through
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.loft_moments import Moments, loft_moments
from bonewright.body.solids import Mesh, mesh_measures
from bonewright.body.superellipse import moment_factors
from bonewright.errors import OutsideRange

THOUSANDTH = 1e-3


def segment(
    station: list[float] | np.ndarray,
    half_width: list[float] | np.ndarray,
    dorsal: list[float] | np.ndarray | None = None,
    ventral: list[float] | np.ndarray | None = None,
    *,
    length: float,
    bend: float = 0.0,
    exponent: float = 2.0,
) -> LoftedSegment:
    width = np.array(half_width, dtype=float)
    return LoftedSegment(
        station=np.array(station, dtype=float),
        half_width_mm=width[None],
        dorsal_mm=(width if dorsal is None else np.array(dorsal, dtype=float))[None],
        ventral_mm=(width if ventral is None else np.array(ventral, dtype=float))[None],
        dorsal_exponent=np.full(len(width), exponent),
        ventral_exponent=np.full(len(width), exponent),
        length_mm=np.array([length]),
        bend_rad=bend,
    )


def round_hoops(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Stations and relative radii of hoops on a sphere, dense towards its poles."""
    angle = np.linspace(0, np.pi, count)
    radius = np.sin(angle)
    radius[[0, -1]] = 0.0
    return (1 - np.cos(angle)) / 2, radius


def inertia(moments: Moments) -> np.ndarray:
    second = moments.second_mm5[0]
    return np.trace(second) * np.eye(3) - second


def test_sphere() -> None:
    station, radius = round_hoops(33)
    found = loft_moments(segment(station, 50 * radius, length=100))
    volume = 4 / 3 * np.pi * 50**3
    assert found.volume_mm3[0] == pytest.approx(volume, rel=THOUSANDTH)
    assert found.centre_mm[0] == pytest.approx([50, 0, 0], abs=0.01)
    assert np.diag(inertia(found)) == pytest.approx(0.4 * volume * 50**2, rel=THOUSANDTH)


def test_ellipsoid() -> None:
    station, radius = round_hoops(33)
    a, b, c = 80.0, 40.0, 25.0
    found = loft_moments(segment(station, b * radius, c * radius, c * radius, length=2 * a))
    volume = 4 / 3 * np.pi * a * b * c
    assert found.volume_mm3[0] == pytest.approx(volume, rel=THOUSANDTH)
    expected = volume / 5 * np.array([b**2 + c**2, a**2 + c**2, a**2 + b**2])
    assert np.diag(inertia(found)) == pytest.approx(expected, rel=THOUSANDTH)


def test_cone_frustum() -> None:
    r, big_r, height = 10.0, 20.0, 60.0
    found = loft_moments(segment([0, 1], [r, big_r], length=height))
    volume = np.pi * height / 3 * (r**2 + r * big_r + big_r**2)
    centre = height / 4 * (r**2 + 2 * r * big_r + 3 * big_r**2) / (r**2 + r * big_r + big_r**2)
    axial = 3 / 10 * volume * (big_r**5 - r**5) / (big_r**3 - r**3)
    assert found.volume_mm3[0] == pytest.approx(volume, rel=1e-9)
    assert found.centre_mm[0, 0] == pytest.approx(centre, rel=1e-9)
    assert inertia(found)[0, 0] == pytest.approx(axial, rel=1e-9)


def test_elliptical_cylinder() -> None:
    b, c, height = 12.0, 7.0, 90.0
    found = loft_moments(segment([0, 1], [b, b], [c, c], [c, c], length=height))
    volume = np.pi * b * c * height
    expected = volume * np.array(
        [(b**2 + c**2) / 4, c**2 / 4 + height**2 / 12, b**2 / 4 + height**2 / 12]
    )
    assert found.volume_mm3[0] == pytest.approx(volume, rel=1e-9)
    assert np.diag(inertia(found)) == pytest.approx(expected, rel=1e-9)


def test_box_is_a_superellipse_of_large_exponent() -> None:
    found = loft_moments(segment([0, 1], [10, 10], length=50, exponent=20.0))
    assert found.volume_mm3[0] == pytest.approx(20 * 20 * 50, rel=0.01)


def test_torus_sector() -> None:
    big_r, r, bend = 100.0, 15.0, np.pi / 3
    found = loft_moments(segment([0, 1], [r, r], length=big_r * bend, bend=bend))
    volume = np.pi * r**2 * big_r * bend
    # Distance of the centre from the torus' axis, along the bisector of the sector.
    away = (big_r + r**2 / (4 * big_r)) * np.sin(bend / 2) / (bend / 2)
    half = bend / 2
    expected = [away * np.sin(half), 0.0, big_r - away * np.cos(half)]
    upright = volume * (big_r**2 + 3 / 4 * r**2) - volume * away**2
    assert found.volume_mm3[0] == pytest.approx(volume, rel=1e-9)
    assert found.centre_mm[0] == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert inertia(found)[1, 1] == pytest.approx(upright, rel=1e-9)


def test_half_ellipses_of_unlike_height_have_their_centre_off_the_axis() -> None:
    d, v = 30.0, 12.0
    found = loft_moments(segment([0, 1], [10, 10], [d, d], [v, v], length=40))
    # The centre of half an ellipse lies 4 h / (3 pi) from its base.
    expected = 4 / (3 * np.pi) * (d**2 - v**2) / (d + v)
    assert found.centre_mm[0, 2] == pytest.approx(expected, rel=1e-9)


def test_area_factors_are_those_of_known_shapes() -> None:
    ellipse, diamond = moment_factors(np.array([2.0, 1.0]))[0, 0]
    assert ellipse == pytest.approx(np.pi / 2)
    assert diamond == pytest.approx(1.0)


def _random_loft(rng: np.random.Generator) -> LoftedSegment:
    count = int(rng.integers(4, 8))
    station = np.cumsum(rng.uniform(0.6, 1.4, count))
    station = (station - station[0]) / (station[-1] - station[0])
    size = rng.uniform(20, 35, (3, count))
    if rng.random() < 0.5:
        size[:, 0] = 0.0
    if rng.random() < 0.5:
        size[:, -1] = 0.0
    made = segment(
        station, *size, length=float(rng.uniform(150, 300)), bend=float(rng.uniform(-0.8, 0.8))
    )
    return dataclasses.replace(
        made,
        dorsal_exponent=rng.uniform(1.6, 3.0, count),
        ventral_exponent=rng.uniform(1.6, 3.0, count),
    )


def test_a_hundred_random_lofts_agree_with_a_general_mesh_library() -> None:
    import trimesh

    rng = np.random.default_rng(20)
    worst = 0.0
    for number in range(100):
        loft = _random_loft(rng)
        found = loft_moments(loft)
        vertices, faces = loft_mesh(loft, around=150, places=40)
        other = trimesh.Trimesh(vertices[0], faces, process=False)
        if number % 10 == 0:
            assert other.is_watertight
            assert other.is_winding_consistent
        worst = max(worst, abs(other.volume / found.volume_mm3[0] - 1))
        size = float(loft.length_mm[0])
        assert np.abs(other.center_mass - found.centre_mm[0]).max() < THOUSANDTH * size
        largest = np.abs(other.moment_inertia).max()
        assert np.abs(other.moment_inertia - inertia(found)).max() < THOUSANDTH * largest
    # A mesh has its corners on the hoops and so lies a little inside: with 150 corners a hoop
    # by about 0.03 %.
    assert worst < THOUSANDTH


def test_mesh_measures_agree_with_a_general_mesh_library() -> None:
    import trimesh

    vertices, faces = loft_mesh(_random_loft(np.random.default_rng(3)))
    ours = mesh_measures(Mesh(vertices_mm=vertices[0] + 1000.0, faces=faces))
    other = trimesh.Trimesh(vertices[0] + 1000.0, faces, process=False)
    assert ours.volume_mm3 == pytest.approx(other.volume, rel=1e-9)
    assert ours.area_mm2 == pytest.approx(other.area, rel=1e-9)
    assert ours.centre_mm == pytest.approx(other.center_mass, rel=1e-9)
    turned = np.trace(ours.second_mm5) * np.eye(3) - ours.second_mm5
    assert turned == pytest.approx(other.moment_inertia, rel=1e-6, abs=1e-3)


def test_scaling_by_k_multiplies_volume_by_k_cubed_and_inertia_by_k_to_the_fifth() -> None:
    loft = _random_loft(np.random.default_rng(8))
    twice = dataclasses.replace(
        loft,
        half_width_mm=2 * loft.half_width_mm,
        dorsal_mm=2 * loft.dorsal_mm,
        ventral_mm=2 * loft.ventral_mm,
        length_mm=2 * loft.length_mm,
    )
    one, two = loft_moments(loft), loft_moments(twice)
    assert two.volume_mm3 == pytest.approx(8 * one.volume_mm3)
    assert two.second_mm5 == pytest.approx(32 * one.second_mm5)


def test_draws_do_not_influence_each_other() -> None:
    loft = _random_loft(np.random.default_rng(8))
    many = dataclasses.replace(
        loft,
        half_width_mm=np.repeat(loft.half_width_mm, 2500, axis=0),
        dorsal_mm=np.repeat(loft.dorsal_mm, 2500, axis=0),
        ventral_mm=np.repeat(loft.ventral_mm, 2500, axis=0),
        length_mm=np.linspace(100, 400, 2500),
    )
    alone = dataclasses.replace(loft, length_mm=many.length_mm[[1700]])
    expected = loft_moments(alone).volume_mm3[0]
    assert loft_moments(many).volume_mm3[1700] == pytest.approx(expected)


def test_a_bend_sharper_than_the_body_is_thick_is_refused() -> None:
    with pytest.raises(OutsideRange):
        loft_moments(segment([0, 1], [30, 30], length=40, bend=2.5))


def test_too_few_hoops_are_refused() -> None:
    with pytest.raises(OutsideRange):
        curve_through(np.array([0.0, 1.0]), closed=(True, True))


def test_a_segment_without_volume_is_refused() -> None:
    with pytest.raises(OutsideRange):
        loft_moments(segment([0, 0.5, 1], [0, 0, 0], length=40))


def test_an_exponent_of_no_body_is_refused() -> None:
    with pytest.raises(OutsideRange):
        loft_moments(segment([0, 1], [10, 10], length=40, exponent=0.2))
