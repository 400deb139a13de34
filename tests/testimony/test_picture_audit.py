import dataclasses

import numpy as np
import pytest

from bonewright.findings import RowRef
from bonewright.study.model import DateSpan, Picture
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.mount import MountCheck
from bonewright.testimony.picture_audit import audit_pictures

N = 4000
BONES_MM = {
    ("skull", "GL"): 150.0,
    ("skull", "GH"): 44.0,
    ("femur", "GL"): 165.0,
    ("tibiotarsus", "GL"): 260.0,
    ("tarsometatarsus", "GL"): 148.0,
}
MEANS = {place: np.full(N, value) for place, value in BONES_MM.items()}
SPREAD = {place: 0.04 * value for place, value in BONES_MM.items()}


def bird(*, px_per_mm: float, scale: bool, mount: bool = True, **factors: float) -> MarkedPicture:
    """A bird with every length in the middle of what is allowed, but for the factors."""

    def length(name: str, bone: float, soft: float) -> float:
        return bone * (1 + soft) * factors.get(name, 1.0) * px_per_mm

    toe = np.array([200.0, 20.0])
    heel = toe + np.array([0, length("shank", 148, 0.035)])
    knee = heel + np.array([length("lower_leg", 260, 0.015), 0])
    hip = knee + np.array([0, length("thigh", 165, 0.035)])
    back = np.array([50.0, 400.0])
    points = {
        "toe root": toe,
        "heel joint": heel,
        "knee": knee,
        "hip": hip,
        "back of head": back,
        "bill tip": back - [length("head", 150, 0.085), 0],
        "crown": np.array([30.0, 420.0]),
        "throat": np.array([30.0, 420.0 - length("depth", 44, 0.2)]),
    }
    if scale:
        points |= {"scale start": np.zeros(2), "scale end": np.array([100 * px_per_mm, 0.0])}
    picture = Picture(
        ref=RowRef(table="pictures", row=2, row_id="photo"),
        picture_id="photo",
        title="photo",
        date=DateSpan(earliest=2026, latest=2027, text="2026"),
        drawn_from="dead specimen",
        copy_of=None,
        creator=None,
        reliability=None,
        source_id=None,
        shows_mount=mount,
        scale_mm=100.0 if scale else None,
    )
    return MarkedPicture(
        picture=picture,
        points=points,
        outline=np.empty((0, 2)),
        error_px=0.5,
        n_repeats=8,
        observers=("A",),
        refs=(),
    )


def audited(*pictures: MarkedPicture) -> dict[str, tuple[MountCheck, ...]]:
    return audit_pictures(
        pictures,
        allowances_mm={},
        mean_draws_mm=MEANS,
        between_sd_mm=SPREAD,
        rng=np.random.default_rng(1),
    )


def wrong(one: MarkedPicture) -> set[str]:
    checks = audited(one)["photo"]
    assert len(checks) == 5
    return {check.title for check in checks if check.wrong}


@pytest.mark.parametrize("scale", [True, False])
@pytest.mark.parametrize("mount", [True, False])
@pytest.mark.parametrize("px_per_mm", [0.2, 0.5, 3.0])
def test_a_right_picture_of_any_size_is_not_contradicted(
    scale: bool, mount: bool, px_per_mm: float
) -> None:
    assert wrong(bird(px_per_mm=px_per_mm, scale=scale, mount=mount)) == set()


@pytest.mark.parametrize("scale", [True, False])
def test_one_wrong_length_is_named_and_drags_no_other_along(scale: bool) -> None:
    assert wrong(bird(px_per_mm=0.5, scale=scale, shank=1.5)) == {"length of the shank"}
    assert wrong(bird(px_per_mm=0.5, scale=scale, depth=1.7)) == {"depth of the head"}


def test_a_mount_too_large_all_over_shows_by_scale_only() -> None:
    larger = dict.fromkeys(("shank", "lower_leg", "thigh", "head", "depth"), 1.5)
    assert len(wrong(bird(px_per_mm=0.5, scale=True, **larger))) == 5
    assert wrong(bird(px_per_mm=0.5, scale=False, **larger)) == set()


def test_two_lengths_without_a_scale_are_not_judged() -> None:
    one = bird(px_per_mm=0.5, scale=False)
    points = {n: p for n, p in one.points.items() if n in {"toe root", "heel joint", "knee"}}
    few = dataclasses.replace(one, points=points)
    assert audited(few) == {"photo": ()}


def test_a_picture_is_judged_alike_whatever_others_there_are() -> None:
    one = bird(px_per_mm=0.5, scale=False, shank=1.2)
    other = bird(px_per_mm=2.0, scale=True, mount=False)
    other = dataclasses.replace(
        other, picture=dataclasses.replace(other.picture, picture_id="drawing")
    )
    assert audited(other, one)["photo"] == audited(one)["photo"]
