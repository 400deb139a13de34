"""Fits over a sample of trees: what not knowing the one true tree does to the answer.

Every tree of the sample gets its own lambda and its own coefficients, for every choice of
measurements, in one compiled batch spread over the machine's cores.
"""

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.dependence import refuse_dependent
from bonewright.relatives.likelihood_on_tree import Method
from bonewright.relatives.tree_algebra import Traversal, singular_tree, traversal_of
from bonewright.study.flat_tree import FlatTree

__all__ = ["TreeSampleFits", "fit_over_trees"]

Item = TypeVar("Item")

LOG_TWO_PI = float(np.log(2 * np.pi))
TREES_AT_ONCE = 256
"""How many trees are held in memory together."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TreeSampleFits:
    """Fits of each choice of columns on each tree.

    ``scale`` (lambda), ``log_likelihood``, ``rate`` are (n_trees, n_choices);
    ``coefficients`` and ``standard_errors`` (n_trees, n_choices, n_predictors + 1),
    intercept first, in the units of the table.
    """

    scale: NDArray[np.float64]
    log_likelihood: NDArray[np.float64]
    rate: NDArray[np.float64]
    coefficients: NDArray[np.float64]
    standard_errors: NDArray[np.float64]


def fit_over_trees(
    trees: Iterable[FlatTree],
    table: NDArray[np.float64],
    *,
    row_names: tuple[str, ...],
    choices: Sequence[Sequence[int]],
    method: Method = "ml",
    workers: int = 2,
) -> TreeSampleFits:
    """Fit lambda and a line for every choice of columns on every tree.

    Parameters
    ----------
    trees : iterable of FlatTree
        All with the same tips, in any order. They are taken a few hundred at a time, so a
        reader of a long file may be given.
    table : (n_rows, n_columns) float
        One row a species, named by ``row_names``; rows of no tip are left alone.
    choices : sequence of sequences of int
        Columns of each fit: its predictors, then its response. All equally long.
    method : {'ml', 'reml'}
    workers : int
        Threads. The numbers do not depend on it.

    Raises
    ------
    NotEnoughEvidence
        If there is no tree, a tip has no row, or there are too few tips.
    OutsideRange
        If the trees differ in their tips, a value is no finite number, a predictor does
        not vary, or a tree puts two species in one place.
    """
    columns = np.array(choices, dtype=np.int64)
    parts: list[TreeSampleFits] = []
    species: NDArray[np.int64] | None = None
    with ThreadPoolExecutor(max_workers=workers) as pool:
        for batch in _batches(trees, TREES_AT_ONCE):
            joined = []
            for tree in batch:
                traversal = traversal_of(tree)
                rows = traversal.rows_of(row_names)
                if species is None:
                    species = np.sort(rows)
                    _refuse_unusable(table[species], columns)
                if not np.array_equal(np.sort(rows), species):
                    raise OutsideRange(
                        "The trees of the sample do not all hold the same species.",
                        remedy="Cut them down to the species they share.",
                    )
                joined.append((traversal, rows))
            pieces = list(_batches(joined, -(-len(batch) // workers)))
            parts += pool.map(lambda piece: _fit_batch(piece, table, columns, method), pieces)
    if not parts:
        raise NotEnoughEvidence(
            "No tree was given.",
            needed="at least one tree",
            found="none",
            would_help="a tree file with the living relatives",
        )
    return TreeSampleFits(
        scale=np.concatenate([part.scale for part in parts]),
        log_likelihood=np.concatenate([part.log_likelihood for part in parts]),
        rate=np.concatenate([part.rate for part in parts]),
        coefficients=np.concatenate([part.coefficients for part in parts]),
        standard_errors=np.concatenate([part.standard_errors for part in parts]),
    )


def _batches(items: Iterable[Item], size: int) -> Iterator[list[Item]]:
    iterator = iter(items)
    while batch := list(islice(iterator, size)):
        yield batch


def _refuse_unusable(used: NDArray[np.float64], columns: NDArray[np.int64]) -> None:
    """Refuse what no tree could make good; ``used`` holds the rows of the trees' tips."""
    if not np.all(np.isfinite(used[:, np.unique(columns)])):
        raise OutsideRange(
            "A measurement used on the trees is not a finite number.",
            remedy="Leave the species out, or measure it.",
        )
    needed = columns.shape[1] + 2
    if used.shape[0] < needed:
        raise NotEnoughEvidence(
            "There are too few species for this fit.",
            needed=f"at least {needed} species in the trees",
            found=str(used.shape[0]),
            would_help="more living relatives",
        )
    for choice in columns:
        refuse_dependent(used[:, choice], columns.shape[1] - 1)


def _fit_batch(
    joined: Sequence[tuple[Traversal, NDArray[np.int64]]],
    table: NDArray[np.float64],
    columns: NDArray[np.int64],
    method: Method,
) -> TreeSampleFits:
    from bonewright.relatives import traversal_kernels

    stacked = [
        np.stack([getattr(traversal, name) for traversal, _ in joined])
        for name in ("is_tip", "length", "depth")
    ]
    for array in stacked:
        array.flags.writeable = False  # as in a single tree, so that one compilation serves
    is_tip, length, depth = stacked
    k = columns.shape[1] - 1
    scale, lowest, products, root_value, root_variance = traversal_kernels.fit_scales(
        is_tip,
        length,
        depth,
        np.array([traversal.stack_depth for traversal, _ in joined]),
        np.stack([rows for _, rows in joined]),
        columns,
        np.ascontiguousarray(table, dtype=np.float64),
        k,
        method == "reml",
    )
    if not np.all(np.isfinite(lowest)):
        raise singular_tree()
    n_tips = joined[0][0].n_tips
    freedom = n_tips - k - 1
    inverse = np.linalg.inv(products[..., :k, :k])
    slopes = (inverse @ products[..., :k, k:])[..., 0]
    root = root_value[..., :k]
    unexplained = products[..., k, k] - np.sum(slopes * products[..., :k, k], axis=-1)
    rate = unexplained / freedom
    intercept = root_value[..., k] - np.sum(slopes * root, axis=-1)
    lever = root_variance + np.einsum("...i,...ij,...j->...", root, inverse, root)
    variance = np.concatenate([lever[..., None], np.diagonal(inverse, axis1=-2, axis2=-1)], axis=-1)
    counted = n_tips if method == "ml" else freedom
    return TreeSampleFits(
        scale=scale,
        log_likelihood=-0.5 * (lowest + counted * LOG_TWO_PI),
        rate=rate,
        coefficients=np.concatenate([intercept[..., None], slopes], axis=-1),
        standard_errors=np.sqrt(rate[..., None] * variance),
    )
