"""The lost animal hung in trees, and the line of all its leg bones together."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.gathering import points_by_measurement
from bonewright.relatives.in_trees import (
    TreePlace,
    TreeTask,
    at_root,
    in_one_process,
    masses_on_tree,
    star_of,
)
from bonewright.relatives.joint_line import JointQuestion, joint_line

KEYS = (("femur", "CD"), ("tibiotarsus", "CD"))


def task_of(world, *, place: TreePlace, n_draws: int = 4000, bone_sd: float = 0.01) -> TreeTask:
    rng = np.random.default_rng(3)
    n = len(world.mass_ln)
    middle = np.array([3.5, 4.0]) + 1.0 * np.array([0.38, 0.42])
    return TreeTask(
        tree=world.tree,
        place=place,
        species=world.traversal.tip_names,
        mass_ln=world.mass_ln[:, 0],
        bones_ln=world.bones_ln,
        groups=np.zeros((n, 0)),
        interaction=False,
        lost_bones_ln=middle + bone_sd * rng.standard_normal((n_draws, 2)),
        lost_groups=np.zeros(0),
        uniform=rng.random(n_draws),
    )


@pytest.fixture(scope="module")
def world(birds):
    return birds(60, 31)


def test_draws_taken_between_a_few_sizes_are_those_worked_out_one_by_one(world) -> None:
    task = task_of(world, place=TreePlace(name="lost"), n_draws=400, bone_sd=0.03)
    together = masses_on_tree(task).mass_ln
    few = np.arange(0, 400, 50)
    singly = [
        masses_on_tree(
            replace(task, lost_bones_ln=task.lost_bones_ln[[i]], uniform=task.uniform[[i]])
        ).mass_ln[0]
        for i in few
    ]
    spread = np.std(together)
    assert together[few] == pytest.approx(np.array(singly), abs=0.06 * spread)


def test_larger_bones_mean_a_heavier_animal_draw_by_draw(world) -> None:
    task = task_of(world, place=TreePlace(name="lost"), bone_sd=0.2)
    drawn = masses_on_tree(task).mass_ln
    assert np.corrcoef(task.lost_bones_ln.sum(axis=1), drawn)[0, 1] > 0.7


def test_the_answer_does_not_depend_on_the_order_of_species_or_tasks(world) -> None:
    task = task_of(world, place=TreePlace(name="lost"), n_draws=50)
    turned = np.arange(60)[::-1]
    other = replace(
        task,
        species=tuple(np.array(task.species)[turned]),
        mass_ln=task.mass_ln[turned],
        bones_ln=task.bones_ln[turned],
        groups=task.groups[turned],
    )
    assert masses_on_tree(other).mass_ln == pytest.approx(masses_on_tree(task).mass_ln)
    one, two = in_one_process(masses_on_tree, [task, other])
    again = in_one_process(masses_on_tree, [other, task])
    assert np.array_equal(one.mass_ln, again[1].mass_ln)
    assert np.array_equal(two.mass_ln, again[0].mass_ln)


def test_kin_beside_it_move_the_mass_and_narrow_it(world) -> None:
    """A sister whose bones are thick for its mass says that the animal's are, too."""
    far = masses_on_tree(task_of(world, place=TreePlace(name="lost")))
    row = int(np.argmin(np.abs(world.mass_ln[:, 0] - 1.0)))
    height = float(np.max(world.tree.depth))
    place = TreePlace(
        name="lost",
        beside=(world.traversal.tip_names[row],),
        stem_age=(0.02 * height, 0.05 * height),
    )
    bones = world.bones_ln.copy()
    bones[row] += 0.2
    slim = masses_on_tree(task_of(world, place=place))
    stout = masses_on_tree(task_of(world._replace(bones_ln=bones), place=place))
    assert np.median(stout.mass_ln) < np.median(slim.mass_ln) - 0.1
    assert np.std(slim.mass_ln) < np.std(far.mass_ln)


def test_an_animal_that_is_a_tip_of_the_file_stays_where_it_is(world) -> None:
    hung = at_root(world.tree, "lost")
    place = TreePlace(name="lost", beside=(world.tree.tip_names[0],))
    in_file = masses_on_tree(replace(task_of(world, place=place), tree=hung)).mass_ln
    at_the_root = masses_on_tree(task_of(world, place=TreePlace(name="lost"))).mass_ln
    assert in_file == pytest.approx(at_the_root)


def test_the_root_and_the_star_keep_the_tips_as_they_were(world) -> None:
    hung = at_root(world.tree, "lost")
    assert hung.tip_names == (*world.tree.tip_names, "lost")
    assert hung.depth[hung.tip_nodes][:-1] == pytest.approx(world.tree.depth[world.tree.tip_nodes])
    star = star_of(("a", "b", "c"))
    assert star.depth[star.tip_nodes] == pytest.approx([1.0, 1.0, 1.0])


def test_a_species_beside_it_that_no_tree_has_is_named(world) -> None:
    with pytest.raises(NotEnoughEvidence) as caught:
        masses_on_tree(task_of(world, place=TreePlace(name="lost", beside=("Nobody",))))
    assert "Nobody" in str(caught.value)


def test_ages_are_refused_on_a_tree_that_tells_no_time(world, random_tree) -> None:
    crooked = random_tree(5, 60)
    task = replace(
        task_of(world, place=TreePlace(name="lost", beside=("tip 1", "tip 2"))), tree=crooked
    )
    with pytest.raises(OutsideRange):
        masses_on_tree(task)


@pytest.fixture(scope="module")
def ask(rows_of):
    return partial(_ask, rows_of)


def _ask(rows_of, world, *, mass_ln=1.0, question=None, blind=None, shift=0.0, flightless=None):
    relatives, measurements = rows_of(world, flightless=flightless)
    middle = np.array([3.5, 4.0]) + mass_ln * np.array([0.38, 0.42]) + shift
    rng = np.random.default_rng(1)
    bones = {
        key: np.exp(middle[bone] + 0.005 * rng.standard_normal(1000))
        for bone, key in enumerate(KEYS)
    }
    return joint_line(
        points_by_measurement(relatives, measurements),
        relatives,
        bone_draws_mm=bones,
        question=question or JointQuestion(trees=(world.tree,)),
        blind_species=blind,
        rng=np.random.default_rng(2),
    )


def test_the_mass_of_an_animal_that_follows_the_law_comes_back(world, ask) -> None:
    line = ask(world).line
    low, middle, high = np.quantile(np.log(line.mass_draws_kg), [0.025, 0.5, 0.975])
    assert low < 1.0 < high
    assert abs(middle - 1.0) < 0.3
    assert line.bones == KEYS
    assert {test.name for test in line.trial.tests} == {
        "a quarter left out in turn",
        "families left out",
        "heaviest fifth left out",
    }
    assert len(line.each_left_out) == 60
    assert len(line.heaviest_out) == 12


def test_a_giant_is_asked_without_its_kin_and_an_ordinary_animal_with(world, ask) -> None:
    assert ask(world, mass_ln=4.0).line.heavy_percent > 95
    assert ask(world, mass_ln=-0.5).line.heavy_percent < 20


def test_a_relative_left_out_is_foretold_without_itself(world, ask) -> None:
    names = world.traversal.tip_names
    blind = ask(world, blind=names[9]).blind
    assert blind is not None
    assert blind.known_kg == pytest.approx(np.exp(world.mass_ln[9, 0]))
    assert blind.low_kg < blind.middle_kg < blind.high_kg
    heavier = replace_mass(world, 9, 2.0)
    assert ask(heavier, blind=names[9]).blind.middle_kg == pytest.approx(blind.middle_kg, rel=0.02)


def replace_mass(world, place: int, more: float):
    mass_ln = world.mass_ln.copy()
    mass_ln[place] += more
    return world._replace(mass_ln=mass_ln)


def test_trees_share_out_the_draws_and_a_sample_of_one_tree_changes_little(world, ask) -> None:
    one = ask(world).line
    many = ask(world, question=JointQuestion(trees=(world.tree,) * 5)).line
    assert many.n_trees == 5
    assert np.median(many.mass_draws_kg) == pytest.approx(np.median(one.mass_draws_kg), rel=0.02)
    assert np.std(np.log(many.mass_draws_kg)) == pytest.approx(
        np.std(np.log(one.mass_draws_kg)), rel=0.1
    )


def test_a_group_that_is_stouter_gets_a_line_of_its_own(world, ask) -> None:
    flightless = np.arange(60) % 3 == 0
    stouter = world._replace(bones_ln=world.bones_ln + 0.35 * flightless[:, None])
    question = JointQuestion(trees=(world.tree,), flight="flightless")
    line = ask(stouter, question=question, shift=0.35, flightless=flightless).line
    assert line.trial.group.startswith("flightless")
    assert abs(np.median(np.log(line.mass_draws_kg)) - 1.0) < 0.3


def test_without_a_tree_species_are_taken_for_independent_and_it_is_said(world, ask) -> None:
    line = ask(world, question=JointQuestion()).line
    assert line.n_trees == 0
    assert "no tree" in line.placed


def test_too_few_relatives_have_no_joint_line(birds, ask) -> None:
    with pytest.raises(NotEnoughEvidence):
        ask(birds(6, 32))
