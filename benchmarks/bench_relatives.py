"""How fast fits on trees are: ours beside dense least squares and the recorded reference.

Run with ``python benchmarks/bench_relatives.py`` (about two minutes). Every time is the
least of several runs after the first, which compiles. Ours, which use one thread unless
said otherwise, are processor seconds, so that other work on the machine does not count;
dense algebra uses every core and is timed by the clock on the wall, which is fair on an
idle machine only: the load is printed. Give dense algebra its best: unset
``OPENBLAS_CORETYPE`` where the machine sets it.
"""

import argparse
import json
import os
import platform
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bonewright.relatives.inverse_calibration import calibrate_each_left_out
from bonewright.relatives.many_traits import fit_many_traits
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.phylogenetic_prediction import leave_each_out, leave_groups_out
from bonewright.relatives.tree_algebra import (
    EvolutionModel,
    Traversal,
    contrast_products_of,
    traversal_of,
)
from bonewright.relatives.tree_samples import fit_over_trees
from bonewright.relatives.two_covariances import fit_two_covariances
from bonewright.study.flat_tree import FlatTree

REPOSITORY = Path(__file__).parents[1]
REFERENCE = Path(os.environ.get("BONEWRIGHT_REFERENCE", REPOSITORY.parent / "shared/reference"))


def coalescent(n_tips: int, rng: np.random.Generator) -> FlatTree:
    """Grow a random time tree of height about 1 by joining lineages backward in time."""
    waits = rng.exponential(size=n_tips - 1) * 2 / np.arange(n_tips, 1, -1)
    ages = np.concatenate([np.zeros(n_tips), np.cumsum(waits / np.arange(n_tips, 1, -1) * n_tips)])
    ages /= ages[-1]
    standing = list(range(n_tips))
    children: list[tuple[int, int] | None] = [None] * n_tips
    for fork in range(n_tips, 2 * n_tips - 1):
        pair = []
        for _ in range(2):
            place = int(rng.integers(len(standing)))
            standing[place], standing[-1] = standing[-1], standing[place]
            pair.append(standing.pop())
        children.append((pair[0], pair[1]))
        standing.append(fork)
    order: list[int] = []
    waiting = [2 * n_tips - 2]
    while waiting:  # parents before children; turned round this is a postorder
        node = waiting.pop()
        order.append(node)
        waiting.extend(children[node] or ())
    order.reverse()
    place_of = {node: place for place, node in enumerate(order)}
    parent = np.full(2 * n_tips - 1, -1)
    length = np.zeros(2 * n_tips - 1)
    names = []
    for node in order:
        here = place_of[node]
        if children[node] is None:
            names.append(f"t{node}")
        for child in children[node] or ():
            parent[place_of[child]] = here
            length[place_of[child]] = ages[node] - ages[child]
    return FlatTree(parent=parent, length=length, tip_names=tuple(names))


def traits(tree: FlatTree, n: int, *, scale: float, rng: np.random.Generator) -> NDArray:
    """Let ``n`` traits evolve along the tree; ``scale`` is the lambda they end up with."""
    value = np.zeros((tree.parent.size, n))
    step = rng.normal(size=value.shape) * np.sqrt(tree.length)[:, None]
    for node in range(tree.parent.size - 2, -1, -1):
        value[node] = value[tree.parent[node]] + step[node]
    tips = value[tree.tip_nodes]
    own = rng.normal(size=tips.shape) * np.sqrt(tree.depth[tree.tip_nodes])[:, None]
    return np.sqrt(scale) * tips + np.sqrt(1 - scale) * own


def least_time(
    call: Callable[[], object], repeats: int = 5, *, clock: Callable[[], float] = time.process_time
) -> float:
    call()
    times = []
    for _ in range(repeats):
        begin = clock()
        call()
        times.append(clock() - begin)
    return min(times)


def problem(n_tips: int, seed: int) -> tuple[FlatTree, Traversal, NDArray, NDArray]:
    rng = np.random.default_rng(seed)
    tree = coalescent(n_tips, rng)
    x, error = traits(tree, 2, scale=0.7, rng=rng).T
    return tree, traversal_of(tree), x[:, None], 0.4 * x + 0.3 * error


def beside_dense(sizes: tuple[int, ...]) -> None:
    print("\nOne evaluation of the log likelihood at lambda 0.7, one predictor (ms)")
    print(f"{'tips':>8} {'walk':>9} {'dense GLS':>10} {'of which factor':>15} {'times':>7}")
    from statsmodels.regression.linear_model import GLS

    for n_tips in sizes:
        tree, traversal, x, y = problem(n_tips, n_tips)
        values = np.column_stack([x, y])
        model = EvolutionModel(name="lambda", parameter=0.7)
        walk = least_time(
            lambda t=traversal, v=values, m=model: contrast_products_of(t, v, model=m)
        )
        covariance = 0.7 * shared_paths(tree)
        np.fill_diagonal(covariance, traversal.depth)
        design = np.column_stack([np.ones(n_tips), x])
        dense = least_time(
            lambda y=y, d=design, c=covariance: GLS(y, d, sigma=c).fit().llf,
            3,
            clock=time.perf_counter,
        )
        factor = least_time(lambda c=covariance: np.linalg.cholesky(c), 3, clock=time.perf_counter)
        ours = fit_on_tree(traversal, x, y, parameter=0.7).log_likelihood
        theirs = GLS(y, design, sigma=covariance).fit().llf
        if not np.isclose(ours, theirs, rtol=1e-8):
            raise SystemExit(f"the two disagree at {n_tips} tips: {ours} and {theirs}")
        print(
            f"{n_tips:8d} {1e3 * walk:9.3f} {1e3 * dense:10.1f} {1e3 * factor:15.1f}"
            f" {dense / walk:7.0f}"
        )


def shared_paths(tree: FlatTree) -> NDArray:
    """Write down the covariance the dense method needs (not timed)."""
    first: dict[int, int] = {}
    position = {node: tip for tip, node in enumerate(tree.tip_nodes.tolist())}
    shared = np.zeros((tree.n_tips, tree.n_tips))
    depth = tree.depth
    seen = 0
    spans: dict[int, tuple[int, int]] = {}
    for node in range(tree.parent.size):
        if node in position:
            spans[node] = (seen, seen + 1)
            seen += 1
        else:
            start = first[node]
            spans[node] = (start, seen)
            shared[start:seen, start:seen] = np.maximum(shared[start:seen, start:seen], depth[node])
        mother = int(tree.parent[node])
        first.setdefault(mother, spans[node][0])
    return shared


def growth(sizes: tuple[int, ...]) -> None:
    print("\nLambda by maximum likelihood, one predictor, coefficients and errors with it")
    print(f"{'tips':>8} {'fit (ms)':>10} {'us a tip':>9} {'lambda':>7}")
    times = []
    for n_tips in sizes:
        _, traversal, x, y = problem(n_tips, n_tips)
        times.append(least_time(lambda t=traversal, x=x, y=y: fit_on_tree(t, x, y), 5))
        scale = fit_on_tree(traversal, x, y).model.parameter
        print(f"{n_tips:8d} {1e3 * times[-1]:10.3f} {1e6 * times[-1] / n_tips:9.3f} {scale:7.3f}")
    exponent = np.polyfit(np.log(sizes), np.log(times), 1)[0]
    print(f"time grows as tips to the power {exponent:.3f} (asked: at most 1.1)")


def recorded_reference() -> None:
    print("\nRecorded linear-time reference at 10,000 tips (asked: ours at most 1/5 of it)")
    path = REFERENCE / "phylogenetic_fits.json"
    recorded = {}
    if path.exists():
        recorded = json.loads(path.read_text(encoding="utf-8")).get("times", {})
    seconds = recorded.get("lambda_fit_10000_tips_s")
    if seconds is None:
        print("no time is recorded in the reference folder: this comparison cannot be made")
        return
    _, traversal, x, y = problem(10_000, 10_000)
    ours = least_time(lambda: fit_on_tree(traversal, x, y))
    print(f"reference {seconds:.4f} s, ours {ours:.4f} s: {ours / seconds:.3f} of it")


def many_trees(n_trees: int, n_tips: int, n_bones: int, workers: int) -> None:
    rng = np.random.default_rng(1)
    trees = [coalescent(n_tips, rng) for _ in range(n_trees)]
    names = trees[0].tip_names
    table = traits(trees[0], n_bones + 1, scale=0.7, rng=rng)
    choices = tuple((n_bones, bone) for bone in range(n_bones))
    fit_over_trees(trees[:2], table, row_names=names, choices=choices)
    begin = time.perf_counter()
    fits = fit_over_trees(trees, table, row_names=names, choices=choices, workers=workers)
    spent = time.perf_counter() - begin
    print(
        f"\n{n_trees:,} trees x {n_tips} tips x {n_bones} bones, lambda by ML each,"
        f" {workers} threads: {spent:.2f} s (asked: under 5 s);"
        f" lambda {np.min(fits.scale):.2f} to {np.max(fits.scale):.2f}"
    )


def leaving_out(n_tips: int) -> None:
    _, traversal, x, y = problem(n_tips, n_tips)
    fit = fit_on_tree(traversal, x, y)
    kept = least_time(lambda: leave_each_out(fit))
    groups = np.eye(n_tips, dtype=bool)
    refitted = least_time(lambda: leave_groups_out(traversal, x, y, groups=groups), 1)
    many = fit_many_traits(traversal, x, np.column_stack([y, y + x[:, 0] ** 2, -(y**2)]))
    calibrated = least_time(lambda: calibrate_each_left_out(many), 2)
    print(
        f"\nEvery one of {n_tips} species left out: {1e3 * kept:.1f} ms with lambda kept,"
        f" {refitted:.2f} s with lambda refitted each time,"
        f" {1e3 * calibrated:.0f} ms for inverse calibration from three bones"
    )


def joint_growth(sizes: tuple[int, ...]) -> None:
    print("\nJoint model of three bones, two covariances, t10 tails, from scratch")
    print(f"{'tips':>8} {'fit (s)':>10} {'us a tip':>9}")
    times = []
    for n_tips in sizes:
        rng = np.random.default_rng(n_tips)
        tree = coalescent(n_tips, rng)
        bones = traits(tree, 3, scale=0.7, rng=rng)
        mass_ln = rng.normal(size=(n_tips, 1))
        traversal = traversal_of(tree)

        def fit(t=traversal, x=mass_ln, y=0.3 * bones + 0.4 * mass_ln) -> None:
            fit_two_covariances(t, x, y, tail_freedom=10.0)

        times.append(least_time(fit, 2))
        print(f"{n_tips:8d} {times[-1]:10.3f} {1e6 * times[-1] / n_tips:9.1f}")
    exponent = np.polyfit(np.log(sizes), np.log(times), 1)[0]
    print(f"time grows as tips to the power {exponent:.3f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small sizes only")
    quick = parser.parse_args().quick
    print(f"{platform.machine()}, {os.cpu_count()} cores, numpy {np.__version__}")
    print(f"load of the machine over the last minute: {os.getloadavg()[0]:.1f}")
    print(f"OPENBLAS_CORETYPE: {os.environ.get('OPENBLAS_CORETYPE', 'not set')}")
    beside_dense((100, 300, 1000) if quick else (100, 300, 1000, 3000))
    growth((1_000, 10_000) if quick else (1_000, 10_000, 100_000, 1_000_000))
    joint_growth((1_000, 10_000) if quick else (1_000, 10_000, 100_000))
    recorded_reference()
    many_trees(100 if quick else 1000, 300, 6, workers=2)
    leaving_out(400)


if __name__ == "__main__":
    main()
