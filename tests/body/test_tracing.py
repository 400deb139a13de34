"""Hoops traced from outlines and scans give back the body they were traced from."""

import numpy as np
import pytest
import trimesh

from bonewright.body.loft import LoftedSegment
from bonewright.body.loft_moments import loft_moments
from bonewright.body.tracing import TracedHoop, hoops_from_outlines, hoops_from_surface
from bonewright.errors import OutsideRange


def as_loft(hoops: tuple[TracedHoop, ...], length: float) -> LoftedSegment:
    return LoftedSegment(
        station=np.array([hoop.station for hoop in hoops]),
        half_width_mm=length * np.array([[hoop.half_width for hoop in hoops]]),
        dorsal_mm=length * np.array([[hoop.dorsal for hoop in hoops]]),
        ventral_mm=length * np.array([[hoop.ventral for hoop in hoops]]),
        dorsal_exponent=np.array([hoop.exponent for hoop in hoops]),
        ventral_exponent=np.array([hoop.exponent for hoop in hoops]),
        length_mm=np.array([length]),
    )


def ellipse(a: float, b: float) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    return np.stack((a * np.cos(angle), b * np.sin(angle)), axis=1)


def test_two_outlines_of_an_ellipsoid_give_its_volume() -> None:
    # The view from above is drawn twice as large: each outline is in its own scale.
    hoops = hoops_from_outlines(ellipse(100, 30), ellipse(200, 80))
    volume = loft_moments(as_loft(hoops, 200.0)).volume_mm3[0]
    assert volume == pytest.approx(4 / 3 * np.pi * 100 * 30 * 40, rel=0.01)


def test_an_outline_may_be_moved_and_slanted() -> None:
    side = ellipse(100, 30)
    slanted = np.stack((side[:, 0] + 500, side[:, 1] + 0.1 * side[:, 0] - 40), axis=1)
    straight = hoops_from_outlines(side, ellipse(100, 40))
    found = hoops_from_outlines(slanted, ellipse(100, 40))
    for one, other in zip(straight, found, strict=True):
        assert other.dorsal + other.ventral == pytest.approx(one.dorsal + one.ventral, abs=0.01)


def test_a_scan_of_an_ellipsoid_gives_its_volume_and_its_ellipses() -> None:
    ball = trimesh.creation.icosphere(subdivisions=5)
    vertices = np.asarray(ball.vertices) * [100, 40, 30] + [7, 3, 11]
    hoops = hoops_from_surface(vertices, np.asarray(ball.faces))
    volume = loft_moments(as_loft(hoops, 200.0)).volume_mm3[0]
    assert volume == pytest.approx(4 / 3 * np.pi * 100 * 30 * 40, rel=0.01)
    assert hoops[4].exponent == pytest.approx(2.0, abs=0.05)


def test_a_scan_of_a_boxy_body_gives_a_larger_exponent() -> None:
    box = trimesh.creation.box(extents=(100, 40, 30)).subdivide().subdivide()
    hoops = hoops_from_surface(np.asarray(box.vertices), np.asarray(box.faces))
    assert hoops[4].exponent > 6


def test_an_outline_without_length_is_refused() -> None:
    with pytest.raises(OutsideRange):
        hoops_from_outlines(np.zeros((5, 2)), ellipse(10, 5))
