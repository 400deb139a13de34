"""The figure to build is the body of the run, whole, at its scale and in its parts."""

import numpy as np
import pytest
import trimesh

from bonewright.body.grown import GrownBody
from bonewright.errors import OutsideRange
from bonewright.study.settings import Settings
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.shaping import figure_of_body, hoop_at


def volume_mm3(vertices: np.ndarray, faces: np.ndarray) -> float:
    return float(trimesh.Trimesh(vertices, faces, process=False).volume)


def test_the_naked_figure_holds_the_volume_of_the_body_to_a_thousandth(
    bird: GrownBody, naked: FigureToBuild
) -> None:
    body_mm3 = float(np.median(bird.states["mean"].volume_draws_m3)) * 1e9
    assert volume_mm3(naked.whole.vertices_mm, naked.whole.faces) == pytest.approx(
        body_mm3, rel=1e-3
    )


def test_every_layer_is_one_watertight_solid_with_its_faces_outwards(
    skeleton: FigureToBuild, naked: FigureToBuild, feathered: FigureToBuild
) -> None:
    for figure in (skeleton, naked, feathered):
        solid = trimesh.Trimesh(figure.whole.vertices_mm, figure.whole.faces, process=False)
        assert solid.is_watertight
        assert solid.is_winding_consistent
        assert solid.volume > 0
        assert solid.body_count == 1


def test_own_parts_of_the_segments_make_up_the_whole(naked: FigureToBuild) -> None:
    parts = [s.own for s in naked.segments if s.own is not None]
    total = sum(volume_mm3(part.vertices_mm, part.faces) for part in parts)
    assert total == pytest.approx(naked.volume_mm3, rel=1e-4)
    assert sum(s.volume_mm3 for s in naked.segments) == pytest.approx(naked.volume_mm3, rel=1e-4)
    skin = trimesh.Trimesh(naked.whole.vertices_mm, naked.whole.faces, process=False).area
    assert naked.skin_mm2 == pytest.approx(skin, rel=1e-6)


def test_left_and_right_are_mirror_images(naked: FigureToBuild) -> None:
    left, right = naked.segment("left shank"), naked.segment("right shank")
    assert right.volume_mm3 == pytest.approx(left.volume_mm3, rel=1e-3)
    assert right.axis_mm * [1, -1, 1] == pytest.approx(left.axis_mm)
    for one, other in zip(left.hoops, right.hoops, strict=True):
        assert other.centre_mm * [1, -1, 1] == pytest.approx(one.centre_mm)
        assert other.axis * [1, -1, 1] == pytest.approx(one.axis)


def test_hoops_are_where_a_plane_cuts_their_segment(naked: FigureToBuild) -> None:
    for label in ("trunk", "neck base", "left shank", "right foot"):
        segment = naked.segment(label)
        solid = trimesh.Trimesh(segment.mesh.vertices_mm, segment.mesh.faces, process=False)
        hoop = hoop_at(segment, 0.5)
        lines = trimesh.intersections.mesh_plane(solid, hoop.axis, hoop.centre_mm)
        found = (lines.reshape(-1, 3) - hoop.centre_mm) @ np.stack((hoop.across, hoop.dorsal)).T
        ring = hoop.outline_mm(720)
        gaps = np.sqrt(((found[:, None] - ring) ** 2).sum(axis=2)).min(axis=1)
        assert gaps.max() < 0.012 * hoop.half_width_mm
        assert np.ptp(found, axis=0) == pytest.approx(np.ptp(ring, axis=0), rel=0.01)


def test_hoops_are_numbered_from_the_joint(naked: FigureToBuild) -> None:
    trunk = naked.segment("trunk")
    assert [hoop.number for hoop in trunk.hoops] == [1, 2, 3, 4, 5]
    assert [hoop.station for hoop in trunk.hoops] == [0.12, 0.30, 0.50, 0.70, 0.87]


def test_a_quarter_of_the_scale_is_a_quarter_of_the_length_and_a_64th_of_the_volume(
    bird: GrownBody, settings: Settings, naked: FigureToBuild
) -> None:
    quarter = figure_of_body(bird, settings, scale_denominator=4, state="mean", layer="naked")
    assert quarter.volume_mm3 * 64 == pytest.approx(naked.volume_mm3)
    assert quarter.size_mm * 4 == pytest.approx(naked.size_mm)
    assert quarter.segment("left foot").length_mm * 4 == pytest.approx(
        naked.segment("left foot").length_mm
    )
    assert hoop_at(quarter.segment("head"), 0.4).half_width_mm * 4 == pytest.approx(
        hoop_at(naked.segment("head"), 0.4).half_width_mm
    )
    assert quarter.living_mass_kg == naked.living_mass_kg


def test_the_figure_stands_on_the_ground_with_its_centre_over_its_feet(
    naked: FigureToBuild,
) -> None:
    assert naked.whole.vertices_mm[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    low, high = naked.foot_mm.min(axis=0), naked.foot_mm.max(axis=0)
    assert low[0] < naked.centre_mm[0] < high[0]
    assert low[1] < 0 < high[1]
    assert set(naked.feet_mm) == {"left", "right"}


def test_bones_have_the_lengths_of_the_study_and_stand_ins_say_so(skeleton: FigureToBuild) -> None:
    femur = next(b for b in skeleton.bones if b.element == "femur" and b.side == "left")
    assert femur.measured
    assert femur.length_mm == pytest.approx(164.0, rel=0.01)
    assert femur.thickness_mm == pytest.approx(18.5, rel=0.01)
    assert {b.segment for b in skeleton.bones if not b.measured} >= {"neck base", "middle toe"}


def test_feathers_and_fat_make_the_figure_larger(
    bird: GrownBody, settings: Settings, naked: FigureToBuild, feathered: FigureToBuild
) -> None:
    fat = figure_of_body(bird, settings, scale_denominator=1, state="fat", layer="naked")
    assert feathered.volume_mm3 > 1.2 * naked.volume_mm3
    assert fat.volume_mm3 > 1.1 * naked.volume_mm3


@pytest.mark.parametrize(
    ("scale", "state", "layer"),
    [(0, "mean", "naked"), (4, "plump", "naked"), (4, "mean", "furry")],
)
def test_a_choice_that_does_not_exist_is_refused(
    bird: GrownBody, settings: Settings, scale: float, state: str, layer: str
) -> None:
    with pytest.raises(OutsideRange):
        figure_of_body(bird, settings, scale_denominator=scale, state=state, layer=layer)
