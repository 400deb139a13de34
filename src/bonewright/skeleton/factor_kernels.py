"""Compiled loops over the measurements there are: the inside of the size-and-bone model.

Only arrays and numbers here; nothing checks its input. A study has few of the measurements
that its individuals could have, so every loop runs over those alone, individual by individual
(:class:`Cells`), and no array of individuals by measurements is made. Loops that call each
other stay together in this one long file, for the reason :mod:`bonewright.compiling` gives.

In every cell: ``ln length = mean + loading * size + bone loading * deviation of that bone +
residual + measuring error``. The deviations are integrated out one by one, then the size.
"""

from math import exp, lgamma, log, sqrt
from typing import NamedTuple

import numpy as np

from bonewright.compiling import Flags, Floats, Integers, compiled, compiled_inside

__all__ = [
    "BONE_SCALE",
    "BONE_SPREAD2",
    "GAP",
    "LOADING_SPREAD2",
    "RESIDUAL_SCALE",
    "RESIDUAL_WEIGHT",
    "SHARE",
    "SIZE_VARIANCE",
    "Cells",
    "Chain",
    "Prior",
    "draw_states",
    "improve",
    "information_of_means",
    "scores_of_rows",
]


# What is known of one bone of one individual: places in (n_elements, 4).
VARIANCE, PULL, TIE, SEEN = 0, 1, 2, 3
# What is known of a deviation given the measurements: its mean, covariance with size, variance.
MIDDLE, CROSS, OWN = 0, 1, 2
# Places of the single parameters in Chain.single.
SIZE_VARIANCE, LOADING_SPREAD2, BONE_SPREAD2, BONE_SCALE = 0, 1, 2, 3
RESIDUAL_SCALE, RESIDUAL_WEIGHT, GAP, SHARE = 4, 5, 6, 7
GAP_SD = 0.2
"""A normal prior of 20 % keeps the gap in hand where the sexes hardly differ."""


class Cells(NamedTuple):
    """The measurements of n individuals, one individual after the other.

    ``start`` (n + 1,) is where each begins; ``column``, ``value`` (ln mm) and ``error2``
    (variance of measuring) are (n_cells,). ``element`` (p,) numbers the bone of each code;
    ``several`` (p,) says that its bone has several codes, without which a bone's deviation
    could not be told from the residual.
    """

    start: Integers
    column: Integers
    value: Floats
    error2: Floats
    element: Integers
    n_elements: int
    several: Flags


class Chain(NamedTuple):
    """Parameters of the model, changed in place.

    ``mean``, ``loading``, ``bone`` and ``residual`` are (p,); ``single`` (8,) holds those of
    which there is one; ``larger`` (n,) is 1 for individuals taken to be of the larger sex.
    """

    mean: Floats
    loading: Floats
    bone: Floats
    residual: Floats
    single: Floats
    larger: Floats


class Prior(NamedTuple):
    """What the parameters are pulled to, as in :mod:`bonewright.skeleton.shrinkage`.

    ``pulled`` is False for the textbook model: no pull, no bones, size of variance 1.
    """

    pulled: bool
    size_loading: Floats
    bone_loading: Floats
    residual_variance: Floats
    size_sd: float
    size_weight: float
    loading_spread: float
    bone_spread: float
    residual_sd: float
    residual_weight: float
    weight_choices: Floats


@compiled_inside
def _scores_of_row(
    cells: Cells, chain: Chain, row: int, centre: float, weight: Floats, bones: Floats
) -> tuple[float, float]:
    """Return mean and precision of one individual's size given its measurements.

    ``centre`` is the size expected beforehand. Writes the ``weight`` (n_cells,) of the row's
    cells, and of its ``bones`` (n_elements, 4) variance, pull and tie: given the size, a bone's
    deviation is normal about ``variance * (pull - tie * size)``.
    """
    bones[:] = 0.0
    precision = 1.0 / chain.single[SIZE_VARIANCE]
    pull = centre * precision
    for cell in range(cells.start[row], cells.start[row + 1]):
        code = cells.column[cell]
        share = 1.0 / (chain.residual[code] + cells.error2[cell])
        weight[cell] = share
        off = cells.value[cell] - chain.mean[code]
        element = cells.element[code]
        bones[element, VARIANCE] += share * chain.bone[code] ** 2
        bones[element, PULL] += share * off * chain.bone[code]
        bones[element, TIE] += share * chain.bone[code] * chain.loading[code]
        bones[element, SEEN] = 1.0
        precision += share * chain.loading[code] ** 2
        pull += share * off * chain.loading[code]
    for element in range(cells.n_elements):
        variance = 1.0 / (1.0 + bones[element, VARIANCE])
        bones[element, VARIANCE] = variance
        precision -= variance * bones[element, TIE] ** 2
        pull -= variance * bones[element, PULL] * bones[element, TIE]
    return pull / precision, precision


@compiled
def scores_of_rows(cells: Cells, chain: Chain) -> tuple[Floats, Floats]:
    """Return mean and precision of every individual's size, (n,) each."""
    n = cells.start.size - 1
    mean = np.empty(n)
    precision = np.empty(n)
    weight = np.empty(cells.value.size)
    bones = np.empty((cells.n_elements, 4))
    for row in range(n):
        mean[row], precision[row] = _scores_of_row(cells, chain, row, 0.0, weight, bones)
    return mean, precision


@compiled_inside
def _factor(normal: Floats) -> None:
    """Replace a symmetric matrix (of which the upper half is read) by R, R'R = the matrix."""
    size = normal.shape[0]
    for pivot in range(size):
        root = sqrt(normal[pivot, pivot])
        for column in range(pivot, size):
            normal[pivot, column] /= root
        for row in range(pivot + 1, size):
            times = normal[pivot, row]
            for column in range(row, size):
                normal[row, column] -= times * normal[pivot, column]


@compiled_inside
def _solve(factor: Floats, right: Floats, noise: Floats) -> None:
    """Solve R'R x = right in place; ``noise`` of standard normals makes it a draw about x."""
    size = right.size
    for row in range(size):
        for before in range(row):
            right[row] -= factor[before, row] * right[before]
        right[row] /= factor[row, row]
    for row in range(size - 1, -1, -1):
        right[row] += noise[row]
        for after in range(row + 1, size):
            right[row] -= factor[row, after] * right[after]
        right[row] /= factor[row, row]


@compiled_inside
def _expect(
    cells: Cells, chain: Chain, size: Floats, variance: Floats, deviation: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Gather what the expected factors say of every code's line.

    Writes mean and variance of each ``size`` (n,), and of each cell's bone ``deviation``
    (n_cells, 3). Returns the sums of squares and products of (1, size, deviation) by code
    (p, 3, 3), of these with the values (p, 3), and sum and number of each bone's deviations.
    """
    p = chain.mean.size
    weight = np.empty(cells.value.size)
    bones = np.empty((cells.n_elements, 4))
    normal = np.zeros((p, 3, 3))
    right = np.zeros((p, 3))
    bone_sum = np.zeros(cells.n_elements)
    bone_count = np.zeros(cells.n_elements)
    for row in range(size.size):
        middle, precision = _scores_of_row(cells, chain, row, 0.0, weight, bones)
        size[row] = middle
        variance[row] = 1.0 / precision
        for element in range(cells.n_elements):
            off = bones[element, PULL] - bones[element, TIE] * middle
            bone_count[element] += bones[element, SEEN]
            bone_sum[element] += bones[element, SEEN] * bones[element, VARIANCE] * off
        for cell in range(cells.start[row], cells.start[row + 1]):
            code = cells.column[cell]
            element = cells.element[code]
            tie = bones[element, VARIANCE] * bones[element, TIE]
            expected = bones[element, VARIANCE] * bones[element, PULL] - tie * middle
            cross = -tie * variance[row]
            own = bones[element, VARIANCE] - tie * cross
            deviation[cell, MIDDLE] = expected
            deviation[cell, CROSS] = cross
            deviation[cell, OWN] = own
            share = weight[cell]
            normal[code, 0, 0] += share
            normal[code, 0, 1] += share * middle
            normal[code, 0, 2] += share * expected
            normal[code, 1, 1] += share * (middle**2 + variance[row])
            normal[code, 1, 2] += share * (middle * expected + cross)
            normal[code, 2, 2] += share * (expected**2 + own)
            right[code, 0] += share * cells.value[cell]
            right[code, 1] += share * cells.value[cell] * middle
            right[code, 2] += share * cells.value[cell] * expected
    return normal, right, bone_sum, bone_count


@compiled_inside
def _own_squares(
    cells: Cells, chain: Chain, lines: Floats, size: Floats, variance: Floats, deviation: Floats
) -> Floats:
    """Return each code's expected sum of squared residuals, measuring error taken out, (p,)."""
    squares = np.zeros(chain.mean.size)
    for row in range(size.size):
        for cell in range(cells.start[row], cells.start[row + 1]):
            code = cells.column[cell]
            loading = lines[code, 1]
            bone = lines[code, 2]
            off = cells.value[cell] - lines[code, 0] - loading * size[row]
            off -= bone * deviation[cell, MIDDLE]
            squared = off**2 + loading**2 * variance[row]
            squared += 2.0 * loading * bone * deviation[cell, CROSS]
            squared += bone**2 * deviation[cell, OWN]
            share = chain.residual[code] / (chain.residual[code] + cells.error2[cell])
            squares[code] += share**2 * squared + share * cells.error2[cell]
    return squares


@compiled
def improve(cells: Cells, chain: Chain, prior: Prior, max_rounds: int, tolerance: float) -> int:
    """Expect and maximise until no mean moves; return the rounds that took.

    ``tolerance`` is a share of each code's residual standard deviation.
    """
    p = chain.mean.size
    n = cells.start.size - 1
    size = np.empty(n)
    variance = np.empty(n)
    deviation = np.empty((cells.value.size, 3))
    nothing = np.zeros(3)
    counts = np.zeros(p)
    for cell in range(cells.value.size):
        counts[cells.column[cell]] += 1.0
    for done in range(max_rounds):
        normal, lines, bone_sum, bone_count = _expect(cells, chain, size, variance, deviation)
        for code in range(p):
            if prior.pulled:
                normal[code, 1, 1] += 1.0 / prior.loading_spread**2
                lines[code, 1] += prior.size_loading[code] / prior.loading_spread**2
                normal[code, 2, 2] += 1.0 / prior.bone_spread**2
            if not (prior.pulled and cells.several[code]):
                normal[code, 0, 2] = 0.0
                normal[code, 1, 2] = 0.0
                normal[code, 2, 2] = 1.0
                lines[code, 2] = 0.0
            _factor(normal[code])
            _solve(normal[code], lines[code], nothing)
        squares = _own_squares(cells, chain, lines, size, variance, deviation)
        # Fold the free mean and scale of the factors back into means and loadings.
        shift = 0.0
        spread = 0.0
        for row in range(n):
            shift += size[row] / n
        for row in range(n):
            spread += (variance[row] + (size[row] - shift) ** 2) / n
        scale = 1.0 if prior.pulled else sqrt(spread)
        imagined = 2.0 * prior.residual_weight if prior.pulled else 0.0
        still = True
        for code in range(p):
            element = cells.element[code]
            mean = lines[code, 0] + lines[code, 1] * shift
            mean += lines[code, 2] * bone_sum[element] / bone_count[element]
            aimed = imagined * prior.residual_variance[code] * prior.residual_sd**2
            residual = max((squares[code] + aimed) / (counts[code] + imagined), 1e-12)
            still = still and abs(mean - chain.mean[code]) < tolerance * sqrt(residual)
            chain.mean[code] = mean
            chain.loading[code] = lines[code, 1] * scale
            chain.bone[code] = lines[code, 2]
            chain.residual[code] = residual
        if prior.pulled:
            total = n * spread + prior.size_weight * prior.size_sd**2
            chain.single[SIZE_VARIANCE] = total / (n + prior.size_weight)
        if still:
            return done + 1
    return max_rounds


@compiled_inside
def _draw_factors(
    cells: Cells,
    chain: Chain,
    rng: np.random.Generator,
    size: Floats,
    deviation: Floats,
    weight: Floats,
) -> None:
    """Draw each individual's ``size`` (n,) and each cell's bone ``deviation`` (n_cells,).

    Then two moves that change many parameters at once: all sizes against all means, and all
    deviations of one bone against its means.
    """
    n = size.size
    bones = np.empty((cells.n_elements, 4))
    bone_sum = np.zeros(cells.n_elements)
    bone_count = np.zeros(cells.n_elements)
    off = 0.0
    for row in range(n):
        centre = chain.single[GAP] * (chain.larger[row] - 0.5)
        middle, precision = _scores_of_row(cells, chain, row, centre, weight, bones)
        size[row] = middle + rng.standard_normal() / sqrt(precision)
        off += size[row] - centre
        for element in range(cells.n_elements):
            if bones[element, SEEN] > 0.0:
                mean = bones[element, PULL] - bones[element, TIE] * size[row]
                mean *= bones[element, VARIANCE]
                # From here on the place of the pull holds the deviation drawn.
                spread = sqrt(bones[element, VARIANCE])
                bones[element, PULL] = mean + spread * rng.standard_normal()
                bone_sum[element] += bones[element, PULL]
                bone_count[element] += 1.0
        for cell in range(cells.start[row], cells.start[row + 1]):
            deviation[cell] = bones[cells.element[cells.column[cell]], PULL]
    shift = off / n + rng.standard_normal() * sqrt(chain.single[SIZE_VARIANCE] / n)
    for element in range(cells.n_elements):
        bone_sum[element] /= bone_count[element]
        bone_sum[element] += rng.standard_normal() / sqrt(bone_count[element])
    size -= shift
    for cell in range(deviation.size):
        deviation[cell] -= bone_sum[cells.element[cells.column[cell]]]
    for code in range(chain.mean.size):
        chain.mean[code] += chain.loading[code] * shift
        chain.mean[code] += chain.bone[code] * bone_sum[cells.element[code]]


@compiled_inside
def _draw_sexes(chain: Chain, labels: Floats, rng: np.random.Generator, size: Floats) -> None:
    """Draw who is of the larger sex, how many are, and how far the sexes stand apart."""
    n = size.size
    gap = chain.single[GAP]
    variance = chain.single[SIZE_VARIANCE]
    even = log(chain.single[SHARE] / (1.0 - chain.single[SHARE]))
    n_larger = 0.0
    along = 0.0
    labelled = False
    for row in range(n):
        odds = gap * size[row] / variance + even
        drawn = rng.random() * (1.0 + exp(-odds)) < 1.0
        if np.isnan(labels[row]):
            chain.larger[row] = 1.0 if drawn else 0.0
        else:
            chain.larger[row] = labels[row]
            labelled = True
        n_larger += chain.larger[row]
        along += (chain.larger[row] - 0.5) * size[row]
    share = rng.standard_gamma(1.0 + n_larger)
    chain.single[SHARE] = share / (share + rng.standard_gamma(1.0 + n - n_larger))
    precision = n / 4.0 / variance + 1.0 / GAP_SD**2
    gap = along / variance / precision + rng.standard_normal() / sqrt(precision)
    chain.single[GAP] = gap if labelled else abs(gap)


@compiled_inside
def _draw_lines(
    cells: Cells,
    chain: Chain,
    prior: Prior,
    rng: np.random.Generator,
    size: Floats,
    deviation: Floats,
    weight: Floats,
) -> None:
    """Draw mean, size loading and bone loading of every code together."""
    p = chain.mean.size
    normal = np.zeros((p, 3, 3))
    right = np.zeros((p, 3))
    noise = np.zeros(3)
    for row in range(size.size):
        for cell in range(cells.start[row], cells.start[row + 1]):
            code = cells.column[cell]
            share = weight[cell]
            weighted = share * (cells.value[cell] - chain.mean[code])
            normal[code, 0, 0] += share
            normal[code, 0, 1] += share * size[row]
            normal[code, 0, 2] += share * deviation[cell]
            normal[code, 1, 1] += share * size[row] ** 2
            normal[code, 1, 2] += share * size[row] * deviation[cell]
            normal[code, 2, 2] += share * deviation[cell] ** 2
            right[code, 0] += weighted
            right[code, 1] += weighted * size[row]
            right[code, 2] += weighted * deviation[cell]
    loading_spread2 = chain.single[LOADING_SPREAD2]
    bone_spread2 = chain.single[BONE_SPREAD2]
    for code in range(p):
        normal[code, 1, 1] += 1.0 / loading_spread2
        right[code, 1] += prior.size_loading[code] / loading_spread2
        normal[code, 2, 2] += 1.0 / bone_spread2
        right[code, 2] += chain.single[BONE_SCALE] * prior.bone_loading[code] / bone_spread2
        for place in range(3):
            noise[place] = rng.standard_normal()
        if not cells.several[code]:
            normal[code, 0, 2] = 0.0
            normal[code, 1, 2] = 0.0
            normal[code, 2, 2] = 1.0
            right[code, 2] = 0.0
            noise[2] = 0.0
        _factor(normal[code])
        _solve(normal[code], right[code], noise)
        chain.mean[code] += right[code, 0]
        chain.loading[code] = right[code, 1]
        chain.bone[code] = right[code, 2]


@compiled_inside
def _draw_variances(
    cells: Cells,
    chain: Chain,
    prior: Prior,
    rng: np.random.Generator,
    size: Floats,
    deviation: Floats,
    weight: Floats,
) -> None:
    """Draw the residual variance of every code, and that of size."""
    p = chain.mean.size
    counts = np.zeros(p)
    squares = np.zeros(p)
    off2 = 0.0
    for row in range(size.size):
        for cell in range(cells.start[row], cells.start[row + 1]):
            code = cells.column[cell]
            residual = cells.value[cell] - chain.mean[code] - size[row] * chain.loading[code]
            residual -= deviation[cell] * chain.bone[code]
            error2 = cells.error2[cell]
            if error2 > 0.0:  # split each deviation into the bone's own and the measuring
                share = chain.residual[code] * weight[cell]
                residual = share * residual + sqrt(share * error2) * rng.standard_normal()
            squares[code] += residual**2
            counts[code] += 1.0
        off2 += (size[row] - chain.single[GAP] * (chain.larger[row] - 0.5)) ** 2
    weight = chain.single[RESIDUAL_WEIGHT]
    for code in range(p):
        aimed = weight * chain.single[RESIDUAL_SCALE] * prior.residual_variance[code]
        drawn = rng.standard_gamma(weight + counts[code] / 2.0)
        chain.residual[code] = (aimed + squares[code] / 2.0) / drawn
    total = prior.size_weight * prior.size_sd**2 + off2
    drawn = rng.standard_gamma((prior.size_weight + size.size) / 2.0)
    chain.single[SIZE_VARIANCE] = total / 2.0 / drawn


@compiled_inside
def _draw_pull(cells: Cells, chain: Chain, prior: Prior, rng: np.random.Generator) -> None:
    """Draw how strongly loadings and variances are pulled to their target."""
    p = chain.mean.size
    loadings2 = 0.0
    pattern2 = 0.0
    along = 0.0
    n_several = 0
    inverse = 0.0
    logs = 0.0
    for code in range(p):
        loadings2 += (chain.loading[code] - prior.size_loading[code]) ** 2
        inverse += prior.residual_variance[code] / chain.residual[code]
        logs += log(prior.residual_variance[code] / chain.residual[code])
        if cells.several[code]:
            n_several += 1
            pattern2 += prior.bone_loading[code] ** 2
            along += prior.bone_loading[code] * chain.bone[code]
    loadings2 += 4.0 * prior.loading_spread**2
    chain.single[LOADING_SPREAD2] = loadings2 / 2.0 / rng.standard_gamma((4.0 + p) / 2.0)
    if pattern2 > 0.0:
        spread = sqrt(chain.single[BONE_SPREAD2] / pattern2)
        chain.single[BONE_SCALE] = along / pattern2 + spread * rng.standard_normal()
    bones2 = 4.0 * prior.bone_spread**2
    for code in range(p):
        if cells.several[code]:
            aimed = chain.single[BONE_SCALE] * prior.bone_loading[code]
            bones2 += (chain.bone[code] - aimed) ** 2
    chain.single[BONE_SPREAD2] = bones2 / 2.0 / rng.standard_gamma((4.0 + n_several) / 2.0)
    weight = chain.single[RESIDUAL_WEIGHT]
    scale = rng.standard_gamma(weight * p + 1.0)
    scale /= weight * inverse + 1.0 / prior.residual_sd**2
    chain.single[RESIDUAL_SCALE] = scale
    highest = -np.inf
    ln_density = np.empty(prior.weight_choices.size)
    for place in range(ln_density.size):
        choice = prior.weight_choices[place]
        ln_density[place] = choice * (p * log(choice * scale) + logs - scale * inverse)
        ln_density[place] -= p * lgamma(choice)
        highest = max(highest, ln_density[place])
    total = 0.0
    for place in range(ln_density.size):
        total += exp(ln_density[place] - highest)
    left = rng.random() * total
    for place in range(ln_density.size):
        chain.single[RESIDUAL_WEIGHT] = prior.weight_choices[place]
        left -= exp(ln_density[place] - highest)
        if left < 0.0:
            break


@compiled
def information_of_means(cells: Cells, chain: Chain, information: Floats, right: Floats) -> None:
    """Sum the information on the means with all factors integrated out.

    Writes the upper half of ``information`` (p, p), the sum over rows of the inverse covariance
    of what each has, and the vector ``right`` (p,) for which the means' best values solve it.
    """
    p = chain.mean.size
    information[:] = 0.0
    right[:] = 0.0
    weight = np.empty(cells.value.size)
    bones = np.empty((cells.n_elements, 4))
    pulled = np.empty(p)
    # The means are linear in the data: seen from means of zero, one solve finds them.
    zero = Chain(np.zeros(p), chain.loading, chain.bone, chain.residual, chain.single, chain.larger)
    for row in range(cells.start.size - 1):
        centre = chain.single[GAP] * (chain.larger[row] - 0.5)
        size, precision = _scores_of_row(cells, zero, row, centre, weight, bones)
        first = cells.start[row]
        past = cells.start[row + 1]
        for cell in range(first, past):
            code = cells.column[cell]
            element = cells.element[code]
            tie = bones[element, VARIANCE] * bones[element, TIE]
            deviation = bones[element, VARIANCE] * bones[element, PULL] - tie * size
            off = cells.value[cell] - chain.loading[code] * size - chain.bone[code] * deviation
            right[code] += weight[cell] * off
            information[code, code] += weight[cell]
            pulled[cell - first] = weight[cell] * (chain.loading[code] - chain.bone[code] * tie)
        for cell in range(first, past):
            code = cells.column[cell]
            element = cells.element[code]
            shared = pulled[cell - first] / precision
            by_bone = weight[cell] * chain.bone[code] * bones[element, VARIANCE]
            for other in range(cell, past):
                beside = cells.column[other]
                part = shared * pulled[other - first]
                if cells.element[beside] == element:
                    part += by_bone * weight[other] * chain.bone[beside]
                information[code, beside] -= part


@compiled_inside
def _inverse_of_factor(factor: Floats, inverse: Floats) -> None:
    """Write the inverse of R', which is lower, for an upper R."""
    for row in range(factor.shape[0]):
        inverse[row, row] = 1.0
        for before in range(row):
            times = factor[before, row]
            for column in range(before + 1):
                inverse[row, column] -= times * inverse[before, column]
        for column in range(row + 1):
            inverse[row, column] /= factor[row, row]


@compiled
def draw_states(
    cells: Cells,
    chain: Chain,
    prior: Prior,
    labels: Floats,
    two_sizes: bool,
    rng: np.random.Generator,
    n_states: int,
    burn_in: int,
    thin: int,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Sweep through all parameters in turn, and keep every ``thin``-th state.

    ``labels`` (n,) are 1 and 0 for the larger and the smaller sex, NaN if unknown. Returns by
    state the lines (n_states, 3, p): size loading, bone loading, residual variance; the single
    parameters (n_states, 8); the means given the rest (n_states, p), with half their
    covariance (n_states, p, p), of which half' half is the covariance; and the information on
    a shift of all means in proportion to their size loadings (n_states,).
    """
    p = chain.mean.size
    n = cells.start.size - 1
    lines = np.empty((n_states, 3, p))
    single = np.empty((n_states, chain.single.size))
    means = np.empty((n_states, p))
    halves = np.zeros((n_states, p, p))
    along_size = np.zeros(n_states)
    size = np.empty(n)
    deviation = np.empty(cells.value.size)
    weight = np.empty(cells.value.size)
    nothing = np.zeros(p)
    factor = np.empty((p, p))
    for sweep in range(-burn_in, n_states * thin):
        _draw_factors(cells, chain, rng, size, deviation, weight)
        if two_sizes:
            _draw_sexes(chain, labels, rng, size)
        _draw_lines(cells, chain, prior, rng, size, deviation, weight)
        _draw_variances(cells, chain, prior, rng, size, deviation, weight)
        _draw_pull(cells, chain, prior, rng)
        if sweep < 0 or sweep % thin != thin - 1:
            continue
        state = sweep // thin
        for code in range(p):
            lines[state, 0, code] = chain.loading[code]
            lines[state, 1, code] = chain.bone[code]
            lines[state, 2, code] = chain.residual[code]
        for place in range(chain.single.size):
            single[state, place] = chain.single[place]
        information_of_means(cells, chain, factor, means[state])
        _factor(factor)
        _solve(factor, means[state], nothing)
        _inverse_of_factor(factor, halves[state])
        for row in range(p):
            across = 0.0
            for column in range(row, p):
                across += factor[row, column] * chain.loading[column]
            along_size[state] += across**2
    return lines, single, means, halves, along_size
