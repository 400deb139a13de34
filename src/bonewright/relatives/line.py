"""A straight line by least squares, and what it predicts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from bonewright.errors import NotEnoughEvidence, OutsideRange

__all__ = [
    "LineFit",
    "all_alike",
    "fit_line",
    "leave_one_out_residuals",
    "leave_one_out_studentised",
    "mean_interval",
    "of_different_sizes",
    "predict",
    "prediction_interval",
    "predictive_draws",
]

Array = NDArray[np.float64]

_ALIKE = 1e-9
_LEAST_RANGE = 1.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineFit:
    """The line of y on x by ordinary least squares.

    ``residuals`` and ``leverages`` have one entry a point. ``sum_of_squares_x`` is that
    about ``mean_x``. All in the units of x and y as given.
    """

    n: int
    mean_x: float
    mean_y: float
    sum_of_squares_x: float
    slope: float
    slope_se: float
    intercept: float
    intercept_se: float
    covariance: float
    residual_sd: float
    r_squared: float
    degrees_of_freedom: int
    residuals: Array
    leverages: Array


def all_alike(values: Array) -> bool:
    """Say whether values differ by no more than rounding made of them on their way here.

    A standard deviation of a billionth of the largest, or of a billionth where they are
    logarithms about 0, is no difference that anybody measured.
    """
    return bool(np.std(values) <= _ALIKE * max(float(np.max(np.abs(values))), 1.0))


def of_different_sizes(sizes: Array) -> bool:
    """Say whether a line on sizes stands: whether they differ by 1 % without any one of them.

    Less is within what callipers and observers differ by (common practice). A line whose slope
    hangs on one point cannot be tried by leaving points out.
    """
    ordered = np.sort(sizes)
    return bool(
        len(ordered) > 2
        and ordered[-1] > _LEAST_RANGE * ordered[1]
        and ordered[-2] > _LEAST_RANGE * ordered[0]
    )


def fit_line(x: Array, y: Array) -> LineFit:
    """Fit y = intercept + slope x by ordinary least squares.

    Parameters
    ----------
    x, y : (n,) float
        At least three points, finite.

    Raises
    ------
    NotEnoughEvidence
        With fewer than three points.
    OutsideRange
        If all x are alike: there is no slope.

    Notes
    -----
    Sums are about the means, so that no digits cancel. ``covariance`` is that of
    intercept and slope. Assumes x without error and residuals alike along the line;
    error in x flattens the slope without warning.
    """
    n = len(x)
    if n < 3:
        raise NotEnoughEvidence(
            "A line could not be fitted.",
            needed="at least three points",
            found=str(n),
            would_help="more rows with both values",
        )
    mean_x, mean_y = float(np.mean(x)), float(np.mean(y))
    from_mean_x, from_mean_y = x - mean_x, y - mean_y
    # The means are rounded; taking what is left off keeps the sums exact about them.
    from_mean_x = from_mean_x - np.mean(from_mean_x)
    from_mean_y = from_mean_y - np.mean(from_mean_y)
    sum_xx = float(np.dot(from_mean_x, from_mean_x))
    if all_alike(x):
        raise OutsideRange(
            "A line could not be fitted, since all bones have the same size.",
            remedy="Add relatives of other sizes.",
        )
    slope = float(np.dot(from_mean_x, from_mean_y)) / sum_xx
    residuals = from_mean_y - slope * from_mean_x
    degrees = n - 2
    squares = float(np.dot(residuals, residuals))
    variance = squares / degrees
    sum_yy = float(np.dot(from_mean_y, from_mean_y))
    return LineFit(
        n=n,
        mean_x=mean_x,
        mean_y=mean_y,
        sum_of_squares_x=sum_xx,
        slope=slope,
        slope_se=float(np.sqrt(variance / sum_xx)),
        intercept=mean_y - slope * mean_x,
        intercept_se=float(np.sqrt(variance * (1 / n + mean_x**2 / sum_xx))),
        covariance=-variance * mean_x / sum_xx,
        residual_sd=float(np.sqrt(variance)),
        r_squared=1 - squares / sum_yy if sum_yy > 0 else 0.0,
        degrees_of_freedom=degrees,
        residuals=residuals,
        leverages=1 / n + from_mean_x**2 / sum_xx,
    )


def predict(line: LineFit, x: Array) -> Array:
    """Return the line's height at ``x``, any shape."""
    return line.mean_y + line.slope * (x - line.mean_x)


def mean_interval(line: LineFit, x: Array, *, level: float = 0.95) -> tuple[Array, Array]:
    """Return the t interval of the line's height at ``x``."""
    return _interval(line, x, level=level, of_one_more=0.0)


def prediction_interval(line: LineFit, x: Array, *, level: float = 0.95) -> tuple[Array, Array]:
    """Return the t interval that holds one more y at ``x``."""
    return _interval(line, x, level=level, of_one_more=1.0)


def _interval(line: LineFit, x: Array, *, level: float, of_one_more: float) -> tuple[Array, Array]:
    leverage = 1 / line.n + (x - line.mean_x) ** 2 / line.sum_of_squares_x
    quantile = float(stdtrit(line.degrees_of_freedom, (1 + level) / 2))
    half_width = quantile * line.residual_sd * np.sqrt(of_one_more + leverage)
    middle = predict(line, x)
    return middle - half_width, middle + half_width


def leave_one_out_residuals(line: LineFit) -> Array:
    """Return each y less what the line says of it when fitted without that point."""
    return line.residuals / (1 - line.leverages)


def leave_one_out_studentised(line: LineFit) -> Array:
    """Return leave-one-out residuals over their standard errors: t with n - 3 degrees."""
    degrees = line.degrees_of_freedom - 1
    if degrees < 1:
        raise NotEnoughEvidence(
            "Leaving one point out needs a line that stands without it.",
            needed="at least four points",
            found=str(line.n),
            would_help="more rows with both values",
        )
    squares = line.residual_sd**2 * line.degrees_of_freedom
    left = np.maximum(squares - line.residuals**2 / (1 - line.leverages), 0.0)
    spread = np.sqrt(left / degrees * (1 - line.leverages))
    # Points exactly on a line have neither residual nor spread, and stand at 0.
    return np.divide(line.residuals, spread, out=np.zeros(line.n), where=spread > 0)


def predictive_draws(
    line: LineFit, x_draws: Array, *, scatter: Array, rng: np.random.Generator
) -> Array:
    """Draw one more y for each draw of x, with the line's own uncertainty.

    Parameters
    ----------
    line : LineFit
        The fitted line.
    x_draws : (n_draws,) float
        Where to predict.
    scatter : (n_draws,) float
        Standard normal variates: how many residual spreads the new point lies off the line.
    rng
        Source of the draws of the line and of the residual spread.

    Notes
    -----
    The posterior predictive under the reference prior (flat in the coefficients and in
    the logarithm of the spread): at a fixed x it is the t distribution of the
    classical prediction interval, exactly.
    """
    n_draws = len(x_draws)
    degrees = line.degrees_of_freedom
    spread = line.residual_sd * np.sqrt(degrees / rng.chisquare(degrees, n_draws))
    height = line.mean_y + spread * rng.standard_normal(n_draws) / np.sqrt(line.n)
    slope = line.slope + spread * rng.standard_normal(n_draws) / np.sqrt(line.sum_of_squares_x)
    return np.asarray(height + slope * (x_draws - line.mean_x) + spread * scatter)
