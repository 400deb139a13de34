import os
import signal
import threading
import time
from dataclasses import replace

import numpy as np
import pytest

from bonewright.cluster import on_cluster
from bonewright.errors import BonewrightError
from bonewright.relatives.in_trees import TreePlace, TreeTask, in_one_process, masses_on_tree
from bonewright.study.flat_tree import FlatTree

N_SPECIES, N_TREES, N_DRAWS = 20, 24, 12


def comb(order: list[str], rng: np.random.Generator) -> FlatTree:
    """Grow a time tree that adds one species after another."""
    ages = np.sort(rng.uniform(0.1, 1.0, len(order) - 1))
    parent, length, names = [-1], [float(ages[0])], [order[0]]
    top, top_age = 0, 0.0
    for name, age in zip(order[1:], ages, strict=True):
        length[top] = float(age) - top_age
        parent += [-1, -1]
        length += [float(age), 0.0]
        tip, fork = len(parent) - 2, len(parent) - 1
        parent[top] = parent[tip] = fork
        names.append(name)
        top, top_age = fork, float(age)
    return FlatTree(parent=np.array(parent), length=np.array(length), tip_names=tuple(names))


def tasks() -> list[TreeTask]:
    rng = np.random.default_rng(7)
    species = tuple(f"Species {number}" for number in range(N_SPECIES))
    mass_ln = rng.normal(0.0, 1.2, N_SPECIES)
    bones_ln = 3.0 + 0.4 * mass_ln[:, None] + rng.normal(0, 0.06, (N_SPECIES, 3))
    first = TreeTask(
        tree=comb(list(species), rng),
        place=TreePlace(name="lost"),
        species=species,
        mass_ln=mass_ln,
        bones_ln=bones_ln,
        groups=np.zeros((N_SPECIES, 0)),
        interaction=False,
        lost_bones_ln=np.zeros((0, 3)),
        lost_groups=np.zeros(0),
        uniform=np.zeros(0),
    )
    return [
        replace(
            first,
            tree=comb(list(rng.permutation(species)), rng),
            lost_bones_ln=3.9 + rng.normal(0, 0.01, (N_DRAWS, 3)),
            uniform=rng.random(N_DRAWS),
        )
        for _ in range(N_TREES)
    ]


@pytest.mark.slow
def test_two_workers_give_the_same_numbers_even_when_one_is_killed_mid_run() -> None:
    distributed = pytest.importorskip("distributed", reason="Dask is not installed")
    work = tasks()
    here = np.concatenate([answer.mass_ln for answer in in_one_process(masses_on_tree, work)])
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        dashboard_address=None,
        silence_logs="CRITICAL",
    ) as cluster:
        workers = [worker.pid for worker in cluster.workers.values()]
        assert len(set(workers)) == 2
        killed = []

        def kill_one() -> None:
            time.sleep(1.0)
            os.kill(workers[0], signal.SIGKILL)
            killed.append(workers[0])

        with on_cluster(cluster.scheduler_address) as spread:
            executioner = threading.Thread(target=kill_one)
            executioner.start()
            rounds = []
            # Go on until the worker is dead, so that its tasks were surely under way.
            while not killed or not rounds:
                rounds.append(spread(masses_on_tree, work))
            executioner.join()
    for answers in rounds:
        assert np.array_equal(np.concatenate([answer.mass_ln for answer in answers]), here)


def test_an_address_where_nobody_answers_is_said_in_words(monkeypatch) -> None:
    pytest.importorskip("distributed", reason="Dask is not installed")
    monkeypatch.setattr("bonewright.cluster._SECONDS_TO_ANSWER", 1)
    with pytest.raises(BonewrightError), on_cluster("tcp://127.0.0.1:9"):
        pass
