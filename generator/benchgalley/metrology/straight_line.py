"""Straight line by least squares, and reading it backwards."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .distribution import coverage_factor
from .ratio_of_means import RatioShape, quadratic_set
from .repeatability import mean
from .sample import NotDetermined, Numbers, as_list, finite


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """y = intercept + slope x with what is needed for intervals."""

    intercept: float
    """value at x = 0, unit of y; 0 for a line through the origin"""
    slope: float
    """unit of y per unit of x"""
    intercept_error: float
    """standard error of the intercept; 0 for a line through the origin"""
    slope_error: float
    """standard error of the slope"""
    residual_deviation: float
    """residual standard deviation, divisor `degrees_of_freedom`"""
    degrees_of_freedom: int
    """n - 2, or n - 1 through the origin"""
    r_squared: float
    """share of the sum of squares explained (about zero through the origin)"""
    f: float | None
    """regression over residual mean square; None when the residuals are all zero"""
    mean_x: float
    """mean of x; 0 through the origin"""
    mean_y: float
    """mean of y; 0 through the origin"""
    square_x: float
    """sum of squares of x about `mean_x`"""
    count: int
    """number of points"""

    def at(self, x: float) -> float:
        """Value of the line at x, unit of y."""
        return self.mean_y + self.slope * (x - self.mean_x)


def fit_line(x: Numbers, y: Numbers, *, intercept: bool = True) -> Line:
    """Straight line by ordinary least squares.

    Parameters
    ----------
    x, y : 1-D of float
        Same length, at least three points (two through the origin).
    intercept : bool
        False for a line through the origin.

    Returns
    -------
    Line

    Raises
    ------
    NotDetermined
        Too few points, one distinct x only, lengths that differ.

    Notes
    -----
    NIST/SEMATECH e-Handbook 4.4.3.1; centred sums by exact summation; checked against NIST StRD.

    Examples
    --------
    >>> line = fit_line([0, 1, 2, 3], [1.0, 3.0, 5.0, 7.0])
    >>> line.intercept, line.slope
    (1.0, 2.0)
    """
    xs, ys = as_list(x, 3 if intercept else 2, "point"), as_list(y, 3 if intercept else 2, "point")
    if len(xs) != len(ys):
        raise NotDetermined("the lists of values do not have the same length")
    count = len(xs)
    centre_x, centre_y = (mean(xs), mean(ys)) if intercept else (0.0, 0.0)
    dx, dy = [value - centre_x for value in xs], [value - centre_y for value in ys]
    reach = max(map(abs, dx))
    if reach == 0 or (intercept and min(xs) == max(xs)):
        raise NotDetermined("all points have the same setting: no slope can be estimated")
    ux = [value / reach for value in dx]
    square = math.fsum(u * u for u in ux)
    tilt = math.fsum(u * v for u, v in zip(ux, dy, strict=True)) / square
    residuals = [v - tilt * u for u, v in zip(ux, dy, strict=True)]
    # one step of refinement takes off what rounding left in slope and level
    tilt += math.fsum(u * r for u, r in zip(ux, residuals, strict=True)) / square
    residuals = [v - tilt * u for u, v in zip(ux, dy, strict=True)]
    freedom = count - (2 if intercept else 1)
    height = max(map(abs, dy)) or 1.0
    rest = math.fsum((r / height) ** 2 for r in residuals)
    whole = math.fsum((v / height) ** 2 for v in dy)
    deviation = math.sqrt(rest / freedom) * height
    tilt_error = deviation / math.sqrt(square)
    slope = finite(tilt / reach, "slope")
    error_at_zero = math.hypot(deviation / math.sqrt(count), tilt_error * centre_x / reach) if intercept else 0.0
    explained = tilt * tilt * square / height / height
    return Line(
        intercept=finite(centre_y - slope * centre_x, "intercept"),
        slope=slope,
        intercept_error=error_at_zero,
        slope_error=finite(tilt_error / reach, "standard error of the slope"),
        residual_deviation=deviation,
        degrees_of_freedom=freedom,
        r_squared=_r_squared(ys, residuals, whole, rest, height, intercept),
        f=explained / (rest / freedom) if rest > 0 and math.isfinite(explained / rest) else None,
        mean_x=centre_x,
        mean_y=centre_y,
        square_x=finite(square * reach * reach, "sum of squares"),
        count=count,
    )


def _r_squared(
    ys: list[float], residuals: list[float], whole: float, rest: float, height: float, intercept: bool
) -> float:
    if whole == 0:
        return 0.0
    if intercept:
        return 1 - rest / whole
    return 1 - rest / math.fsum((value / height) ** 2 for value in ys)


@dataclass(frozen=True, kw_only=True, slots=True)
class InversePrediction:
    """The x that belongs to a y, read from a line."""

    x: float
    """estimate, unit of x"""
    standard_error: float
    """first-order standard error of x"""
    half_width: float
    """t times the standard error: the usual approximate interval is x +- this"""
    shape: RatioShape
    """whether the exact set is an interval"""
    low: float | None
    """lower end of the exact (Fieller) set; None when there is none"""
    high: float | None
    """upper end of the exact set; None when there is none"""
    confidence: float
    """confidence level as a fraction"""


def inverse_prediction(line: Line, y: float, readings: int = 1, confidence: float = 0.95) -> InversePrediction:
    """x at which the line reaches y, with interval (calibration).

    Parameters
    ----------
    line : Line
        With intercept.
    y : float
        Mean of new readings, unit of y.
    readings : int
        How many readings y is the mean of, with the spread of the line's residuals.
    confidence : float
        Fraction.

    Raises
    ------
    NotDetermined
        Slope zero, no residual spread.

    Notes
    -----
    s_x = (s_y / b) sqrt(1/m + 1/n + (y - ybar)^2 / (b^2 Sxx)); exact set by inversion of the t test.
    Massart et al., Handbook of Chemometrics and Qualimetrics, Part A (1997), chapter 8.

    Examples
    --------
    >>> line = fit_line([0, 10, 20, 30, 40, 50], [4.0, 21.2, 44.6, 61.8, 78.0, 105.2])
    >>> p = inverse_prediction(line, 15)
    >>> round(p.x, 5), round(p.half_width, 6), round(p.low, 6)
    (6.09381, 4.906751, 0.966872)
    """
    if line.slope == 0:
        raise NotDetermined("the line is level: no setting belongs to the value")
    if not line.residual_deviation > 0 or readings < 1:
        raise NotDetermined("the points lie exactly on the line: the spread cannot be estimated")
    away = (y - line.mean_y) / line.slope
    unit = line.residual_deviation / abs(line.slope)
    base = 1 / readings + 1 / line.count
    error = finite(unit * math.sqrt(base + away / line.square_x * away), "standard error")
    factor = coverage_factor(confidence, line.degrees_of_freedom)
    shape, ends = quadratic_set(away, unit * unit * base, unit * unit / line.square_x, 0.0, factor)
    limits = sorted(line.mean_x + end for end in ends)
    return InversePrediction(
        x=finite(line.mean_x + away, "setting"),
        standard_error=error,
        half_width=factor * error,
        shape=shape,
        low=limits[0] if len(limits) == 2 else None,
        high=limits[1] if len(limits) == 2 else None,
        confidence=confidence,
    )
