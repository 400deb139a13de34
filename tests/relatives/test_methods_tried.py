"""Other methods beside the joint model, on simulated birds."""

import numpy as np
import pytest
from scipy.stats import linregress

from bonewright.errors import NotEnoughEvidence
from bonewright.relatives.kin_and_size import BonesAndMass
from bonewright.relatives.lines_compared import compare_groups, compare_lines
from bonewright.relatives.methods_compared import compare_methods
from bonewright.relatives.methods_tried import try_methods
from bonewright.report.methods_tried import methods_page

METHODS = 9


@pytest.fixture(scope="module")
def world(birds):
    return birds(40, 51)


def test_least_squares_left_out_is_the_textbook_one(world) -> None:
    table = BonesAndMass(
        traversal=world.traversal,
        mass_ln=world.mass_ln[:, 0],
        bones_ln=world.bones_ln[:, [0]],
        groups=np.zeros((40, 0)),
    )
    scores = compare_methods(table, families=("",) * 40)
    (found,) = [s for s in scores if s.method == "least squares" and s.test == "each left out"]
    errors = []
    for out in range(40):
        rest = np.arange(40) != out
        fit = linregress(world.bones_ln[rest, 0], world.mass_ln[rest, 0])
        told = fit.intercept + fit.slope * world.bones_ln[out, 0]
        errors.append(told - world.mass_ln[out, 0])
    assert found.mean_ratio == pytest.approx(np.exp(np.mean(errors)))
    assert found.error_percent == pytest.approx(100 * np.median(np.abs(np.expm1(errors))))
    assert {s.test for s in scores} == {"each left out", "heaviest fifth out"}
    assert len(scores) == 2 * METHODS


def test_kinship_in_the_bones_is_worth_something_to_the_methods_that_use_it(world) -> None:
    table = BonesAndMass(
        traversal=world.traversal,
        mass_ln=world.mass_ln[:, 0],
        bones_ln=world.bones_ln,
        groups=np.zeros((40, 0)),
    )
    widths = {
        s.method: s.width
        for s in compare_methods(table, families=("",) * 40)
        if s.test == "each left out"
    }
    assert widths["on the tree, lambda"] <= widths["least squares"] * 1.02
    assert widths["both (enters)"] <= widths["least squares"] * 1.02


def test_slopes_of_one_bone_are_those_of_the_packages(world) -> None:
    trees = (world.tree, world.tree)
    x, y = world.bones_ln[:, 0], world.mass_ln[:, 0]
    lines = compare_lines(("femur", "CD"), world.traversal, x, y, trees=trees)
    fit = linregress(x, y)
    assert lines.least_squares[0] == pytest.approx(fit.slope)
    assert lines.major_axis[0] == pytest.approx(np.std(y) / np.std(x))
    low, slope, high = lines.on_tree[1], lines.on_tree[0], lines.on_tree[2]
    assert low < slope < high
    assert lines.over_trees is not None
    assert lines.over_trees[:2] == pytest.approx((slope, slope))


def test_groups_side_by_side_are_told_from_groups_on_one_line(world) -> None:
    members = np.arange(40) % 2 == 0
    x, y = world.bones_ln[:, 0], world.mass_ln[:, 0]
    names = ("these", "those")
    alike = compare_groups(("femur", "CD"), x, y, members=members, names=names)
    apart = compare_groups(("femur", "CD"), x + 0.5 * members, y, members=members, names=names)
    few = compare_groups(("femur", "CD"), x, y, members=np.arange(40) < 1, names=names)
    assert alike is not None
    assert apart is not None
    assert alike.elevation_p > 0.01 > apart.elevation_p
    assert few is None


def test_the_page_has_every_method_bone_and_reason(relative_rows) -> None:
    relatives, measurements, tree = relative_rows
    bones = (("femur", "CD"), ("tibiotarsus", "CD"))
    tried = try_methods(
        relatives, measurements, bones=bones, trees=(tree,), kept=frozenset(), set_aside=frozenset()
    )
    page = methods_page(tried, title="A study", invented=True)
    for score in tried.scores:
        assert f"| {score.method} |" in page
    assert "invented" in page
    assert page.count("femur CD") >= 2
    assert "nan" not in page.lower().split()


def test_bones_that_no_relative_has_cannot_be_compared(relative_rows) -> None:
    relatives, measurements, tree = relative_rows
    with pytest.raises(NotEnoughEvidence):
        try_methods(
            relatives,
            measurements,
            bones=(("femur", "GL"),),
            trees=(tree,),
            kept=frozenset(),
            set_aside=frozenset(),
        )
