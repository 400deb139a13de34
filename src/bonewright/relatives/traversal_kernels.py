"""Compiled loops over a tree: the inside of :mod:`bonewright.relatives.tree_algebra`.

Only arrays and numbers here; nothing checks its input. Each loop visits every node once,
so time and memory grow in proportion to the number of tips, and no matrix of tips by tips
is ever made (the traversal of [HoAne2014]_, written as running contrasts, which do not
lose digits when branches are short).

Importing this module loads numba, so it is imported where it is used. Loops that call each
other stay together in this one long file, for the reason :mod:`bonewright.compiling` gives.

Every tree here is binary: a fork of several branches was resolved by branches of length 0.
The effective branch above a node is ``scale * length`` and, for a tip,
``scale * length + (1 - scale) * depth + extra``: scale is Pagel's lambda, 1 for Brownian
motion; extra is the tip's own variance (sampling error). ``inf`` marks 'nothing known'.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bonewright.compiling import Flags, Floats, Integers, compiled, compiled_inside

__all__ = [
    "Descent",
    "Evaluated",
    "Question",
    "TreeArrays",
    "best_factors",
    "best_scale",
    "binary_postorder",
    "conditional_values",
    "contrast_products",
    "contrasts",
    "fit_scales",
    "fit_scales_without_each",
    "height_and_slope",
    "objective",
    "walks_at_scales",
]


GOLDEN = 0.3819660112501051
LARGE = 1e150
SCAN_STEPS = 8
NEXT_TO_END = 1e-5
SCALE_TOLERANCE = 3e-8
ENOUGH_FALL = 1e-4
SHORTEST_STEP = 1e-10


class TreeArrays(NamedTuple):
    """One binary tree: nodes in postorder, tips in the order they stand among the nodes.

    ``is_tip`` and ``length`` are (n_nodes,); ``depth`` (distance from the root), ``extra``
    and ``observed`` (n_tips,); ``root_branch`` is added to the variance at the root.
    """

    is_tip: Flags
    length: Floats
    depth: Floats
    extra: Floats
    observed: Flags
    root_branch: float
    stack_depth: int


class Question(NamedTuple):
    """What is fitted: ``values`` (n_tips, n_columns), predictors first, then responses.

    The intercept is understood. ``known_rate`` is the rate of evolution where it is given
    (one response only), 0 where it takes its best value.
    """

    values: Floats
    n_predictors: int
    restricted: bool
    known_rate: float


@compiled
def binary_postorder(
    parent: Integers, length: Floats
) -> tuple[Integers, Floats, Flags, Integers, int]:
    """Resolve many-branched forks, and skip nodes with one child.

    Returns parent, length, is_tip and origin (the original node, -1 for an added fork) of
    the binary tree in postorder, and how deep a stack the traversal needs.
    """
    n_nodes = parent.size
    n_children = np.zeros(n_nodes, np.int64)
    for node in range(n_nodes - 1):
        n_children[parent[node]] += 1
    n_tips = 0
    for node in range(n_nodes):
        if n_children[node] == 0:
            n_tips += 1
    size = 2 * n_tips - 1
    new_parent = np.full(size, -1, np.int64)
    new_length = np.zeros(size)
    is_tip = np.zeros(size, np.bool_)
    origin = np.full(size, -1, np.int64)
    seen = np.zeros(n_nodes, np.int64)
    pending = np.full(n_nodes, -1, np.int64)  # the new node that gathers the children so far
    at = 0
    held = 0
    deepest = 0
    for node in range(n_nodes):
        if n_children[node] == 0:
            here = at
            is_tip[here] = True
            new_length[here] = length[node]
            origin[here] = node
            at += 1
            held += 1
            deepest = max(deepest, held)
        else:
            here = pending[node]
            new_length[here] += length[node]
            if n_children[node] > 1:
                origin[here] = node
        if node == n_nodes - 1:
            break
        mother = parent[node]
        seen[mother] += 1
        if seen[mother] == 1:
            pending[mother] = here
        else:
            fork = at
            at += 1
            held -= 1
            new_parent[pending[mother]] = fork
            new_parent[here] = fork
            pending[mother] = fork
    new_length[size - 1] = 0.0
    return new_parent, new_length, is_tip, origin, deepest


@compiled
def contrast_products(
    tree: TreeArrays, scale: float, values: Floats
) -> tuple[Floats, Floats, float, float, int]:
    """Sum products of standardised contrasts over the tree.

    Returns the sums (n_columns, n_columns), the root's value (n_columns,), the root's
    variance, the log determinant of the tips' covariance, and the number of tips seen.
    Together they are enough for every generalised least squares on these columns with an
    intercept. A determinant of 0 comes back as log determinant -inf.
    """
    n_columns = values.shape[1]
    mean = np.empty((tree.stack_depth + 1, n_columns))
    variance = np.empty(tree.stack_depth + 1)
    product = np.zeros((n_columns, n_columns))
    difference = np.empty(n_columns)
    log_determinant = 0.0
    running = 1.0
    n_seen = 0
    top = -1
    tip = 0
    for node in range(tree.is_tip.size):
        branch = scale * tree.length[node]
        if tree.is_tip[node]:
            top += 1
            if tree.observed[tip]:
                n_seen += 1
                for column in range(n_columns):
                    mean[top, column] = values[tip, column]
                variance[top] = branch + (1.0 - scale) * tree.depth[tip] + tree.extra[tip]
            else:
                variance[top] = np.inf
            tip += 1
            continue
        first = variance[top - 1]
        second = variance[top]
        top -= 1
        if second == np.inf:
            variance[top] = first + branch
            continue
        if first == np.inf:
            for column in range(n_columns):
                mean[top, column] = mean[top + 1, column]
            variance[top] = second + branch
            continue
        total = first + second
        if total <= 0.0:
            log_determinant = -np.inf
            variance[top] = branch
            continue
        running *= total
        if running > LARGE or running < 1.0 / LARGE:
            log_determinant += np.log(running)
            running = 1.0
        inverse = 1.0 / total
        share = first * inverse
        for column in range(n_columns):
            difference[column] = mean[top + 1, column] - mean[top, column]
            mean[top, column] += share * difference[column]
        for column in range(n_columns):
            weighted = inverse * difference[column]
            for other in range(column + 1):
                product[column, other] += weighted * difference[other]
        variance[top] = share * second + branch
    for column in range(n_columns):
        for other in range(column):
            product[other, column] = product[column, other]
    root_variance = variance[0] + tree.root_branch
    if root_variance <= 0.0:
        log_determinant = -np.inf
    else:
        log_determinant += np.log(running) + np.log(root_variance)
    return product, mean[0].copy(), root_variance, log_determinant, n_seen


@compiled
def contrasts(
    is_tip: Flags, branch: Floats, values: Floats, stack_depth: int
) -> tuple[Floats, Floats]:
    """List the contrasts themselves, in postorder of their forks.

    ``branch`` (n_nodes,) is the effective branch. Returns raw contrasts (n_tips - 1,
    n_columns), second child less first, and their variances (n_tips - 1,).
    """
    n_columns = values.shape[1]
    n_tips = values.shape[0]
    mean = np.empty((stack_depth + 1, n_columns))
    variance = np.empty(stack_depth + 1)
    difference = np.zeros((n_tips - 1, n_columns))
    contrast_variance = np.zeros(n_tips - 1)
    top = -1
    tip = 0
    fork = 0
    for node in range(is_tip.size):
        if is_tip[node]:
            top += 1
            mean[top] = values[tip]
            variance[top] = branch[node]
            tip += 1
            continue
        first = variance[top - 1]
        second = variance[top]
        top -= 1
        total = first + second
        share = first / total if total > 0.0 else 0.5
        for column in range(n_columns):
            difference[fork, column] = mean[top + 1, column] - mean[top, column]
            mean[top, column] += share * difference[fork, column]
        contrast_variance[fork] = total
        variance[top] = share * second + branch[node]
        fork += 1
    return difference, contrast_variance


@compiled_inside
def _combined(
    first_mean: Floats, first: float, second_mean: Floats, second: float, mean: Floats
) -> float:
    """Join two independent readings of one value; write the mean, return the variance."""
    if first == np.inf:
        mean[:] = second_mean
        return second
    if second == np.inf:
        mean[:] = first_mean
        return first
    total = first + second
    share = first / total if total > 0.0 else 0.5
    for column in range(mean.size):
        mean[column] = first_mean[column] + share * (second_mean[column] - first_mean[column])
    return share * second


@compiled
def conditional_values(
    is_tip: Flags, parent: Integers, branch: Floats, observed: Flags, values: Floats
) -> tuple[Floats, Floats]:
    """Say of every tip what all *other* observed tips say of it.

    ``branch`` (n_nodes,) is the effective branch. Up the tree, then down: mean (n_tips,
    n_columns) and variance (n_tips,), in the unit of branch, of each tip given all other
    observed tips, nothing being known of the root beforehand.
    """
    n_nodes = is_tip.size
    n_columns = values.shape[1]
    up_mean = np.zeros((n_nodes, n_columns))
    up = np.empty(n_nodes)  # seen from the top of the node's branch
    first_child = np.full(n_nodes, -1, np.int64)
    second_child = np.full(n_nodes, -1, np.int64)
    tip = 0
    for node in range(n_nodes):
        if is_tip[node]:
            up_mean[node] = values[tip]
            up[node] = branch[node] if observed[tip] else np.inf
            tip += 1
        else:
            one = first_child[node]
            two = second_child[node]
            up[node] = branch[node] + _combined(
                up_mean[one], up[one], up_mean[two], up[two], up_mean[node]
            )
        mother = parent[node]
        if mother >= 0:
            if first_child[mother] < 0:
                first_child[mother] = node
            else:
                second_child[mother] = node
    tip_mean = np.zeros((tip, n_columns))
    tip_variance = np.empty(tip)
    down_mean = np.zeros((n_nodes, n_columns))
    down = np.full(n_nodes, np.inf)  # all else, seen from the node itself
    for node in range(n_nodes - 1, -1, -1):
        mother = parent[node]
        if mother >= 0:
            sister = first_child[mother]
            if sister == node:
                sister = second_child[mother]
            down[node] = branch[node] + _combined(
                down_mean[mother], down[mother], up_mean[sister], up[sister], down_mean[node]
            )
        if is_tip[node]:
            tip -= 1
            tip_mean[tip] = down_mean[node]
            tip_variance[tip] = down[node]
    return tip_mean, tip_variance


@compiled_inside
def _log_pivots(product: Floats, n_predictors: int) -> tuple[float, float]:
    """Log determinant of the predictors' block, and of what the responses leave over it.

    ``product`` is overwritten by its Cholesky factor. A pivot that vanishes gives -inf.
    """
    n_columns = product.shape[0]
    predictors = 0.0
    responses = 0.0
    for column in range(n_columns):
        pivot = product[column, column]
        size = pivot
        for other in range(column):
            pivot -= product[column, other] ** 2
        if pivot <= 1e-14 * size or pivot <= 0.0:
            return -np.inf, -np.inf
        root = np.sqrt(pivot)
        product[column, column] = root
        for row in range(column + 1, n_columns):
            value = product[row, column]
            for other in range(column):
                value -= product[row, other] * product[column, other]
            product[row, column] = value / root
        if column < n_predictors:
            predictors += 2.0 * np.log(root)
        else:
            responses += 2.0 * np.log(root)
    return predictors, responses


@compiled
def objective(tree: TreeArrays, question: Question, scale: float) -> float:
    """Return -2 log likelihood, the constant in 2 pi left out, at one lambda.

    The rate matrix is at its best value unless it is known. ``restricted`` asks for the
    likelihood of the contrasts alone, the coefficients integrated out (REML).
    """
    product, _, root_variance, log_determinant, n_seen = contrast_products(
        tree, scale, question.values
    )
    n_predictors = question.n_predictors
    n_responses = question.values.shape[1] - n_predictors
    predictors, responses = _log_pivots(product, n_predictors)
    if log_determinant == -np.inf or responses == -np.inf:
        return np.inf
    freedom = n_seen - n_predictors - 1 if question.restricted else n_seen
    total: float = n_responses * log_determinant
    if question.known_rate > 0.0:
        total += freedom * np.log(question.known_rate)
        total += np.exp(responses) / question.known_rate
    else:
        total += freedom * (responses - n_responses * np.log(freedom) + n_responses)
    if question.restricted:
        total += n_responses * (predictors - np.log(root_variance))
    return total


@compiled_inside
def _refined(
    tree: TreeArrays,
    question: Question,
    low: float,
    middle: float,
    high: float,
    at_low: float,
    here: float,
    at_high: float,
) -> tuple[float, float]:
    """Close in on the lowest point between ``low`` and ``high`` ([Brent1973]_, chapter 5).

    The three points known at the start give the first parabola.
    """
    second, at_second, third, at_third = low, at_low, high, at_high
    if at_high < at_low:
        second, at_second, third, at_third = high, at_high, low, at_low
    move = earlier = high - low
    tolerance = SCALE_TOLERANCE
    for _ in range(60):
        centre = 0.5 * (low + high)
        if abs(middle - centre) <= 2.0 * tolerance - 0.5 * (high - low):
            break
        parabola = False
        if abs(earlier) > tolerance:
            across = (middle - second) * (here - at_third)
            beyond = (middle - third) * (here - at_second)
            top = (middle - third) * beyond - (middle - second) * across
            under = 2.0 * (beyond - across)
            if under > 0.0:
                top = -top
            under = abs(under)
            before = earlier
            earlier = move
            inside = under * (low - middle) < top < under * (high - middle)
            if inside and abs(top) < abs(0.5 * under * before):
                parabola = True
                move = top / under
                trial = middle + move
                if trial - low < 2.0 * tolerance or high - trial < 2.0 * tolerance:
                    move = tolerance if middle < centre else -tolerance
        if not parabola:
            earlier = (high if middle < centre else low) - middle
            move = GOLDEN * earlier
        if abs(move) < tolerance:
            move = tolerance if move > 0.0 else -tolerance
        trial = middle + move
        value = objective(tree, question, trial)
        if value <= here:
            if trial < middle:
                high = middle
            else:
                low = middle
            third, at_third = second, at_second
            second, at_second = middle, here
            middle, here = trial, value
            continue
        if trial < middle:
            low = trial
        else:
            high = trial
        if value <= at_second or second == middle:
            third, at_third = second, at_second
            second, at_second = trial, value
        elif value <= at_third or third in (middle, second):
            third, at_third = trial, value
    return middle, here


@compiled
def best_scale(tree: TreeArrays, question: Question) -> tuple[float, float]:
    """Find lambda in [0, 1] and the objective there.

    A coarse scan guards against a second hump; then the best stretch is searched. An end
    of the range is returned exactly where the objective rises from it.
    """
    heights = np.empty(SCAN_STEPS + 1)
    for step in range(SCAN_STEPS + 1):
        heights[step] = objective(tree, question, step / SCAN_STEPS)
    best = int(np.argmin(heights))
    middle, here = best / SCAN_STEPS, heights[best]
    before, after = max(best - 1, 0), min(best + 1, SCAN_STEPS)
    if before == best or after == best:
        middle += NEXT_TO_END if best == 0 else -NEXT_TO_END
        here = objective(tree, question, middle)
        if here >= heights[best]:
            return best / SCAN_STEPS, heights[best]
    return _refined(
        tree, question, before / SCAN_STEPS, middle, after / SCAN_STEPS,
        heights[before], here, heights[after],
    )  # fmt: skip


@compiled
def fit_scales(
    is_tip: Flags,
    length: Floats,
    depth: Floats,
    stack_depth: Integers,
    tip_row: Integers,
    columns: Integers,
    table: Floats,
    n_predictors: int,
    restricted: bool,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Fit lambda on many trees, for many choices of columns of one table.

    ``is_tip`` and ``length`` are (n_trees, n_nodes), ``depth`` and ``tip_row`` (n_trees,
    n_tips), ``columns`` (n_choices, n_columns), ``table`` (n_rows, n_all_columns).
    Returns, (n_trees, n_choices, ...) each: lambda, the objective, and at that lambda the
    contrast products, the root's value and its variance.
    """
    n_trees, n_tips = depth.shape
    n_choices, n_columns = columns.shape
    scale = np.empty((n_trees, n_choices))
    lowest = np.empty((n_trees, n_choices))
    product = np.empty((n_trees, n_choices, n_columns, n_columns))
    root_value = np.empty((n_trees, n_choices, n_columns))
    root_variance = np.empty((n_trees, n_choices))
    values = np.empty((n_tips, n_columns))
    extra = np.zeros(n_tips)
    observed = np.ones(n_tips, np.bool_)
    for place in range(n_trees):
        tree = TreeArrays(
            is_tip[place], length[place], depth[place], extra, observed, 0.0,
            stack_depth[place],
        )  # fmt: skip
        for choice in range(n_choices):
            for tip in range(n_tips):
                row = tip_row[place, tip]
                for column in range(n_columns):
                    values[tip, column] = table[row, columns[choice, column]]
            question = Question(values, n_predictors, restricted, 0.0)
            best, height = best_scale(tree, question)
            scale[place, choice], lowest[place, choice] = best, height
            found = contrast_products(tree, best, values)
            product[place, choice] = found[0]
            root_value[place, choice] = found[1]
            root_variance[place, choice] = found[2]
    return scale, lowest, product, root_value, root_variance


@compiled
def fit_scales_without_each(
    tree: TreeArrays, question: Question, left_out: Flags
) -> tuple[Floats, Floats]:
    """Fit lambda once for each row of ``left_out`` (n_folds, n_tips), without its tips."""
    n_folds = left_out.shape[0]
    scale = np.empty(n_folds)
    lowest = np.empty(n_folds)
    for fold in range(n_folds):
        observed = tree.observed & ~left_out[fold]
        without = TreeArrays(
            tree.is_tip, tree.length, tree.depth, tree.extra, observed, tree.root_branch,
            tree.stack_depth,
        )  # fmt: skip
        scale[fold], lowest[fold] = best_scale(without, question)
    return scale, lowest


@compiled
def walks_at_scales(
    tree: TreeArrays, parent: Integers, scales: Floats, shared: Floats, own: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """Walk the tree once for each column of ``own``, at its own scale, with ``shared`` beside.

    ``shared`` (n_tips, n_shared), ``own`` (n_tips, n_scales); the columns of walk k are
    those shared and the k-th own. Returns, one entry a walk: contrast products, the
    root's values, the root's variance, the log determinant, and each tip's mean and
    variance given all others (see :func:`contrast_products`, :func:`conditional_values`).
    """
    n_walks = scales.size
    n_tips, n_shared = shared.shape
    n_columns = n_shared + 1
    product = np.empty((n_walks, n_columns, n_columns))
    root_value = np.empty((n_walks, n_columns))
    root_variance = np.empty(n_walks)
    log_determinant = np.empty(n_walks)
    mean = np.empty((n_walks, n_tips, n_columns))
    variance = np.empty((n_walks, n_tips))
    values = np.empty((n_tips, n_columns))
    values[:, :n_shared] = shared
    branch = np.empty(tree.is_tip.size)
    for walk in range(n_walks):
        values[:, n_shared] = own[:, walk]
        scale = scales[walk]
        found = contrast_products(tree, scale, values)
        product[walk] = found[0]
        root_value[walk] = found[1]
        root_variance[walk] = found[2]
        log_determinant[walk] = found[3]
        tip = 0
        for node in range(tree.is_tip.size):
            branch[node] = scale * tree.length[node]
            if tree.is_tip[node]:
                branch[node] += (1.0 - scale) * tree.depth[tip] + tree.extra[tip]
                tip += 1
        told = conditional_values(tree.is_tip, parent, branch, tree.observed, values)
        mean[walk] = told[0]
        variance[walk] = told[1]
    return product, root_value, root_variance, log_determinant, mean, variance


class Evaluated(NamedTuple):
    """The objective at some factors: its ``height`` and its ``slope`` (2, p, p).

    ``solved`` and ``certain`` (p, n_tips) are P z and the diagonal of P in the basis where both
    covariances are diagonal, P as in restricted likelihood. ``finite`` is False where the tree
    gives no number.
    """

    height: float
    slope: Floats
    solved: Floats
    certain: Floats
    finite: bool


@compiled
def height_and_slope(
    tree: TreeArrays,
    parent: Integers,
    predictors: Floats,
    measurements: Floats,
    precision: Floats,
    freedom: float,
    factors: Floats,
    beforehand: Floats,
) -> Evaluated:
    """Return minus the restricted log likelihood of two covariances, and its slope.

    ``factors`` (2, p, p) are the lower triangular factors of what goes by descent and of what
    is each species' own, in the units of ``measurements`` (n_tips, p); ``tree.extra`` is the
    reciprocal of each species' weight; ``precision`` (q,) that of the coefficients of
    ``predictors`` beforehand; ``beforehand`` the least variance by descent, the least own,
    the species that the prior of the own covariance counts for, and its own variance. The
    slope (2, p, p) is in the factors.

    In the basis where both covariances are diagonal, the slope in the own covariance is
    half of ``tr(P D) - a'Da``, in that of descent of ``tr(P C) - a'Ca``; what involves C comes
    from ``P V P = P``, so that C is never needed.
    """
    n_tips, q = predictors.shape
    p = measurements.shape[1]
    unit = np.eye(p)
    descent = factors[0] @ factors[0].T + beforehand[0] * unit
    own = factors[1] @ factors[1].T + beforehand[1] * unit
    inverse = np.linalg.inv(np.linalg.cholesky(own))
    ratio, vectors = np.linalg.eigh(inverse @ descent @ inverse.T)
    ratio = np.maximum(ratio, 1e-12)
    rotation = np.ascontiguousarray(vectors.T) @ inverse
    turned = measurements @ np.ascontiguousarray(rotation.T)
    product, _, root_variance, log_determinant, mean, variance = walks_at_scales(
        tree, parent, ratio, predictors, turned
    )
    height = -freedom * np.linalg.slogdet(rotation)[1]
    own_trace = np.zeros(p)
    solved = np.zeros((p, n_tips))
    certain = np.zeros((p, n_tips))
    shrunk = np.zeros((p, q))
    toward = np.empty(q)
    for k in range(p):
        if not np.isfinite(log_determinant[k]):
            return Evaluated(np.inf, np.zeros_like(factors), solved, certain, False)
        inner = product[k, :q, :q] + np.diag(precision)
        covariance: NDArray[np.floating[Any]] = np.zeros((q, q))
        if q > 0:
            covariance = np.linalg.inv(inner)
            height += 0.5 * np.linalg.slogdet(inner)[1]
        coefficients = np.zeros(q)
        unexplained = product[k, q, q]
        for i in range(q):
            for j in range(q):
                coefficients[i] += covariance[i, j] * product[k, j, q]
            unexplained -= coefficients[i] * product[k, i, q]
            shrunk[k, i] = coefficients[i] * np.sqrt(precision[i])
            if precision[i] > 0:
                own_trace[k] += 1.0 - covariance[i, i] * precision[i]
        height += 0.5 * (unexplained + log_determinant[k] - np.log(root_variance[k]))
        for tip in range(n_tips):
            if not tree.observed[tip]:
                continue
            left = (turned[tip, k] - mean[k, tip, q]) / variance[k, tip]
            diagonal = 1.0 / variance[k, tip]
            for j in range(q):
                toward[j] = (predictors[tip, j] - mean[k, tip, j]) / variance[k, tip]
                left -= toward[j] * coefficients[j]
            for i in range(q):
                for j in range(q):
                    diagonal -= toward[i] * covariance[i, j] * toward[j]
            solved[k, tip] = left
            certain[k, tip] = diagonal
            own_trace[k] += diagonal * tree.extra[tip]
    own_squares = (solved * tree.extra) @ solved.T + shrunk @ shrunk.T
    expected = beforehand[3] * rotation @ rotation.T
    height += 0.5 * beforehand[2] * (np.trace(expected) - 2 * np.linalg.slogdet(rotation)[1])
    by_own = 0.5 * (np.diag(own_trace) - own_squares + beforehand[2] * (unit - expected))
    through = solved @ turned - own_squares
    by_descent = np.empty((p, p))
    for k in range(p):
        for other in range(p):
            # a_k'C a_l from the measurement of the two with the greater ratio, which is exacter.
            if ratio[k] > ratio[other]:
                square = through[other, k] / ratio[k]
            else:
                square = through[k, other] / ratio[other]
            by_descent[k, other] = -0.5 * square
        by_descent[k, k] += 0.5 * (freedom - own_trace[k]) / ratio[k]
    slope = np.empty_like(factors)
    for number, part in enumerate((by_descent, by_own)):
        even = 0.5 * (part + part.T)
        slope[number] = 2.0 * rotation.T @ even @ rotation @ factors[number]
    return Evaluated(height, slope, solved, certain, True)


class Descent(NamedTuple):
    """Where a search for the best factors stands.

    The ``factors`` (2, p, p), the species' ``weight`` (n_tips,), and what the search has learnt
    of the curvature: its ``inverse`` (m, m) in the factors' lower triangles one after the
    other, if it is ``known``. ``finite`` is False where the tree gave no number.
    """

    factors: Floats
    weight: Floats
    inverse: Floats
    known: bool
    finite: bool


@compiled
def best_factors(
    tree: TreeArrays,
    parent: Integers,
    predictors: Floats,
    measurements: Floats,
    precision: Floats,
    freedom: float,
    start: Descent,
    beforehand: Floats,
    tail_freedom: float,
    patience: Floats,
) -> Descent:
    """Find the factors of both covariances and the species' weights, in turns.

    ``tail_freedom`` is the degrees of freedom of the t of species' own deviations, infinite
    for a normal, whose weights stay 1. ``patience`` holds the rounds of weights, the steps of
    a round, the least gain of a step, and the change of ln weights at which it is done.

    Source: [NocedalWright2006]_, chapter 6: BFGS with backtracking; a step along which the
    slope does not rise teaches nothing and is left out of the curvature. Written out here,
    since it must go on from what it has learnt when the weights change a little. The objective
    is called in one place only: each place costs seconds of compiling.
    """
    p = measurements.shape[1]
    weight, inverse, known = start.weight, start.inverse.copy(), start.known
    point = _lower_triangles(start.factors)
    extra = 1.0 / weight
    height, slope, direction = 0.0, point, point
    solved, certain = np.zeros((p, len(weight))), np.zeros((p, len(weight)))
    step, fall = 0.0, 0.0
    rounds, steps, quiet = 0, 0, 0
    fresh = True
    while True:
        there = point if fresh else point + step * direction
        weighted = TreeArrays(
            tree.is_tip,
            tree.length,
            tree.depth,
            extra,
            tree.observed,
            tree.root_branch,
            tree.stack_depth,
        )
        found = height_and_slope(
            weighted,
            parent,
            predictors,
            measurements,
            precision,
            freedom,
            _from_lower_triangles(there, p),
            beforehand,
        )
        if not found.finite:
            return Descent(_from_lower_triangles(point, p), weight, inverse, known, False)
        slope_there = _lower_triangles(found.slope)
        done = False
        if fresh:
            height, slope, solved, certain = found.height, slope_there, found.solved, found.certain
            steps, quiet = 0, 0
            fresh = False
        elif found.height <= height + ENOUGH_FALL * step * fall:
            moved, turned = there - point, slope_there - slope
            gain = height - found.height
            point, height, slope = there, found.height, slope_there
            solved, certain = found.solved, found.certain
            along = np.sum(moved * turned)
            if along > 1e-12 * np.sqrt(np.sum(moved**2) * np.sum(turned**2)):
                if not known:
                    inverse = np.eye(len(point)) * (along / np.sum(turned**2))
                    known = True
                _learn(inverse, moved, turned, along)
            quiet = quiet + 1 if gain < patience[2] else 0
            steps += 1
            done = quiet >= 2
        else:
            step *= 0.4
            if step > SHORTEST_STEP:
                continue
            steps += 1
            done = not known
            known = False
        if not done and steps < patience[1]:
            direction = -(inverse @ slope) if known else -slope
            fall = np.sum(direction * slope)
            if fall >= 0:
                known, direction = False, -slope
                fall = -np.sum(slope * slope)
            step = 1.0 if known else min(1.0, 0.5 / np.max(np.abs(direction)))
            continue
        rounds += 1
        if np.isinf(tail_freedom):
            break
        change = 0.0
        before = weight
        weight = np.ones(len(before))
        for tip in range(len(before)):
            if tree.observed[tip]:
                squares = 0.0
                for k in range(p):
                    squares += (solved[k, tip] / before[tip]) ** 2 + 1.0 / before[tip]
                    squares -= certain[k, tip] / before[tip] ** 2
                weight[tip] = (tail_freedom + p) / (tail_freedom + squares)
            change = max(change, abs(np.log(weight[tip] / before[tip])))
        if change < patience[3] or rounds >= patience[0]:
            break
        extra = 1.0 / weight
        fresh = True
    return Descent(_from_lower_triangles(point, p), weight, inverse, known, True)


@compiled
def _learn(inverse: Floats, moved: Floats, turned: Floats, along: float) -> None:
    """Take into the inverse curvature, in place, how the slope turned over a step."""
    stretched = inverse @ turned
    bulk = (1 + np.sum(turned * stretched) / along) / along
    for i in range(len(moved)):
        for j in range(len(moved)):
            inverse[i, j] += bulk * moved[i] * moved[j]
            inverse[i, j] -= (stretched[i] * moved[j] + moved[i] * stretched[j]) / along


@compiled
def _lower_triangles(factors: Floats) -> Floats:
    """Write the lower triangles of (2, p, p) one after the other, row by row."""
    p = factors.shape[1]
    flat = np.empty(p * (p + 1))
    at = 0
    for number in range(2):
        for row in range(p):
            for column in range(row + 1):
                flat[at] = factors[number, row, column]
                at += 1
    return flat


@compiled
def _from_lower_triangles(flat: Floats, p: int) -> Floats:
    """Undo :func:`_lower_triangles`."""
    factors = np.zeros((2, p, p))
    at = 0
    for number in range(2):
        for row in range(p):
            for column in range(row + 1):
                factors[number, row, column] = flat[at]
                at += 1
    return factors
