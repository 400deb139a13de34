"""The body grown from the skeleton: what must hold whatever the numbers are."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bonewright.body.bones_inside import standing_bones
from bonewright.body.grown import GrownBody, body_draws_meshed
from bonewright.body.loft import loft_mesh
from bonewright.body.overlap import placed_meshes, typical_lofts
from bonewright.body.places import place_segments
from bonewright.body.plan import body_plan, lofted_segments
from bonewright.body.segment_balance import whole_of_segments
from bonewright.body.shared_space import own_parts
from bonewright.body.silhouettes import fat_lofts, state_mesh, view_outlines
from bonewright.body.solids import Mesh, joined, mesh_measures
from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.study.ground_bird import GROUND_BIRD_SEGMENTS
from bonewright.study.settings import RangeChoice

Bones = dict[tuple[str, str], np.ndarray]
Grow = Callable[..., GrownBody]


def sure(value: float, unit: str = "%") -> RangeChoice:
    return RangeChoice(value=value, low=value, high=value, unit=unit, reason="a test")


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    import trimesh

    made = trimesh.creation.box(bounds=(low, high))
    return Mesh(vertices_mm=np.asarray(made.vertices), faces=np.asarray(made.faces))


def ball(radius: float, at: float) -> Mesh:
    import trimesh

    made = trimesh.creation.icosphere(subdivisions=5, radius=radius)
    return Mesh(
        vertices_mm=np.asarray(made.vertices) + np.array([at, 0, 0]), faces=np.asarray(made.faces)
    )


def test_two_balls_that_share_a_lens_are_joined_to_a_thousandth() -> None:
    radius, apart = 30.0, 25.0
    lens = np.pi * (4 * radius + apart) * (2 * radius - apart) ** 2 / 12
    expected = 8 / 3 * np.pi * radius**3 - lens
    found = mesh_measures(joined([ball(radius, 0), ball(radius, apart)])).volume_mm3
    assert found == pytest.approx(expected, rel=1e-3)


def test_mass_of_the_whole_is_that_of_its_segments(bird: GrownBody) -> None:
    total = np.sum(list(bird.segment_kg.values()), axis=0)
    assert total == pytest.approx(bird.states["mean"].mass_draws_kg)


def test_volume_of_the_segments_is_that_of_the_joined_solid(bird: GrownBody) -> None:
    # The shares of segments are found on the typical body; on any other draw the sum over
    # segments must still be the volume of the solids joined.
    swing = bird.stance.swing_rad
    for draw in (3, 700, 1400):
        one = {
            name: type(loft)(
                station=loft.station,
                half_width_mm=loft.half_width_mm[[draw]],
                dorsal_mm=loft.dorsal_mm[[draw]],
                ventral_mm=loft.ventral_mm[[draw]],
                dorsal_exponent=loft.dorsal_exponent,
                ventral_exponent=loft.ventral_exponent,
                length_mm=loft.length_mm[[draw]],
                bend_rad=loft.bend_rad,
            )
            for name, loft in bird.lofts.items()
        }
        meshes = placed_meshes(bird.plan, one, swing[[draw]], around=64, places=8)
        solid = mesh_measures(joined([mesh for pair in meshes.values() for mesh in pair]))
        summed = sum(volume[draw] for volume in bird.lean.volume_m3.values())
        assert summed * 1e9 == pytest.approx(solid.volume_mm3, rel=0.02)


def test_the_joined_body_has_its_centre_of_volume_where_the_segments_put_it(
    bird: GrownBody,
) -> None:
    # With one density everywhere the centre of mass is the centre of the joined solid.
    lofts = typical_lofts(bird.lofts)
    swing = np.mean(bird.stance.swing_rad, keepdims=True)
    meshes = placed_meshes(bird.plan, lofts, swing, around=64, places=8)
    whole = joined([mesh for pair in meshes.values() for mesh in pair])
    parts = own_parts(bird.plan, lofts, swing)
    places = place_segments(bird.plan, lofts, swing)
    summed, weight = np.zeros(3), 0.0
    for name, pair in meshes.items():
        alone = mesh_measures(pair[0])
        mass = parts[name].share * alone.volume_mm3 * len(pair)
        shift = places[name].turn[0] @ parts[name].shift * float(lofts[name].length_mm[0])
        centre = alone.centre_mm + shift
        summed += mass * centre * ([1, 0, 1] if len(pair) == 2 else [1, 1, 1])
        weight += mass
    found = mesh_measures(whole)
    assert weight == pytest.approx(found.volume_mm3, rel=0.01)
    assert summed / weight == pytest.approx(found.centre_mm, abs=3.0)


def test_the_body_stands_with_its_centre_of_mass_over_its_feet(bird: GrownBody) -> None:
    mean = bird.states["mean"]
    assert np.abs(mean.centre_m[:, 0]).max() < 1e-3
    foot = bird.stance.foot_mm
    assert np.all(foot[:, 0] < bird.stance.centre_mm[:, 0])
    assert np.all(bird.stance.centre_mm[:, 0] < foot[:, 1])
    assert bird.stance.beyond == {}


def test_the_hip_stands_lower_than_the_stretched_leg_and_higher_than_a_third_of_it(
    bird: GrownBody, bones: Bones
) -> None:
    leg = sum(bones[name, "GL"] for name in ("femur", "tibiotarsus", "tarsometatarsus"))
    assert np.all(bird.stance.hip_height_mm < leg)
    assert np.all(bird.stance.hip_height_mm > leg / 3)


def test_lean_is_lighter_than_mean_and_mean_than_fat_in_every_world(bird: GrownBody) -> None:
    lean, mean, fat = (bird.states[state].mass_draws_kg for state in ("lean", "mean", "fat"))
    assert np.all(lean <= mean)
    assert np.all(mean <= fat)


def test_fat_is_the_stated_share_of_the_mass(grow: Grow) -> None:
    body = grow(fat_fat_percent=sure(30.0))
    fat = body.states["fat"]
    assert fat.fat_draws_kg / fat.mass_draws_kg == pytest.approx(0.30)
    assert fat.mass_draws_kg - fat.fat_draws_kg == pytest.approx(
        body.states["lean"].mass_draws_kg - body.states["lean"].fat_draws_kg
    )


def test_the_drawn_fat_body_holds_the_volume_it_is_said_to_have(bird: GrownBody) -> None:
    for state in ("lean", "mean", "fat"):
        drawn = mesh_measures(state_mesh(bird, state)).volume_mm3 * 1e-9
        assert drawn == pytest.approx(np.median(bird.states[state].volume_draws_m3), rel=0.04)


def test_the_head_follows_the_bone_whatever_the_fat(bird: GrownBody) -> None:
    lean, fat = (fat_lofts(bird, state)["head"] for state in ("lean", "fat"))
    np.testing.assert_array_equal(lean.half_width_mm, fat.half_width_mm)


def test_inertia_is_that_of_a_body(bird: GrownBody) -> None:
    tensor = bird.states["mean"].inertia_kg_m2
    np.testing.assert_allclose(tensor, np.swapaxes(tensor, 1, 2), atol=1e-12)
    principal = np.linalg.eigvalsh(tensor)
    assert np.all(principal > 0)
    # No body's greatest moment exceeds the sum of the other two.
    assert np.all(principal[:, 2] <= principal[:, 0] + principal[:, 1])
    # Left mirrors right.
    np.testing.assert_allclose(tensor[:, 0, 1], 0, atol=1e-9)
    np.testing.assert_allclose(tensor[:, 1, 2], 0, atol=1e-9)


def test_a_skeleton_twice_as_large_gives_eight_times_the_volume(grow: Grow, bones: Bones) -> None:
    one = grow()
    two = grow({key: 2 * mm for key, mm in bones.items()})
    # Skin of the same thickness is a smaller share of a larger body: compare volumes.
    lean_one, lean_two = (np.sum(list(b.lean.volume_m3.values()), axis=0) for b in (one, two))
    assert lean_two == pytest.approx(8 * lean_one, rel=1e-6)
    assert two.stance.hip_height_mm == pytest.approx(2 * one.stance.hip_height_mm, rel=1e-3)


def test_a_larger_skeleton_means_a_heavier_body_in_the_same_world(
    bird: GrownBody, bones: Bones
) -> None:
    across = np.corrcoef(bones["pelvis", "AA"], np.log(bird.states["mean"].mass_draws_kg))[0, 1]
    assert across > 0.05


def test_shape_doubt_is_in_the_interval(grow: Grow) -> None:
    wide, narrow = grow(), grow(grown_shape_percent=sure(0.0))
    spread = [np.log(b.states["mean"].mass_draws_kg).std() for b in (wide, narrow)]
    assert spread[0] > 1.3 * spread[1]


def test_density_lies_between_air_and_bone_and_follows_that_of_the_maquette(
    bird: GrownBody,
) -> None:
    mean = bird.states["mean"]
    density = mean.mass_draws_kg / mean.volume_draws_m3
    assert 850 < np.median(density) < 1050
    pattern = 950 + 50 * np.random.default_rng(5).standard_normal(len(density))
    assert np.corrcoef(density, pattern)[0, 1] > 0.6


def test_feathers_are_a_share_of_the_bulk_that_grows_with_their_depth(grow: Grow) -> None:
    def share(body: GrownBody) -> float:
        return float(np.median(1 - body.states["mean"].volume_draws_m3 / body.feathered_volume_m3))

    none, some, more = (grow(plumage_depth_percent=sure(depth)) for depth in (0.0, 100.0, 200.0))
    assert share(none) == pytest.approx(0.0, abs=1e-9)
    assert 0.1 < share(some) < share(more) < 0.8


def test_every_segment_of_many_draws_is_meshed_where_it_stands(bird: GrownBody) -> None:
    meshed = body_draws_meshed(bird, slice(0, 5))
    swing = bird.stance.swing_rad[:5]
    places = place_segments(bird.plan, {n: _some(bird.lofts[n]) for n in bird.lofts}, swing)
    assert set(meshed) == set(bird.plan.segments)
    vertices, faces = loft_mesh(_some(bird.lofts["shank"]), places=3)
    turned = vertices[4] @ places["shank"].turn[4].T + places["shank"].origin_mm[4]
    np.testing.assert_allclose(meshed["shank"][4], turned, atol=1e-6)
    assert mesh_measures(Mesh(vertices_mm=meshed["shank"][4], faces=faces)).volume_mm3 > 0


def _some(loft: object) -> object:
    from dataclasses import replace

    return replace(
        loft,  # type: ignore[type-var]
        half_width_mm=loft.half_width_mm[:5],  # type: ignore[attr-defined]
        dorsal_mm=loft.dorsal_mm[:5],  # type: ignore[attr-defined]
        ventral_mm=loft.ventral_mm[:5],  # type: ignore[attr-defined]
        length_mm=loft.length_mm[:5],  # type: ignore[attr-defined]
    )


def test_silhouettes_stand_on_the_ground_and_hold_the_skeleton(bird: GrownBody) -> None:
    mesh = state_mesh(bird, "mean")
    for view in ("side", "front", "top"):
        outline = np.concatenate([np.array(o) for o in view_outlines(mesh, view)])
        if view != "top":
            assert abs(outline[:, 1].min()) < 6.0
    side = np.concatenate([np.array(o) for o in view_outlines(mesh, "side")])
    assert side[:, 1].max() / 1000 == pytest.approx(np.median(bird.height_m), abs=0.03)
    # This skeleton has breadths of the pelvis and a mandible only: nothing is drawn that was
    # not measured.
    drawn = {piece.element for piece in standing_bones(bird, "side")}
    assert drawn == {"pelvis", "mandible"}


def test_a_bone_the_plan_needs_but_nobody_measured_is_named(bones: Bones) -> None:
    some = {key: mm for key, mm in bones.items() if key != ("skull", "GB")}
    with pytest.raises(NotEnoughEvidence) as raised:
        lofted_segments(body_plan((), ()), some)
    assert "skull GB" in raised.value.found


def test_a_plan_whose_segments_hang_in_a_ring_is_refused() -> None:
    from dataclasses import replace

    ring = [
        replace(GROUND_BIRD_SEGMENTS[0], segment="a", parent="b"),
        replace(GROUND_BIRD_SEGMENTS[0], segment="b", parent="a"),
    ]
    with pytest.raises(OutsideRange):
        body_plan(ring, ())


def test_a_plan_without_feet_does_not_stand(bones: Bones) -> None:
    from dataclasses import replace

    from bonewright.body.loft_moments import loft_moments
    from bonewright.body.posture import stand

    legless = [replace(s, on_ground=False) for s in GROUND_BIRD_SEGMENTS]
    plan = body_plan(legless, ())
    lofts = lofted_segments(plan, bones)
    moments = {name: loft_moments(loft) for name, loft in lofts.items()}
    with pytest.raises(OutsideRange):
        stand(
            plan,
            lofts,
            mass_kg={name: m.volume_mm3 for name, m in moments.items()},
            centre_mm={name: m.centre_mm for name, m in moments.items()},
        )


def test_fat_percentages_out_of_order_are_refused(grow: Grow) -> None:
    with pytest.raises(OutsideRange):
        grow(fat_lean_percent=sure(20.0), fat_mean_percent=sure(10.0))


@pytest.mark.parametrize("state", ["lean", "mean", "fat"])
def test_the_segments_put_together_are_the_whole_body(bird: GrownBody, state: str) -> None:
    segments = bird.segments(state)
    whole, said = whole_of_segments(segments), bird.states[state]
    assert set(segments) == set(bird.plan.segments)
    np.testing.assert_allclose(whole.mass_draws_kg, said.mass_draws_kg)
    np.testing.assert_allclose(whole.centre_m[:, [0, 2]], said.centre_m, atol=1e-9)
    np.testing.assert_allclose(whole.centre_m[:, 1], 0, atol=1e-9)
    np.testing.assert_allclose(whole.inertia_kg_m2, said.inertia_kg_m2, atol=1e-9)


def test_a_segment_has_the_inertia_of_its_own_solid(bird: GrownBody) -> None:
    # One draw of the leanest head, which nothing overlaps much and no fat swells.
    segment, loft = bird.segments("lean")["head"], bird.lofts["head"]
    one = replace(
        loft,
        half_width_mm=loft.half_width_mm[:1],
        dorsal_mm=loft.dorsal_mm[:1],
        ventral_mm=loft.ventral_mm[:1],
        length_mm=loft.length_mm[:1],
    )
    vertices, faces = loft_mesh(one, around=96, places=24)
    solid = mesh_measures(Mesh(vertices_mm=vertices[0], faces=faces))
    second = solid.second_mm5 / solid.volume_mm3
    expected = np.sort(np.linalg.eigvalsh(np.trace(second) * np.eye(3) - second)) * 1e-6
    found = np.linalg.eigvalsh(segment.inertia_kg_m2[0]) / segment.mass_draws_kg[0]
    np.testing.assert_allclose(np.sort(found), expected, rtol=0.01)


def test_segments_lie_above_each_other_as_they_stand(bird: GrownBody) -> None:
    heights = {name: float(np.median(one.centre_m[:, 2])) for name, one in bird.segments().items()}
    assert 0 < heights["middle toe"] < heights["foot"] < heights["shank"] < heights["thigh"]
    assert heights["thigh"] < heights["neck top"] < bird.height_m.max()
