"""What segments share, against lenses of balls and against solids joined by a library."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from bonewright.body.grown import GrownBody
from bonewright.body.loft import LoftedSegment
from bonewright.body.overlap import placed_meshes
from bonewright.body.plan import BodyPlan, SegmentPlan
from bonewright.body.shared_space import OwnPart, joined_volume_mm3, own_parts
from bonewright.body.solids import joined, mesh_measures, solid_of
from bonewright.study.ground_bird import GROUND_BIRD_SEGMENTS

RADIUS = 30.0
STILL = np.zeros(1)


def ball(radius: float = RADIUS) -> LoftedSegment:
    # Hoops at the places of a sphere; between them the curve is a cubic, at the ends a cap.
    station = np.linspace(0, 1, 25)
    size = radius * 2 * np.sqrt(station * (1 - station))[None]
    return LoftedSegment(
        station=station,
        half_width_mm=size,
        dorsal_mm=size,
        ventral_mm=size,
        dorsal_exponent=np.full(25, 2.0),
        ventral_exponent=np.full(25, 2.0),
        length_mm=np.array([2 * radius]),
    )


def two_segments(*, along: float, out: float = 0.0, paired: bool = False) -> BodyPlan:
    """Return a plan of a root and a part that starts ``along`` it and lies ``out`` to the left."""
    root = replace(
        GROUND_BIRD_SEGMENTS[0],
        segment="root",
        parent=None,
        sides="midline",
        angle_rad=0.0,
        splay_rad=0.0,
        bend_rad=0.0,
        balance=0.0,
    )
    part = replace(
        root,
        segment="part",
        parent="root",
        sides="paired" if paired else "midline",
        attach_along=along,
        attach_up=0.0,
        attach_out=out,
    )
    return BodyPlan(
        segments={one.segment: SegmentPlan(segment=one, hoops=()) for one in (root, part)},
        own_rows=(),
        replaced=(),
    )


def parts_of(plan: BodyPlan, **lofts: LoftedSegment) -> dict[str, OwnPart]:
    return own_parts(plan, lofts, STILL)


@pytest.mark.parametrize("apart", [10.0, 25.0, 45.0])
def test_two_balls_share_a_lens_and_lose_its_two_caps_of_skin(apart: float) -> None:
    parts = parts_of(two_segments(along=apart / (2 * RADIUS)), root=ball(), part=ball())
    whole = 4 / 3 * np.pi * RADIUS**3
    lens = np.pi * (4 * RADIUS + apart) * (2 * RADIUS - apart) ** 2 / 12
    cap = 2 * np.pi * RADIUS * (RADIUS - apart / 2)
    assert parts["root"].share == 1.0
    assert parts["part"].share == pytest.approx(1 - lens / whole, abs=0.005)
    for name in ("root", "part"):
        assert parts[name].area_mm2 == pytest.approx(4 * np.pi * RADIUS**2 - cap, rel=0.02)
    # The ball's own centre lies at its middle; the crescent that is left moves away from it.
    crescent = -(lens / whole) * (-apart / 2) / (1 - lens / whole)
    assert parts["part"].shift == pytest.approx([crescent / (2 * RADIUS), 0, 0], abs=0.006)


def test_an_embedded_part_has_neither_volume_nor_skin_of_its_own() -> None:
    parts = parts_of(two_segments(along=0.35), root=ball(), part=ball(RADIUS / 4))
    assert parts["part"].share == 0.0
    assert parts["part"].area_mm2 == 0.0
    assert parts["root"].share == 1.0


def test_parts_far_from_each_other_keep_all_they_have() -> None:
    parts = parts_of(two_segments(along=1.5), root=ball(), part=ball())
    assert [part.share for part in parts.values()] == [1.0, 1.0]
    assert not any(part.shift.any() for part in parts.values())


def test_skin_hidden_by_the_mirror_image_of_a_pair_is_not_counted() -> None:
    plan = two_segments(along=1.5, out=0.1, paired=True)
    part = parts_of(plan, root=ball(), part=ball())["part"]
    # Two balls, each 6 mm from the middle plane.
    cap = 2 * np.pi * RADIUS * (RADIUS - 6.0)
    assert part.area_mm2 == pytest.approx(4 * np.pi * RADIUS**2 - cap, rel=0.02)


def test_a_bent_and_turned_part_is_cut_as_the_solid_library_cuts_it(bird: GrownBody) -> None:
    swing = np.mean(bird.stance.swing_rad, keepdims=True)
    meshes = placed_meshes(bird.plan, bird.typical, swing, around=64, places=8)
    parts = own_parts(bird.plan, bird.typical, swing)
    earlier = [meshes["trunk"][0]]
    for _, name in pairwise(("trunk", "neck base", "neck middle", "neck top", "head", "beak")):
        own = solid_of(meshes[name][0]) - solid_of(joined(earlier))
        expected = own.volume() / mesh_measures(meshes[name][0]).volume_mm3
        assert parts[name].share == pytest.approx(expected, abs=0.006)
        earlier.append(meshes[name][0])


def test_a_body_joined_holds_what_the_solid_library_says(bird: GrownBody) -> None:
    swing = np.mean(bird.stance.swing_rad, keepdims=True)
    meshes = placed_meshes(bird.plan, bird.typical, swing, around=96, places=10)
    whole = mesh_measures(joined([mesh for pair in meshes.values() for mesh in pair]))
    found = joined_volume_mm3(bird.plan, bird.typical, swing)
    assert found == pytest.approx(whole.volume_mm3, rel=0.003)
    skin = sum(
        bird.plan.segments[name].copies * part.area_mm2
        for name, part in own_parts(bird.plan, bird.typical, swing).items()
    )
    assert skin == pytest.approx(whole.area_mm2, rel=0.01)
