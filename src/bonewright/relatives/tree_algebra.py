"""Generalised least squares algebra on a tree, in time that grows with the tips alone.

The covariance V of the tips is never written down. What a fit needs of it - products of
the data with its inverse, its determinant, and what all other tips say of one tip - comes
out of one walk up the tree, or one up and one down (contrasts: [Felsenstein1985]_; why a
walk is enough: [HoAne2014]_).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.study.flat_tree import FlatTree

if TYPE_CHECKING:
    from bonewright.relatives.traversal_kernels import TreeArrays

__all__ = [
    "ContrastProducts",
    "EvolutionModel",
    "Traversal",
    "arrays_under",
    "conditional_on_others",
    "contrast_products_of",
    "independent_contrasts",
    "singular_tree",
    "traversal_of",
]

Model = Literal["brownian", "lambda", "ornstein-uhlenbeck"]

ONE_TIME = 1e-4
"""Tips whose distances from the root differ by no more than this share end at one time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EvolutionModel:
    """How traits drift apart along the branches.

    ``brownian``: covariance of two tips is the path they share; ``parameter`` is 1.
    ``lambda``: the same with the shared path times ``parameter`` in [0, 1], each tip's own
    variance unchanged [Pagel1999]_. ``ornstein-uhlenbeck``: covariance
    ``exp(-parameter * distance) / (2 * parameter)``, parameter (the pull) above 0, in one
    over the unit of branch length [MartinsHansen1997]_; only for trees whose tips all end
    at one time.
    """

    name: Model
    parameter: float = 1.0

    def __post_init__(self) -> None:
        allowed = {
            "brownian": self.parameter == 1.0,
            "lambda": 0.0 <= self.parameter <= 1.0,
            "ornstein-uhlenbeck": 0.0 < self.parameter < np.inf,
        }
        if not allowed[self.name]:
            raise OutsideRange(
                f"{self.parameter:g} is no parameter of the {self.name} model.",
                remedy="Lambda lies from 0 to 1; the pull of Ornstein-Uhlenbeck is above 0.",
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Traversal:
    """A tree made ready for walking: binary, postorder, tips in the tree's own order.

    ``is_tip``, ``parent``, ``length`` are (2 n_tips - 1,); ``depth`` (n_tips,) is each
    tip's distance from the root; ``height`` the greatest of them.
    """

    tip_names: tuple[str, ...]
    is_tip: NDArray[np.bool_]
    parent: NDArray[np.int64]
    length: NDArray[np.float64]
    depth: NDArray[np.float64]
    node_depth: NDArray[np.float64]
    stack_depth: int
    ultrametric: bool

    def __post_init__(self) -> None:
        for name in ("is_tip", "parent", "length", "depth", "node_depth"):
            getattr(self, name).flags.writeable = False

    @property
    def n_tips(self) -> int:
        """Number of tips."""
        return len(self.tip_names)

    @property
    def height(self) -> float:
        """Greatest distance of a tip from the root, in the unit of branch length."""
        return float(np.max(self.depth))

    def rows_of(self, names: tuple[str, ...]) -> NDArray[np.int64]:
        """Say where each tip's row stands in a table whose rows are named ``names``.

        Raises
        ------
        NotEnoughEvidence
            If a tip has no row: cut the tree down to the table's species first.
        """
        place = {name: row for row, name in enumerate(names)}
        absent = [name for name in self.tip_names if name not in place]
        if absent:
            raise NotEnoughEvidence(
                "Some tips of the tree have no row in the table.",
                needed="a row for each tip",
                found="none for " + ", ".join(absent[:5]),
                would_help="the rows, or a tree cut down to the species of the table",
            )
        return np.array([place[name] for name in self.tip_names], dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContrastProducts:
    """All that least squares with an intercept needs of data on a tree.

    With S = ``products``, m = ``root_value``, v = ``root_variance`` and the covariance V of
    the ``n`` tips: Z'inv(V)Z = S + m m'/v, 1'inv(V)Z = m/v, 1'inv(V)1 = 1/v. The root's
    value is the generalised least squares mean.
    """

    products: NDArray[np.float64]
    root_value: NDArray[np.float64]
    root_variance: float
    log_determinant: float
    n: int


def traversal_of(tree: FlatTree) -> Traversal:
    """Make a tree ready for walking.

    Raises
    ------
    NotEnoughEvidence
        If it has fewer than three tips.
    OutsideRange
        If a tip stands on the root itself, with no length at all between them.
    """
    from bonewright.relatives.traversal_kernels import binary_postorder

    if tree.n_tips < 3:
        raise NotEnoughEvidence(
            "A tree this small cannot carry a comparison.",
            needed="at least three species in the tree",
            found=str(tree.n_tips),
            would_help="more living relatives with a place in the tree",
        )
    parent, length, is_tip, origin, stack_depth = binary_postorder(tree.parent, tree.length)
    # A lone branch below the root is shared by all tips and says nothing: begin at the fork.
    depth_of_original = tree.depth
    depth_of_original -= depth_of_original[origin[-1]]
    depth = depth_of_original[origin[is_tip]]
    if np.any(depth <= 0):
        name = tree.tip_names[int(np.argmin(depth))]
        raise OutsideRange(
            f"{name} stands on the root of the tree: the branches down to it have no length.",
            remedy="Give the tree branch lengths, in time or in change.",
        )
    node_depth = np.where(origin >= 0, depth_of_original[origin], np.nan)
    # An added fork stands where the fork it belongs to stands; that one comes later.
    for node in np.flatnonzero(origin < 0)[::-1]:
        node_depth[node] = node_depth[parent[node]]
    return Traversal(
        tip_names=tree.tip_names,
        is_tip=is_tip,
        parent=parent,
        length=length,
        depth=depth,
        node_depth=node_depth,
        stack_depth=int(stack_depth),
        ultrametric=bool(np.ptp(depth) <= ONE_TIME * np.max(depth)),
    )


def arrays_under(
    traversal: Traversal,
    model: EvolutionModel,
    *,
    tip_variance: NDArray[np.float64] | None = None,
    observed: NDArray[np.bool_] | None = None,
) -> tuple["TreeArrays", float]:
    """Return the tree's arrays under a model, and the scale (lambda) that goes with them.

    ``tip_variance`` (n_tips,) is each tip's own added variance, as a multiple of the rate
    of evolution and so in the unit of branch length (the squared standard error of a
    species mean divided by the rate). ``observed`` (n_tips,) masks tips without data.

    Raises
    ------
    OutsideRange
        If Ornstein-Uhlenbeck is asked of a tree whose tips end at different times.
    """
    from bonewright.relatives.traversal_kernels import TreeArrays

    extra = np.zeros(traversal.n_tips) if tip_variance is None else np.array(tip_variance)
    seen = np.ones(traversal.n_tips, bool) if observed is None else np.array(observed)
    length, root_branch = traversal.length, 0.0
    if model.name == "ornstein-uhlenbeck":
        length, root_branch = _pulled_branches(traversal, model.parameter)
    arrays = TreeArrays(
        is_tip=traversal.is_tip,
        length=length,
        depth=traversal.depth,
        extra=extra,
        observed=seen,
        root_branch=root_branch,
        stack_depth=traversal.stack_depth,
    )
    return arrays, model.parameter if model.name == "lambda" else 1.0


def _pulled_branches(traversal: Traversal, pull: float) -> tuple[NDArray[np.float64], float]:
    """Stretch the branches so that Brownian motion on them is Ornstein-Uhlenbeck."""
    if not traversal.ultrametric:
        raise OutsideRange(
            "Ornstein-Uhlenbeck is fitted only where all tips of the tree end at one time.",
            remedy="Use a time tree of living species, or Brownian motion or lambda.",
        )
    height = traversal.height
    before_present = np.maximum(height - traversal.node_depth, 0.0)
    length = np.exp(-2 * pull * before_present) * -np.expm1(-2 * pull * traversal.length)
    length /= 2 * pull
    length.flags.writeable = False
    return length, float(np.exp(-2 * pull * height) / (2 * pull))


def singular_tree() -> OutsideRange:
    """Say that two tips stand in one place, so that no covariance can be inverted."""
    return OutsideRange(
        "Two species of the tree have no branch length between them, so that the model says"
        " they must be alike in every way.",
        remedy="Join the two species in the table, or give the tree branch lengths there.",
    )


def contrast_products_of(
    traversal: Traversal,
    values: NDArray[np.float64],
    *,
    model: EvolutionModel,
    tip_variance: NDArray[np.float64] | None = None,
    observed: NDArray[np.bool_] | None = None,
) -> ContrastProducts:
    """Sum the products of contrasts of ``values`` (n_tips, n_columns) in one walk.

    Raises
    ------
    OutsideRange
        If the covariance of the tips has no inverse (two tips in one place).
    """
    from bonewright.relatives import traversal_kernels

    arrays, scale = arrays_under(traversal, model, tip_variance=tip_variance, observed=observed)
    table = np.ascontiguousarray(values, dtype=np.float64)
    products, root_value, root_variance, log_determinant, n = traversal_kernels.contrast_products(
        arrays, scale, table
    )
    if not np.isfinite(log_determinant):
        raise singular_tree()
    return ContrastProducts(
        products=products,
        root_value=root_value,
        root_variance=root_variance,
        log_determinant=log_determinant,
        n=n,
    )


def _effective_branches(arrays: "TreeArrays", scale: float) -> NDArray[np.float64]:
    branch = scale * arrays.length
    branch[arrays.is_tip] += (1.0 - scale) * arrays.depth + arrays.extra
    return branch


def conditional_on_others(
    traversal: Traversal,
    values: NDArray[np.float64],
    *,
    model: EvolutionModel,
    tip_variance: NDArray[np.float64] | None = None,
    observed: NDArray[np.bool_] | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Say what all other observed tips say of each tip, in two walks.

    Returns mean (n_tips, n_columns), in the unit of ``values``, and variance (n_tips,), as
    a multiple of the rate of evolution, of each tip given every *other* observed tip, the
    mean of the group being unknown. Rows of unobserved tips may hold anything.

    Notes
    -----
    With an unknown mean these are the simple leave-one-out predictions: for an observed
    tip, (value - mean)/variance is that row of Q z and 1/variance that diagonal of Q,
    Q = inv(V) - inv(V) 1 inv(1'inv(V)1) 1'inv(V), without Q being made.
    """
    from bonewright.relatives import traversal_kernels

    arrays, scale = arrays_under(traversal, model, tip_variance=tip_variance, observed=observed)
    table = np.where(arrays.observed[:, None], values, 0.0)
    mean, variance = traversal_kernels.conditional_values(
        arrays.is_tip, traversal.parent, _effective_branches(arrays, scale), arrays.observed, table
    )
    if np.any(variance[arrays.observed] <= 0):
        raise singular_tree()
    return mean, variance


def independent_contrasts(
    traversal: Traversal,
    values: NDArray[np.float64],
    *,
    model: EvolutionModel | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return standardised contrasts (n_tips - 1, n_columns) and their variances.

    The order is that of the forks, children before parents; the sign of a contrast means
    nothing. Forks of several branches are resolved in the order of the file by branches
    of no length: single contrasts then depend on the order, sums of products do not.
    Source: [Felsenstein1985]_.
    """
    from bonewright.relatives import traversal_kernels

    arrays, scale = arrays_under(traversal, model or EvolutionModel(name="brownian"))
    raw, variance = traversal_kernels.contrasts(
        arrays.is_tip,
        _effective_branches(arrays, scale),
        np.ascontiguousarray(values, dtype=np.float64),
        arrays.stack_depth,
    )
    if np.any(variance <= 0):
        raise singular_tree()
    return raw / np.sqrt(variance)[:, None], variance
