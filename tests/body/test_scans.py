"""Scans: open, self-crossing, inside-out, wrong-unit and whole ones."""

import numpy as np
import pytest
import trimesh

from bonewright.body.scans import (
    HULL_MULTIPLIER,
    doubt_scans,
    is_closed,
    sound_surface,
    weigh_scans,
)
from bonewright.body.solids import Mesh
from bonewright.body.windings import winding_shares
from bonewright.errors import OutsideRange
from bonewright.findings import RowRef
from bonewright.study.model import BodyScan, Surface

NOBODY: frozenset[tuple[str, str]] = frozenset()
BALL = trimesh.creation.icosphere(subdivisions=4, radius=30)


def surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(
        vertices=np.asarray(mesh.vertices, dtype=float), faces=np.asarray(mesh.faces, dtype=int)
    )


def soup(mesh: trimesh.Trimesh) -> Surface:
    """Loose triangles, as an STL file holds them."""
    return Surface(
        vertices=np.asarray(mesh.triangles, dtype=float).reshape(-1, 3),
        faces=np.arange(3 * len(mesh.faces)).reshape(-1, 3),
    )


def scan(mesh: trimesh.Trimesh, **changes: object) -> BodyScan:
    values: dict[str, object] = {
        "ref": RowRef(table="body_scans", row=2, row_id="scan-1"),
        "scan_id": "scan-1",
        "kind": "body",
        "body_id": "model",
        "state": "mean",
        "element": "femur",
        "code": "GL",
        "checked_mm": 160.0,
        "to_life_size_mm": 4.0,
        "surface": surface(mesh),
    }
    return BodyScan(**(values | changes))  # type: ignore[arg-type]


def doubts_of(made: BodyScan, *, kept: frozenset[tuple[str, str]] = NOBODY) -> tuple[str, bool]:
    (doubt,) = doubt_scans(
        [made],
        bone_draws_mm={("femur", "GL"): np.full(100, 160.0)},
        kept=kept,
        set_aside=NOBODY,
    )
    return doubt.kind, doubt.held_out


def test_a_whole_surface_has_the_volume_a_mesh_library_finds() -> None:
    found = sound_surface(surface(BALL))
    assert found.volume == pytest.approx(BALL.volume, rel=1e-9)
    assert found.repairs == ()


def test_loose_triangles_of_a_closed_surface_are_closed() -> None:
    assert is_closed(soup(BALL))
    assert sound_surface(soup(BALL)).volume == pytest.approx(BALL.volume, rel=1e-9)


def test_a_scan_is_proved_closed_in_as_many_parts_as_it_needs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("bonewright.body.scans._CHUNK", 997)
    assert is_closed(soup(BALL))
    assert is_closed(surface(BALL))
    broken = soup(BALL)
    assert not is_closed(Surface(vertices=broken.vertices, faces=broken.faces[:-1]))


@pytest.mark.parametrize("removed", [1, 4, 900])
def test_an_open_surface_is_known_to_be_open(removed: int) -> None:
    holed = BALL.copy()
    holed.update_faces(np.arange(len(holed.faces)) >= removed)
    assert not is_closed(surface(holed))
    assert not is_closed(soup(holed))


def test_a_surface_with_one_face_turned_is_not_closed() -> None:
    faces = np.asarray(BALL.faces).copy()
    faces[7] = faces[7, ::-1]
    turned = Surface(vertices=np.asarray(BALL.vertices, dtype=float), faces=faces)
    assert not is_closed(turned)
    found = sound_surface(turned)
    assert found.volume == pytest.approx(BALL.volume, rel=1e-6)
    assert found.repairs


def test_a_small_hole_is_covered_and_said() -> None:
    holed = BALL.copy()
    holed.update_faces(np.arange(len(holed.faces)) >= 4)
    found = sound_surface(surface(holed))
    assert found.volume == pytest.approx(BALL.volume, rel=1e-3)
    assert any("covered" in words for words in found.repairs)


def test_a_wide_hole_is_refused() -> None:
    holed = BALL.copy()
    holed.update_faces(holed.triangles_center[:, 2] < 10)
    with pytest.raises(OutsideRange):
        sound_surface(surface(holed))


def test_a_surface_inside_out_is_turned_and_said() -> None:
    inverted = BALL.copy()
    inverted.invert()
    found = sound_surface(surface(inverted))
    assert found.volume == pytest.approx(BALL.volume, rel=1e-9)
    assert found.repairs == ("turned outside out",)


def test_parts_pushed_into_each_other_are_counted_once() -> None:
    radius, apart = 30.0, 40.0
    other = BALL.copy()
    other.apply_translation([apart, 3.0, 1.0])
    both = trimesh.util.concatenate([BALL, other])
    lens = (
        np.pi * (4 * radius + np.sqrt(apart**2 + 10)) * (2 * radius - np.sqrt(apart**2 + 10)) ** 2
    )
    found = sound_surface(surface(both))
    assert found.volume == pytest.approx(2 * BALL.volume - lens / 12, rel=3e-3)
    assert any("counted once" in words for words in found.repairs)


def test_a_surface_that_is_mostly_doubled_is_refused() -> None:
    twice = trimesh.util.concatenate([BALL, BALL.copy().apply_scale(0.95)])
    with pytest.raises(OutsideRange):
        sound_surface(surface(twice))


def test_a_flat_surface_encloses_nothing() -> None:
    flat = trimesh.Trimesh([[0, 0, 0], [9, 0, 0], [0, 9, 0]], [[0, 1, 2], [0, 2, 1]], process=False)
    with pytest.raises(OutsideRange):
        sound_surface(surface(flat))


def test_lines_through_a_sound_solid_are_never_two_deep() -> None:
    torus = trimesh.creation.torus(major_radius=30, minor_radius=8)
    once, wrong = winding_shares(
        Mesh(vertices_mm=np.asarray(torus.vertices), faces=np.asarray(torus.faces))
    )
    assert wrong == 0.0
    assert once == pytest.approx(1.0)


def test_a_scan_that_agrees_with_its_bone_is_not_doubted() -> None:
    found = doubt_scans(
        [scan(BALL)],
        bone_draws_mm={("femur", "GL"): np.full(100, 160.0)},
        kept=NOBODY,
        set_aside=NOBODY,
    )
    assert found == ()


@pytest.mark.parametrize("factor", [10.0, 0.1, 25.4, 1000.0, 0.25])
def test_a_scan_in_another_unit_or_scale_is_held_out(factor: float) -> None:
    wrong = scan(BALL, checked_mm=160.0 * factor, to_life_size_mm=4.0 * factor)
    assert doubts_of(wrong) == ("wrong unit or scale", True)


def test_a_length_longer_than_the_scan_is_doubted() -> None:
    small = scan(BALL, to_life_size_mm=1.0)
    assert doubts_of(small) == ("wrong unit or scale", True)


def test_a_kept_scan_is_used() -> None:
    wrong = scan(BALL, checked_mm=1600.0, to_life_size_mm=40.0)
    kept = frozenset({("body_scans", "scan-1")})
    assert doubts_of(wrong, kept=kept) == ("wrong unit or scale", False)


def test_a_scan_whose_bone_nobody_measured_is_used_and_said() -> None:
    assert doubts_of(scan(BALL, code="SC")) == ("scale not checked", False)


def test_mass_is_life_size_volume_times_density() -> None:
    ones = np.ones(500)
    bodies, refused = weigh_scans(
        [scan(BALL)],
        density_draws_kg_m3=950 * ones,
        shape_draws=1.1 * ones,
        rng=np.random.default_rng(1),
    )
    assert refused == {}
    expected = BALL.volume * 64e-9 * 950 * 1.1
    assert np.median(bodies["model"].mass_draws_kg) == pytest.approx(expected, rel=1e-6)


def test_hulls_of_a_skeletons_parts_are_summed_and_multiplied() -> None:
    ones = np.ones(20_000)
    box = trimesh.creation.box(extents=(10, 20, 30))
    # A hull closes what is open.
    box.update_faces(np.arange(len(box.faces)) > 1)
    parts = [scan(box, kind="skeleton"), scan(BALL, kind="skeleton", scan_id="scan-2")]
    bodies, _ = weigh_scans(
        parts, density_draws_kg_m3=900 * ones, shape_draws=ones, rng=np.random.default_rng(1)
    )
    volume = (6000 + BALL.volume) * 64e-9
    assert bodies["model"].volume_m3 == pytest.approx(volume, rel=1e-4)
    masses = bodies["model"].mass_draws_kg / (900 * volume)
    assert np.quantile(masses, [0.025, 0.5, 0.975]) == pytest.approx(
        [HULL_MULTIPLIER[1], HULL_MULTIPLIER[0], HULL_MULTIPLIER[2]], abs=0.01
    )


def test_a_refused_scan_does_not_stop_the_others() -> None:
    holed = BALL.copy()
    holed.update_faces(holed.triangles_center[:, 2] < 10)
    ones = np.ones(10)
    bodies, refused = weigh_scans(
        [scan(holed, body_id="torn"), scan(BALL)],
        density_draws_kg_m3=950 * ones,
        shape_draws=ones,
        rng=np.random.default_rng(1),
    )
    assert set(bodies) == {"model"}
    assert "open" in refused["torn"]
