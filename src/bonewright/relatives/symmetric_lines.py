"""Lines that treat both measurements alike: standardised major axis and major axis.

A regression of y on x answers 'what is y, given x'. These lines answer 'along which line
do the two vary together': they describe how a bone scales with mass, and compare the
scaling of two families, but they are not for predicting. Species count as independent
here; with strong family resemblance the limits are too narrow without warning.

All formulas follow [Warton2006]_. Their limits for the major axis test the correlation of
residual and fitted axis scores, which is not the angle method of [Jolicoeur1973]_; the two
differ in the fourth figure. Elevation limits are the plain ones of [Warton2006]_, with the
slope's uncertainty, not limits at the ends of the slope's interval.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtrc, fdtrc, fdtri, stdtrit

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.relatives.line import all_alike

__all__ = [
    "CommonSlope",
    "ElevationTest",
    "SymmetricLine",
    "common_slope",
    "elevation_test",
    "fit_symmetric_line",
    "slope_test",
]

Axis = Literal["standardised major axis", "major axis"]
Sample = tuple[NDArray[np.float64], NDArray[np.float64]]

_ON_A_LINE = 1e-18
"""Share of y's variance, a billionth of its spread squared, that no measuring leaves over."""

CHI_SQUARED_95 = 3.841458820694124
"""Upper 5 % point of chi-squared with 1 degree of freedom."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SymmetricLine:
    """One line, with 95 % limits. ``slope`` is in y units over x units, elevation in y units.

    ``slope_low`` and ``slope_high`` are None where the limits do not exist because the
    points hardly form a line (major axis only).
    """

    axis: Axis
    n: int
    slope: float
    slope_low: float | None
    slope_high: float | None
    elevation: float
    elevation_low: float
    elevation_high: float
    r_squared: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonSlope:
    """The slope shared by groups, its 95 % limits, and the test that they share one.

    ``statistic`` is compared with chi-squared on ``degrees_of_freedom``.
    """

    axis: Axis
    slope: float
    low: float
    high: float
    statistic: float
    degrees_of_freedom: int
    p_value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ElevationTest:
    """Elevations of groups along a common slope, and the test that they are equal."""

    elevations: tuple[float, ...]
    statistic: float
    degrees_of_freedom: int
    p_value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moments:
    """Means, variances and covariance; ``left`` is the variance of y about its line on x.

    Where points lie almost on a line, differences of variances keep no digits, so everything
    that is small there is made from ``left``, itself the variance of differences.
    """

    n: int
    x_mean: float
    y_mean: float
    xx: float
    yy: float
    xy: float
    left: float

    @property
    def r_squared(self) -> float:
        return 1 - self.unexplained

    @property
    def unexplained(self) -> float:
        """1 - r squared."""
        return self.left / self.yy

    def slope(self, axis: Axis) -> float:
        if axis == "standardised major axis":
            return float(np.copysign(np.sqrt(self.yy / self.xx), self.xy))
        spread, reach = self.yy - self.xx, np.hypot(self.yy - self.xx, 2 * self.xy)
        if spread < 0:
            return float(2 * self.xy / (reach - spread))
        return float((spread + reach) / (2 * self.xy))

    def across(self, slope: float) -> float:
        """Variance of y - slope x."""
        return self.left + self.xx * (slope - self.xy / self.xx) ** 2

    def apart(self, axis: Axis, slope: float) -> float:
        """1 - the squared correlation of residual and fitted axis scores along a slope."""
        if axis == "standardised major axis":
            fitted = self.yy + 2 * slope * self.xy + slope**2 * self.xx
            turned = 4 * slope**2
        else:
            fitted = slope**2 * self.yy + 2 * slope * self.xy + self.xx
            turned = (1 + slope**2) ** 2
        return turned * self.xx * self.left / (self.across(slope) * fitted)

    def residual_variance(self, slope: float) -> float:
        """Variance of y - slope x, on n - 2 degrees of freedom."""
        return self.across(slope) * (self.n - 1) / (self.n - 2)

    def slope_variance(self, axis: Axis, slope: float) -> float:
        """Large-sample variance of the slope."""
        if axis == "standardised major axis":
            return slope**2 * self.unexplained / (self.n - 2)
        fitted = slope**2 * self.yy + 2 * slope * self.xy + self.xx
        across = self.across(slope) / (1 + slope**2)
        along = fitted / (1 + slope**2)
        turned = across * along / (along - across) ** 2 / (self.n - 2)
        return float(turned * (1 + slope**2) ** 2)


def _moments(x: NDArray[np.float64], y: NDArray[np.float64]) -> _Moments:
    if x.size < 3:
        raise NotEnoughEvidence(
            "A line with limits needs more points.",
            needed="at least 3 specimens or species",
            found=str(x.size),
            would_help="more rows with both measurements",
        )
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(y))):
        raise OutsideRange(
            "A measurement is not a finite number.", remedy="Leave the row out, or measure it."
        )
    (xx, xy), (_, yy) = np.cov(x, y)
    if all_alike(x) or all_alike(y) or xy == 0:
        raise OutsideRange(
            "The two measurements do not vary together, so no line through them has a direction.",
            remedy="Use measurements that differ between the rows.",
        )
    slope = xy / xx
    beyond = y - np.mean(y) - slope * (x - np.mean(x))
    left = float(np.var(beyond, ddof=1))
    return _Moments(
        n=x.size,
        x_mean=float(np.mean(x)),
        y_mean=float(np.mean(y)),
        xx=float(xx),
        yy=float(yy),
        xy=float(xy),
        left=left,
    )


def _scattered(moments: _Moments) -> _Moments:
    """Return the moments of points that scatter, which a test needs."""
    if moments.unexplained <= _ON_A_LINE:
        raise OutsideRange(
            "The points lie exactly on a line, so there is no scatter to test a slope against.",
            remedy="Check that one measurement was not computed from the other.",
        )
    return moments


def fit_symmetric_line(
    x: NDArray[np.float64], y: NDArray[np.float64], *, axis: Axis = "standardised major axis"
) -> SymmetricLine:
    """Fit a line through x and y, (n,) each, usually logarithms.

    Raises
    ------
    NotEnoughEvidence
        Below three points.
    OutsideRange
        If a measurement does not vary, or the two not together.
    """
    moments = _moments(x, y)
    slope = moments.slope(axis)
    low, high = _slope_limits(moments, axis, slope)
    elevation = moments.y_mean - slope * moments.x_mean
    variance = moments.residual_variance(slope) / moments.n
    variance += moments.x_mean**2 * moments.slope_variance(axis, slope)
    reach = float(stdtrit(moments.n - 2, 0.975) * np.sqrt(variance))
    return SymmetricLine(
        axis=axis,
        n=moments.n,
        slope=slope,
        slope_low=low,
        slope_high=high,
        elevation=elevation,
        elevation_low=elevation - reach,
        elevation_high=elevation + reach,
        r_squared=moments.r_squared,
    )


def _slope_limits(moments: _Moments, axis: Axis, slope: float) -> tuple[float | None, float | None]:
    share = float(fdtri(1, moments.n - 2, 0.95)) / (moments.n - 2)
    if axis == "standardised major axis":
        width = moments.unexplained * share
        one = slope * (np.sqrt(width + 1) - np.sqrt(width))
        two = slope * (np.sqrt(width + 1) + np.sqrt(width))
        return float(min(one, two)), float(max(one, two))
    large = float(np.linalg.eigvalsh([[moments.xx, moments.xy], [moments.xy, moments.yy]])[1])
    both = moments.xx * moments.left  # the smaller eigenvalue times the larger
    sine = 2 * np.sqrt(share * both) / (large - both / large)
    if sine >= 1:
        return None, None
    turn = np.arcsin(sine) / 2
    angle = np.arctan(slope)
    if angle - turn <= -np.pi / 2 or angle + turn >= np.pi / 2:
        return None, None  # the limits take in a vertical line
    return float(np.tan(angle - turn)), float(np.tan(angle + turn))


def slope_test(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    slope: float,
    axis: Axis = "standardised major axis",
) -> tuple[float, float]:
    """Test the line's slope against a given one (1/3 for a length that grows as mass does).

    Returns the F statistic on 1 and n - 2 degrees of freedom and its p value.

    Raises
    ------
    NotEnoughEvidence
        Below three points.
    OutsideRange
        If a measurement does not vary, or the points lie exactly on a line.
    """
    moments = _scattered(_moments(x, y))
    apart = moments.apart(axis, slope)
    statistic = max(1 - apart, 0.0) * (moments.n - 2) / apart
    return statistic, float(fdtrc(1, moments.n - 2, statistic))


def _misfit(moments: list[_Moments], axis: Axis, slope: float, *, correction: float) -> float:
    """Likelihood ratio statistic of one slope for all groups.

    ``correction`` is taken from each group's size: 0 for the likelihood itself, 2.5 for
    the statistic that follows chi-squared better in small groups.
    """
    return -sum(
        (group.n - correction) * float(np.log(group.apart(axis, slope))) for group in moments
    )


def common_slope(
    groups: tuple[Sample, ...], *, axis: Axis = "standardised major axis"
) -> CommonSlope:
    """Estimate the slope groups share and test whether they share one.

    Parameters
    ----------
    groups : tuple of (x, y)
        Each of shape (n_group,).

    Raises
    ------
    NotEnoughEvidence
        With fewer than two groups, or fewer than three points in one.
    OutsideRange
        If the groups' slopes do not all have one sign, or points lie exactly on a line.
    """
    if len(groups) < 2:
        raise NotEnoughEvidence(
            "A common slope needs groups to compare.",
            needed="at least two groups",
            found=str(len(groups)),
            would_help="a second family of relatives",
        )
    moments = [_scattered(_moments(x, y)) for x, y in groups]
    slopes = np.array([group.slope(axis) for group in moments])
    if np.any(np.sign(slopes) != np.sign(slopes[0])):
        raise OutsideRange(
            "The groups' lines run in opposite directions, so they share no slope.",
            remedy="Look at each group's line by itself.",
        )
    sign, sizes = float(np.sign(slopes[0])), np.abs(slopes)
    grid = np.linspace(np.log(np.min(sizes)) - 1e-6, np.log(np.max(sizes)) + 1e-6, 33)

    def misfit(log_slope: float, correction: float) -> float:
        slope = sign * float(np.exp(log_slope))
        return _misfit(moments, axis, slope, correction=correction)

    at = int(np.argmin([misfit(float(point), 0.0) for point in grid]))
    found = minimize_scalar(
        misfit,
        args=(0.0,),
        bounds=(grid[max(at - 1, 0)], grid[min(at + 1, 32)]),
        method="bounded",
        options={"xatol": 1e-12},
    )
    best = float(found.x)
    statistic = misfit(best, 2.5)

    def excess(log_slope: float) -> float:
        return misfit(log_slope, 2.5) - statistic - CHI_SQUARED_95

    ends = sorted(sign * float(np.exp(_edge(excess, best, step))) for step in (-0.05, 0.05))
    freedom = len(groups) - 1
    return CommonSlope(
        axis=axis,
        slope=sign * float(np.exp(best)),
        low=ends[0],
        high=ends[1],
        statistic=statistic,
        degrees_of_freedom=freedom,
        p_value=float(chdtrc(freedom, statistic)),
    )


def _edge(excess: Callable[[float], float], start: float, step: float) -> float:
    """Walk from ``start`` until ``excess`` turns positive, then find where it is 0."""
    inside = start
    for _ in range(400):
        outside = inside + step
        if excess(outside) > 0:
            return float(brentq(excess, inside, outside, xtol=1e-12))
        inside = outside
    raise OutsideRange(
        "The groups' points hardly form lines, so their common slope has no limits.",
        remedy="Use measurements that vary together, or more rows.",
    )


def elevation_test(groups: tuple[Sample, ...], *, shared: CommonSlope) -> ElevationTest:
    """Test whether groups of one slope also share one line, or lie side by side.

    The Wald statistic of [Warton2006]_: differences of elevations along the common slope,
    against their covariance, in which the slope's own uncertainty ties the groups together.
    """
    moments = [_scattered(_moments(x, y)) for x, y in groups]
    x_mean = np.array([group.x_mean for group in moments])
    y_mean = np.array([group.y_mean for group in moments])
    elevations = y_mean - shared.slope * x_mean
    slope_variance = 1 / sum(1 / g.slope_variance(shared.axis, shared.slope) for g in moments)
    covariance = np.diag([g.residual_variance(shared.slope) / g.n for g in moments])
    covariance += slope_variance * np.outer(x_mean, x_mean)
    contrast = np.column_stack([np.ones(len(moments) - 1), -np.eye(len(moments) - 1)])
    differences = contrast @ elevations
    statistic = float(
        differences @ np.linalg.solve(contrast @ covariance @ contrast.T, differences)
    )
    freedom = len(moments) - 1
    return ElevationTest(
        elevations=tuple(float(value) for value in elevations),
        statistic=statistic,
        degrees_of_freedom=freedom,
        p_value=float(chdtrc(freedom, statistic)),
    )
