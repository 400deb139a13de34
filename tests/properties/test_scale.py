"""Everything k times as long: areas by k squared, volumes by k cubed, and so on, on any shape."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from bonewright.body.grown import GrownBody, grow_body
from bonewright.body.plan import body_plan
from bonewright.body.scans import weigh_scans
from bonewright.findings import RowRef
from bonewright.movement.gait import (
    froude_number,
    hip_height_m,
    speed_at_froude,
    speed_from_stride,
    stride_from_speed,
)
from bonewright.movement.indicator import mass_at_indicator, strength_indicator
from bonewright.movement.stresses import LegBone, peak_stresses
from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.outline import traced_outline
from bonewright.sections.shape import SectionProperties
from bonewright.sections.torsion import torsion_constant
from bonewright.study.model import BodyScan, Surface
from bonewright.study.settings import Choices, RangeChoice

factors = st.floats(0.05, 20)
few = settings(
    max_examples=20, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
_POWERS = {"_mm": 1, "_mm2": 2, "_mm3": 3, "_mm4": 4, "_rad": 0, "outer": 0, "_percent": 0}


def power_of(name: str) -> int:
    """Read from a name by which power of a length its number grows."""
    (power,) = {power for ending, power in _POWERS.items() if name.endswith(ending)}
    return power


def numbers_of(section: SectionProperties) -> dict[str, float | tuple[float, float]]:
    names = [field.name for field in fields(section)]
    names += ["inner_over_outer", "relative_cortical_area_percent"]
    return {name: getattr(section, name) for name in (*names, "torsion_constant_thin_wall_mm4")}


def hold(small: SectionProperties, large: SectionProperties, k: float) -> None:
    before, after = numbers_of(small), numbers_of(large)
    for name, value in before.items():
        # What is nought of itself has only the rounding of what it is the difference of.
        nought = 1e-9 * k ** power_of(name) * small.farthest_fibre_mm ** power_of(name)
        expected = np.asarray(value) * k ** power_of(name)
        assert after[name] == pytest.approx(expected, rel=1e-9, abs=nought), name


def wobbly(radius: float, wobble: list[float], at: tuple[float, float]) -> NDArray[np.float64]:
    """Draw a ring around a place, no two of its points alike in distance."""
    angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    reach = radius * (1 + sum(a * np.cos((n + 1) * angles) for n, a in enumerate(wobble)))
    return np.column_stack([at[0] + reach * np.cos(angles), at[1] + reach * np.sin(angles)])


def as_rings(rings: list[NDArray[np.float64]]) -> tuple[tuple[tuple[float, float], ...], ...]:
    return tuple(tuple((float(x), float(y)) for x, y in ring) for ring in rings)


wobbles = st.lists(st.floats(-0.04, 0.04), min_size=3, max_size=3)


@few
@given(k=factors, wide=st.floats(0.4, 2.5), wall=st.floats(0.1, 0.9), off=st.floats(-0.05, 0.05))
def test_a_hollow_ellipse_grows_by_the_powers_its_numbers_have(
    k: float, wide: float, wall: float, off: float
) -> None:
    def ellipse(size: float) -> SectionProperties:
        return hollow_ellipse(
            10 * size,
            10 * wide * size,
            inner_mediolateral_mm=10 * size * (1 - wall) * 0.8,
            inner_anteroposterior_mm=10 * wide * size * (1 - wall) * 0.8,
            hole_offset_mm=(10 * off * size * wall, 0.0),
        )

    hold(ellipse(1), ellipse(k), k)


@few
@given(k=factors, outer=wobbles, inner=wobbles)
def test_a_traced_section_and_its_stiffness_in_torsion_grow_by_their_powers(
    k: float, outer: list[float], inner: list[float]
) -> None:
    rings = [wobbly(10, outer, (3, -2)), wobbly(6, inner, (3, -2))]
    small, large = as_rings(rings), as_rings([k * ring for ring in rings])
    hold(traced_outline(small), traced_outline(large), k)
    assert torsion_constant(large) == pytest.approx(k**4 * torsion_constant(small), rel=1e-9)


@few
@given(k=factors, modulus=st.floats(1, 1e4), arm=st.floats(10, 1e3), mass=st.floats(0.01, 1e3))
def test_a_larger_animal_of_the_same_shape_is_weaker_by_its_length(
    k: float, modulus: float, arm: float, mass: float
) -> None:
    over_arm, larger = modulus / arm, k**3 * modulus / (k * arm)
    small = strength_indicator(over_arm, mass, weight_fraction=1.0)
    assert strength_indicator(larger, k**3 * mass, weight_fraction=1.0) == pytest.approx(small / k)
    at_same = mass_at_indicator(over_arm, small, weight_fraction=1.0)
    # At equal strength mass grows as the section and no faster.
    assert mass_at_indicator(larger, small, weight_fraction=1.0) == pytest.approx(k**2 * at_same)


@few
@given(k=factors, sizes=st.lists(st.floats(1, 50), min_size=5, max_size=5))
def test_peak_stresses_grow_with_the_length_of_an_animal_of_the_same_shape(
    k: float, sizes: list[float]
) -> None:
    modulus, arm, area, bow, twist = sizes

    def stress(k: float) -> NDArray[np.float64]:
        bone = LegBone(
            element="femur",
            modulus_mm3=np.array([k**3 * modulus]),
            torsion_modulus_mm3=np.array([2 * k**3 * modulus]),
            area_mm2=np.array([k**2 * area]),
            arm_mm=np.array([k * arm]),
            angle_rad=np.array([0.5]),
            bow_mm=np.array([k * bow]),
            twist_arm_mm=np.array([k * twist]),
        )
        return peak_stresses(
            bone,
            gait="running",
            mass_kg=np.array([k**3 * 10.0]),
            weight_fraction=np.array([1.0]),
            duty_factor=np.array([0.35]),
        ).greatest_mpa

    assert stress(k) == pytest.approx(k * stress(1.0))


@few
@given(k=factors, lengths=st.lists(st.floats(20, 400), min_size=3, max_size=3))
def test_hip_height_and_speeds_grow_as_animals_that_move_alike(
    k: float, lengths: list[float]
) -> None:
    names = ("femur", "tibiotarsus", "tarsometatarsus")
    bones = {name: np.array([mm]) for name, mm in zip(names, lengths, strict=True)}
    angles = {name: np.array([0.3 + 0.1 * place]) for place, name in enumerate(names)}
    hip = hip_height_m(bones, angles)
    larger = hip_height_m({name: k * mm for name, mm in bones.items()}, angles)
    assert larger == pytest.approx(k * hip)
    speed = speed_from_stride(1.6 * hip, hip)
    faster = speed_from_stride(k * 1.6 * hip, larger)
    assert faster == pytest.approx(k**0.5 * speed)
    assert froude_number(faster, larger) == pytest.approx(froude_number(speed, hip))
    assert speed_at_froude(0.5, larger) == pytest.approx(k**0.5 * speed_at_froude(0.5, hip))
    assert stride_from_speed(faster, larger) == pytest.approx(k * 1.6 * hip)


def grown(k: float) -> GrownBody:
    medians_mm = {
        ("pelvis", "AA"): 92.0,
        ("pelvis", "SB"): 71.0,
        ("pelvis", "LV"): 171.0,
        ("skull", "GB"): 52.0,
        ("skull", "GL"): 148.0,
        ("mandible", "GL"): 121.0,
        ("femur", "GL"): 164.0,
        ("tibiotarsus", "GL"): 259.0,
        ("tarsometatarsus", "GL"): 147.0,
        ("humerus", "GL"): 98.0,
        ("ulna", "GL"): 71.0,
    }
    rng = np.random.default_rng(11)
    skin = {"value": 1.5 * k, "low": 0.8 * k, "high": 3.0 * k, "unit": "mm", "reason": "scaled"}
    return grow_body(
        body_plan((), ()),
        bone_draws_mm={
            key: k * mm * np.exp(0.01 * rng.standard_normal(40)) for key, mm in medians_mm.items()
        },
        tissues=(),
        choices=Choices(skin_thickness=RangeChoice(**skin)),
        density_draws_kg_m3=950 + 50 * np.random.default_rng(5).standard_normal(40),
        rng=np.random.default_rng(6),
    )


@pytest.mark.parametrize("k", [0.3, 1.7])
def test_a_body_grown_from_bones_k_times_as_long_is_the_same_body_larger(k: float) -> None:
    small, large = grown(1.0), grown(k)
    assert large.height_m == pytest.approx(k * small.height_m, rel=1e-6)
    for name, skin in small.skin_m2.items():
        assert large.skin_m2[name] == pytest.approx(k**2 * skin, rel=1e-6), name
    assert large.feathered_volume_m3 == pytest.approx(k**3 * small.feathered_volume_m3, rel=1e-6)
    for state, before in small.states.items():
        after = large.states[state]
        for name, power in (
            ("mass_draws_kg", 3),
            ("volume_draws_m3", 3),
            ("fat_draws_kg", 3),
            ("centre_m", 1),
            ("inertia_kg_m2", 5),
        ):
            expected = k**power * getattr(before, name)
            assert getattr(after, name) == pytest.approx(
                expected, rel=1e-6, abs=1e-9 * float(np.max(np.abs(expected)))
            ), name
        for name, part in large.segments(state).items():
            expected = k**5 * small.segments(state)[name].inertia_kg_m2
            assert part.inertia_kg_m2 == pytest.approx(
                expected, rel=1e-6, abs=1e-6 * float(np.max(np.abs(expected)))
            ), name


def scan(kind: str, vertices: NDArray[np.float64], scale: float) -> BodyScan:
    import shapely  # noqa: F401 - the mesh library loads it; loaded here it warns nobody

    faces = np.array(
        [
            [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
            [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
        ]
    )  # fmt: skip
    return BodyScan(
        ref=RowRef(table="body_scans", row=2, row_id="scan-1"),
        scan_id="scan-1",
        kind=kind,
        body_id="body-1",
        state="mean",
        element="femur",
        code="GL",
        checked_mm=1.0,
        to_life_size_mm=scale,
        surface=Surface(vertices=vertices, faces=faces),
    )


@few
@given(k=factors, pushed=st.lists(st.floats(-10, 10), min_size=24, max_size=24))
@pytest.mark.parametrize("kind", ["skin", "skeleton"])
def test_a_scanned_body_grows_by_the_cube_whether_its_points_or_its_scale_grow(
    kind: str, k: float, pushed: list[float]
) -> None:
    corners = 100.0 * np.array(
        [[x, y, z] for z in (0, 1) for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))]
    )
    vertices = corners + np.reshape(pushed, (8, 3))

    def mass(vertices: NDArray[np.float64], scale: float) -> NDArray[np.float64]:
        bodies, refused = weigh_scans(
            [scan(kind, vertices, scale)],
            density_draws_kg_m3=np.full(5, 950.0),
            shape_draws=np.full(5, 1.0),
            rng=np.random.default_rng(1),
        )
        assert not refused
        return bodies["body-1"].mass_draws_kg

    before = mass(vertices, 1.0)
    # The solid library reckons hulls in single precision.
    assert mass(vertices, k) == pytest.approx(k**3 * before, rel=1e-9)
    assert mass(k * vertices, 1.0) == pytest.approx(k**3 * before, rel=2e-5)
