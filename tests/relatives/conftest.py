"""Random trees, and the plain dense algebra that the walks over the tree must equal."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from bonewright.findings import RowRef
from bonewright.relatives.tree_algebra import Traversal, traversal_of
from bonewright.study.flat_tree import FlatTree
from bonewright.study.model import Relative, RelativeMeasurement


def _random_tree(
    seed: int, n_tips: int, *, polytomies: bool = False, zeros: bool = False, timed: bool = False
) -> FlatTree:
    """Grow a random tree; ``zeros`` takes all length from some inner branches."""
    rng = np.random.default_rng(seed)
    parent: list[int] = []
    length: list[float] = []

    def grow(size: int) -> int:
        if size == 1:
            parent.append(-1)
            length.append(float(rng.exponential()) + 0.05)
            return len(parent) - 1
        n_parts = int(rng.integers(2, min(size, 5) + 1)) if polytomies else 2
        cuts = np.sort(rng.choice(np.arange(1, size), n_parts - 1, replace=False))
        sizes = np.diff(np.concatenate([[0], cuts, [size]]))
        children = [grow(int(part)) for part in sizes]
        parent.append(-1)
        length.append(0.0 if zeros and rng.random() < 0.3 else float(rng.exponential()))
        for child in children:
            parent[child] = len(parent) - 1
        return len(parent) - 1

    grow(n_tips)
    tree = FlatTree(
        parent=np.array(parent),
        length=np.array(length),
        tip_names=tuple(f"tip {number}" for number in range(n_tips)),
    )
    if not timed:
        return tree
    stretched = tree.length.copy()
    depth = tree.depth
    stretched[tree.tip_nodes] += np.max(depth) - depth[tree.tip_nodes]
    return FlatTree(parent=tree.parent, length=stretched, tip_names=tree.tip_names)


def _shared_paths(tree: FlatTree) -> np.ndarray:
    """Write down the matrix of shared path lengths between tips."""
    ancestors = []
    for node in tree.tip_nodes:
        path = []
        while tree.parent[node] >= 0:
            path.append(int(node))
            node = int(tree.parent[node])
        ancestors.append(set(path))
    n = len(ancestors)
    return np.array(
        [[sum(tree.length[list(ancestors[i] & ancestors[j])]) for j in range(n)] for i in range(n)]
    )


@pytest.fixture(scope="session")
def random_tree() -> Callable[..., FlatTree]:
    return _random_tree


@pytest.fixture(scope="session")
def shared_paths() -> Callable[[FlatTree], np.ndarray]:
    return _shared_paths


DESCENT = np.array([[0.020, 0.012], [0.012, 0.015]])
OWN = np.array([[0.006, -0.002], [-0.002, 0.004]])
"""Covariances of two bones' deviations in simulated birds, over the tree's height."""


class SimulatedBirds(NamedTuple):
    """A time tree, ln masses (n, 1) and two ln bones (n, 2) of its tips."""

    tree: FlatTree
    traversal: Traversal
    mass_ln: NDArray[np.float64]
    bones_ln: NDArray[np.float64]


@pytest.fixture(scope="session")
def birds() -> Callable[..., SimulatedBirds]:
    """Let two bones follow mass, with deviations by descent and of each species' own.

    ``evolving`` lets mass itself evolve along the tree; otherwise each species draws its own.
    """

    def simulate(n: int, seed: int, *, evolving: bool = False) -> SimulatedBirds:
        tree = _random_tree(seed, n, timed=True)
        rng = np.random.default_rng(seed + 100)
        step = np.sqrt(tree.length / np.max(tree.depth))[:, None]
        value = step * rng.normal(size=(tree.parent.size, 3))
        for node in range(tree.parent.size - 2, -1, -1):
            value[node] += value[tree.parent[node]]
        drift = value[tree.tip_nodes]
        mass_ln = 1.2 * rng.normal(size=(n, 1))
        if evolving:
            mass_ln = 1.5 * drift[:, [2]] + 0.25 * mass_ln
        bones_ln = np.array([3.5, 4.0]) + mass_ln * np.array([0.38, 0.42])
        bones_ln = bones_ln + drift[:, :2] @ np.linalg.cholesky(DESCENT).T
        bones_ln = bones_ln + rng.normal(size=(n, 2)) @ np.linalg.cholesky(OWN).T
        return SimulatedBirds(tree, traversal_of(tree), mass_ln, bones_ln)

    return simulate


@pytest.fixture(scope="session")
def true_covariances() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return those of the simulated birds: by descent over the tree's height, and own."""
    return DESCENT, OWN


KEYS = (("femur", "CD"), ("tibiotarsus", "CD"))


def _rows_of(
    world: SimulatedBirds, *, flightless: NDArray[np.bool_] | None = None
) -> tuple[list[Relative], list[RelativeMeasurement]]:
    """Write simulated birds as rows: two least circumferences each, families of eight."""
    relatives, measurements = [], []
    for place, name in enumerate(world.traversal.tip_names):
        relatives.append(
            Relative(
                ref=RowRef(table="relatives", row=place + 2, row_id=name),
                species=name,
                family=f"Family {place // 8}",
                locomotion="walker",
                flight="flightless" if flightless is not None and flightless[place] else "flying",
                body_mass_kg=float(np.exp(world.mass_ln[place, 0])),
                n_weighed=None,
                source_id=None,
            )
        )
        for bone, (element, code) in enumerate(KEYS):
            row_id = f"{name} {element}"
            measurements.append(
                RelativeMeasurement(
                    ref=RowRef(table="relative_measurements", row=place + 2, row_id=row_id),
                    species=name,
                    element=element,
                    code=code,
                    value_mm=float(np.exp(world.bones_ln[place, bone])),
                    n_measured=None,
                    source_id=None,
                )
            )
    return relatives, measurements


@pytest.fixture(scope="session")
def rows_of() -> Callable[..., tuple[list[Relative], list[RelativeMeasurement]]]:
    return _rows_of


@pytest.fixture(scope="session")
def relative_rows(
    birds: Callable[..., SimulatedBirds],
) -> tuple[list[Relative], list[RelativeMeasurement], FlatTree]:
    """Return the rows of 40 simulated birds, every third flightless, and their tree."""
    world = birds(40, 52)
    return *_rows_of(world, flightless=np.arange(40) % 3 == 0), world.tree
