"""Predictors that are nearly the same, and points nearly on a line, against exact fractions."""

from fractions import Fraction
from math import isclose, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from bonewright.errors import OutsideRange
from bonewright.relatives.kin_and_size import BonesAndMass, fit_kin_and_size
from bonewright.relatives.line import fit_line
from bonewright.relatives.phylogenetic_fit import fit_on_tree
from bonewright.relatives.symmetric_lines import (
    common_slope,
    elevation_test,
    fit_symmetric_line,
    slope_test,
)
from bonewright.relatives.tree_algebra import traversal_of

Exact = list[list[Fraction]]


def exactly(table: NDArray) -> Exact:
    return [[Fraction(float(value)) for value in row] for row in np.atleast_2d(table)]


def turned(table: Exact) -> Exact:
    return [list(column) for column in zip(*table, strict=True)]


def times(a: Exact, b: Exact) -> Exact:
    return [
        [
            sum((x * y for x, y in zip(row, column, strict=True)), Fraction(0))
            for column in turned(b)
        ]
        for row in a
    ]


def solved(matrix: Exact, right: Exact) -> Exact:
    """Solve by elimination: fractions lose nothing, so no order of pivots matters."""
    rows = [[*row, *other] for row, other in zip(matrix, right, strict=True)]
    n = len(rows)
    for k in range(n):
        pivot = next(i for i in range(k, n) if rows[i][k])
        rows[k], rows[pivot] = rows[pivot], rows[k]
        rows[k] = [value / rows[k][k] for value in rows[k]]
        for i in range(n):
            if i != k and rows[i][k]:
                rows[i] = [a - rows[i][k] * b for a, b in zip(rows[i], rows[k], strict=True)]
    return [row[n:] for row in rows]


def world(n: int) -> tuple[NDArray, NDArray, np.random.Generator]:
    rng = np.random.default_rng(2)
    x = rng.normal(3, 0.8, n)
    return x, 0.3 + 2.8 * x + 0.2 * rng.normal(size=n), rng


@pytest.mark.parametrize(("noise", "digits"), [(1.0, 12), (1e-3, 9), (1e-5, 5), (3e-6, 4)])
def test_two_predictors_nearly_alike_keep_the_digits_that_their_difference_leaves(
    random_tree, shared_paths, noise: float, digits: int
) -> None:
    """Up to where they are refused: a part in a million, squared, of 16 digits."""
    tree = random_tree(5, 12, timed=True)
    x, y, rng = world(12)
    both = np.column_stack([x, x * (1 + noise * rng.normal(size=12))])
    kin = [
        [value * (1 if i == j else Fraction(0.7)) for j, value in enumerate(row)]
        for i, row in enumerate(exactly(shared_paths(tree)))
    ]
    design = exactly(np.column_stack([np.ones(12), both]))
    weighted = solved(kin, design)
    across = turned(weighted)
    exact = solved(times(across, design), times(across, exactly(y[:, None])))
    fit = fit_on_tree(traversal_of(tree), both, y, parameter=0.7)
    for ours, (theirs,) in zip(fit.coefficients, exact, strict=True):
        assert float(ours) == pytest.approx(float(theirs), rel=10.0**-digits)


@pytest.mark.parametrize("noise", [1e-9, 0.0])
def test_bones_or_predictors_that_are_the_same_twice_are_refused(random_tree, noise: float) -> None:
    traversal = traversal_of(random_tree(5, 20, timed=True))
    x, y, rng = world(20)
    both = np.column_stack([x, x * (1 + noise * rng.normal(size=20))])
    with pytest.raises(OutsideRange):
        fit_on_tree(traversal, both, y)
    with pytest.raises(OutsideRange):
        fit_kin_and_size(
            BonesAndMass(traversal=traversal, mass_ln=y, bones_ln=both, groups=np.zeros((20, 0)))
        )


@pytest.mark.parametrize("noise", [1e-3, 1e-5])
def test_bones_nearly_the_same_tell_the_mass_as_one_of_them_does(random_tree, noise: float) -> None:
    traversal = traversal_of(random_tree(5, 30, timed=True))
    x, y, rng = world(30)
    ends = np.array([0.025, 0.5, 0.975])

    def told(bones: NDArray) -> NDArray:
        table = BonesAndMass(
            traversal=traversal, mass_ln=y, bones_ln=bones, groups=np.zeros((30, 0))
        )
        return fit_kin_and_size(table).of_each_left_out().quantiles_ln(ends)

    one, twin = told(x[:, None]), told(np.column_stack([x, x + noise * rng.normal(size=30)]))
    width = one[:, 2] - one[:, 0]
    # The second bone is the first with noise: it may cost a little, and gains nothing.
    assert np.max(np.abs(twin[:, 1] - one[:, 1]) / width) < 0.15
    assert np.min((twin[:, 2] - twin[:, 0]) / width) > 0.8


@pytest.mark.parametrize("noise", [1e-1, 1e-3, 1e-6, 1e-8])
@pytest.mark.parametrize("slope", [1.0, 1e-3, 1e3])
@pytest.mark.parametrize("axis", ["standardised major axis", "major axis"])
def test_lines_through_points_nearly_on_a_line_keep_their_digits(
    axis: str, slope: float, noise: float
) -> None:
    x, _, rng = world(15)
    y = slope * x * (1 + noise * rng.normal(size=15))
    (columns,) = [exactly(np.vstack([x, y]))]
    from_mean = [[value - sum(column) / 15 for value in column] for column in columns]
    xx, xy, yy = (
        sum((a * b for a, b in zip(from_mean[i], from_mean[j], strict=True)), Fraction(0))
        for i, j in ((0, 0), (0, 1), (1, 1))
    )
    asked = Fraction(slope)
    residual = yy - 2 * asked * xy + asked**2 * xx
    if axis == "major axis":
        fitted = asked**2 * yy + 2 * asked * xy + xx
        together = asked * yy + (1 - asked**2) * xy - asked * xx
        exact_slope = float((yy - xx) / (2 * xy)) + sqrt(float((yy - xx) / (2 * xy)) ** 2 + 1)
        if yy < xx:
            exact_slope = 1 / (
                sqrt(float((yy - xx) / (2 * xy)) ** 2 + 1) - float((yy - xx) / (2 * xy))
            )
    else:
        fitted = yy + 2 * asked * xy + asked**2 * xx
        together = yy - asked**2 * xx
        exact_slope = sqrt(float(yy / xx))
    shared = together**2 / (residual * fitted)
    statistic, p_value = slope_test(x, y, slope=slope, axis=axis)
    exact_statistic = float(shared * 13 / (1 - shared))
    assert isclose(statistic, exact_statistic, rel_tol=1e-15 / noise**2 if noise < 1e-6 else 1e-6)
    assert 0 < p_value <= 1
    line = fit_symmetric_line(x, y, axis=axis)
    assert line.slope == pytest.approx(exact_slope, rel=1e-13)
    assert line.slope_low is not None
    assert line.slope_low < line.slope < line.slope_high
    # The width of the limits is all scatter: it shrinks with the noise and not with rounding.
    assert 0.1 < (line.slope_high - line.slope_low) / (slope * noise) < 4


def test_points_on_a_line_give_the_line_and_no_test_of_it() -> None:
    x = np.linspace(2, 4, 9)
    groups = ((x, 2 * x), (x + 1, 2 * x + 2))
    assert fit_symmetric_line(x, 2 * x).slope_low == pytest.approx(2, rel=1e-12)
    with pytest.raises(OutsideRange):
        slope_test(x, 2 * x, slope=2.0)
    with pytest.raises(OutsideRange):
        common_slope(groups)
    x, y, _ = world(18)
    shared = common_slope(((x[:9], y[:9]), (x[9:], y[9:])))
    with pytest.raises(OutsideRange):
        elevation_test(groups, shared=shared)


@pytest.mark.parametrize("spread", [0.0, 1e-12, 1e-10])
def test_bones_of_one_size_give_no_line(spread: float) -> None:
    x, y, _ = world(10)
    alike = 3 + spread * (x - 3)
    with pytest.raises(OutsideRange):
        fit_line(alike, y)
    with pytest.raises(OutsideRange):
        fit_symmetric_line(alike, y)


@pytest.mark.parametrize("spread", [1.0, 1e-3, 1e-6])
def test_a_line_over_a_narrow_range_keeps_the_digits_that_the_range_leaves(spread: float) -> None:
    x, y, _ = world(10)
    narrow = 3 + spread * (x - 3)
    design = exactly(np.column_stack([np.ones(10), narrow]))
    across = turned(design)
    (_, (exact,)) = solved(times(across, design), times(across, exactly(y[:, None])))
    assert fit_line(narrow, y).slope == pytest.approx(float(exact), rel=1e-13 / spread)
