import dataclasses

import numpy as np
import pytest
from scipy.spatial import procrustes

from bonewright.findings import RowRef
from bonewright.study.model import DateSpan, Landmark, Picture
from bonewright.testimony.copies import alike_probability, doubt_likeness, find_copies
from bonewright.testimony.decisions import Decisions
from bonewright.testimony.marks import MarkedPicture, doubt_marks, mark_pictures
from bonewright.testimony.measures import measure_pictures
from bonewright.testimony.shapes import procrustes_distance

NONE: frozenset[tuple[str, str]] = frozenset()
NOBODY = Decisions(kept=NONE, set_aside=NONE)


def picture(number: int, **changes: object) -> Picture:
    name = f"p{number:02d}"
    made = Picture(
        ref=RowRef(table="pictures", row=number + 2, row_id=name),
        picture_id=name,
        title=name,
        date=DateSpan(earliest=1640.0 + number, latest=1641.0 + number, text=""),
        drawn_from="unknown",
        copy_of=None,
        creator=None,
        reliability=None,
        source_id=None,
        checksum="a" * 64,
        height_px=300,
    )
    return dataclasses.replace(made, **changes)


def marked(made: Picture, places: np.ndarray) -> MarkedPicture:
    return MarkedPicture(
        picture=made,
        points={f"point {i}": place for i, place in enumerate(places)},
        outline=np.empty((0, 2)),
        error_px=0.5,
        n_repeats=10,
        observers=("A",),
        refs=(),
    )


def turned(places: np.ndarray, angle: float, *, mirror: bool = False) -> np.ndarray:
    cos, sin = np.cos(angle), np.sin(angle)
    flipped = places * ([-1, 1] if mirror else [1, 1])
    return 3.7 * flipped @ np.array([[cos, sin], [-sin, cos]]) + [120, -30]


def world(seed: int = 1, *, n: int = 12) -> tuple[list[Picture], list[np.ndarray]]:
    rng = np.random.default_rng(seed)
    base = rng.normal(0, 60, (14, 2))
    return [picture(i) for i in range(n)], [base + rng.normal(0, 8, (14, 2)) for _ in range(n)]


def test_size_place_turn_and_facing_do_not_change_shape() -> None:
    places = world()[1][0]
    assert procrustes_distance(places, turned(places, 0.7)) == pytest.approx(0, abs=1e-7)
    assert procrustes_distance(places, turned(places, 2.0, mirror=True)) == pytest.approx(
        0, abs=1e-7
    )
    straight = procrustes_distance(places, turned(places, 2.0, mirror=True), mirrored=False)
    assert straight > 0.1


@pytest.mark.parametrize("seed", range(4))
def test_procrustes_distance_agrees_with_scipy(seed: int) -> None:
    first, second = world(seed)[1][:2]
    disparity = procrustes(first, second)[2]
    assert procrustes_distance(first, second) == pytest.approx(np.sqrt(disparity), rel=1e-9)


def test_a_mirrored_copy_that_nobody_entered_is_joined_to_its_original() -> None:
    pictures, shapes = world()
    rng = np.random.default_rng(2)
    pictures.append(picture(20))
    shapes.append(turned(shapes[3] + rng.normal(0, 1.0, (14, 2)), 0.2, mirror=True))
    copying = find_copies(pictures, list(map(marked, pictures, shapes)), kept=NONE)
    (group,) = copying.groups
    assert (group.original, group.seen, group.told) == ("p03", ("p20",), ())
    assert copying.independent == {one.picture_id for one in pictures} - {"p20"}
    assert copying.effective_number == pytest.approx(12, abs=0.1)
    (doubt,) = doubt_likeness(pictures, copying, NOBODY)
    assert (doubt.ref.row_id, doubt.column) == ("p20", "copyOf")
    assert not doubt.held_out


def test_a_picture_kept_by_decision_is_nobodys_copy_by_shape() -> None:
    pictures, shapes = world()
    pictures.append(picture(20))
    shapes.append(shapes[3] * 2.0 + 0.5 * np.random.default_rng(2).normal(0, 1, (14, 2)))
    kept = frozenset({("pictures", "p20")})
    copying = find_copies(pictures, list(map(marked, pictures, shapes)), kept=kept)
    assert copying.groups == ()
    assert "p20" in copying.independent


def test_without_copies_shape_has_no_say() -> None:
    for seed in range(30):
        pictures, shapes = world(seed)
        copying = find_copies(pictures, list(map(marked, pictures, shapes)), kept=NONE)
        assert copying.groups == ()
        assert not copying.shape_has_a_say
        assert copying.effective_number == pytest.approx(12, abs=0.05)


def test_a_persons_links_alone_make_groups_of_chains() -> None:
    pictures = [picture(0), picture(1, copy_of="p00"), picture(2, copy_of="p01"), picture(3)]
    copying = find_copies(pictures, [], kept=NONE)
    (group,) = copying.groups
    assert group.members == ("p00", "p01", "p02")
    assert group.told == ("p01", "p02")
    assert copying.effective_number == pytest.approx(2)
    assert copying.independent == {"p00", "p03"}


def test_a_copy_of_something_lost_is_no_witness_though_it_has_no_group() -> None:
    pictures = [picture(0), picture(1, drawn_from="another picture")]
    assert find_copies(pictures, [], kept=NONE).independent == {"p00"}


def test_few_pairs_give_no_probability() -> None:
    assert np.all(alike_probability(np.array([0.01, 0.2, 0.21])) == 0)


def test_probability_of_being_copies_never_rises_with_distance() -> None:
    rng = np.random.default_rng(3)
    distances = np.concatenate([rng.lognormal(-4, 0.3, 8), rng.lognormal(-1.8, 0.3, 60)])
    ordered = np.sort(distances)
    probability = alike_probability(ordered)
    assert np.all(np.diff(probability) <= 0)
    assert np.all(probability[:8] > 0.9)
    assert np.all(probability[10:] < 0.1)


def landmark(number: int, name: str, x: float, y: float, **changes: object) -> Landmark:
    made = Landmark(
        ref=RowRef(table="landmarks", row=number + 2, row_id=f"lm-{number}"),
        picture_id="p00",
        name=name,
        order=None,
        x_px=x,
        y_px=y,
        observer="A",
        marking_round=1,
        checksum="a" * 64,
    )
    return dataclasses.replace(made, **changes)


def test_rounds_are_averaged_and_their_scatter_is_the_repeat_error() -> None:
    marks = [
        landmark(0, "crown", 100, 50),
        landmark(1, "crown", 102, 50, marking_round=2),
        landmark(2, "throat", 100, 90),
        landmark(3, "throat", 100, 94, marking_round=2),
    ]
    (one,) = mark_pictures([picture(0)], marks)
    assert one.points["crown"] == pytest.approx([101, 250])  # upwards from the bottom of 300
    # Squares about the means: 2 for the crown, 8 for the throat, over 2 x 2 coordinates.
    assert one.error_px == pytest.approx(np.sqrt(10 / 4))
    assert one.n_repeats == 2


def test_ratios_and_their_error_are_those_computed_by_hand() -> None:
    marks = [
        landmark(i, name, x, y, marking_round=turn)
        for turn in (1, 2)
        for i, (name, x, y) in enumerate(
            [("back", 10, 100), ("belly", 10, 220), ("heel joint", 50, 220), ("toe root", 50, 300)]
        )
    ]
    (one,) = mark_pictures([picture(0)], marks)
    (ratio,) = measure_pictures([one])
    assert (ratio.key, ratio.value) == ("body_depth", pytest.approx(120 / 80))
    assert ratio.error == 0
    shaken = dataclasses.replace(one, error_px=2.0)
    (ratio,) = measure_pictures([shaken])
    # Two coordinates along each length, each moved by 2 / sqrt(2): depth 2, shank 2 px.
    assert ratio.error == pytest.approx(1.5 * np.hypot(2 / 120, 2 / 80), rel=0.05)


def test_marks_of_another_file_are_held_out_and_named() -> None:
    marks = [landmark(0, "crown", 10, 10, checksum="b" * 64), landmark(1, "throat", 10, 30)]
    (doubt,) = doubt_marks([picture(0)], marks, NOBODY)
    assert (doubt.ref.row_id, doubt.kind) == ("lm-0", "marked on another file")
    assert doubt.held_out


def test_repeats_far_apart_are_held_out_both_or_the_odd_one_of_three() -> None:
    steady = [
        landmark(10 * i + turn, name, x + turn, 20.0 * i, marking_round=turn)
        for turn in (1, 2)
        for i, (name, x) in enumerate([("crown", 50), ("throat", 60), ("back", 90), ("belly", 95)])
    ]
    slip = [landmark(90, "eye", 50, 40), landmark(91, "eye", 5, 40, marking_round=2)]
    doubts = doubt_marks([picture(0)], [*steady, *slip], NOBODY)
    assert {doubt.ref.row_id for doubt in doubts} == {"lm-90", "lm-91"}
    third = landmark(92, "eye", 50.5, 40, observer="B")
    doubts = doubt_marks([picture(0)], [*steady, *slip, third], NOBODY)
    assert {doubt.ref.row_id for doubt in doubts} == {"lm-91"}


def test_an_outline_that_leaps_is_named() -> None:
    ring = [(100 + 50 * np.cos(a), 100 + 50 * np.sin(a)) for a in np.linspace(0, 6, 20)]
    ring[7] = (290.0, 280.0)
    marks = [
        landmark(i, "outline", float(x), float(y), order=i + 1) for i, (x, y) in enumerate(ring)
    ]
    (doubt,) = doubt_marks([picture(0)], marks, NOBODY)
    assert doubt.ref.row_id == "lm-7"
