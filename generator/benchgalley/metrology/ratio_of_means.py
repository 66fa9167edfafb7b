"""Ratio of two means with Fieller's confidence set, which may be no interval, and says so."""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass

from .comparison import NO_SPREAD
from .distribution import coverage_factor
from .mean_interval import mean_and_error
from .repeatability import mean, standard_deviation
from .sample import NotDetermined, Numbers, as_list, finite, moderate


class RatioShape(enum.Enum):
    """What the confidence set of a ratio looks like."""

    BOUNDED = "bounded"
    """an interval from `low` to `high`"""
    OUTSIDE = "outside"
    """everything below `low` and above `high`: the base is not clearly different from zero"""
    WHOLE_LINE = "whole line"
    """every value: the data say nothing about the ratio at this confidence"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Ratio:
    """A ratio of means with its confidence set."""

    ratio: float
    """mean of a over mean of b"""
    shape: RatioShape
    """which values belong to the set"""
    low: float | None
    """lower end (for `OUTSIDE` the values up to here belong); None for the whole line or no finite end"""
    high: float | None
    """upper end (for `OUTSIDE` the values from here on belong); None for the whole line or no finite end"""
    g: float
    """t^2 v_b / b^2: the set is bounded below 1"""
    standard_error: float
    """first-order standard uncertainty of the ratio, for the budget"""
    degrees_of_freedom: float
    """degrees of freedom of the t used"""
    confidence: float
    """confidence level as a fraction"""


def _freedom_at(theta: float, error_a: float, nu_a: float, error_b: float, nu_b: float) -> float:
    part_a, part_b = error_a, abs(theta) * error_b
    largest = max(part_a, part_b)
    if not largest > 0:
        raise NotDetermined(NO_SPREAD)
    share_a, share_b = (part_a / largest) ** 2, (part_b / largest) ** 2
    below = (share_a**2 / nu_a if share_a else 0.0) + (share_b**2 / nu_b if share_b else 0.0)
    return (share_a + share_b) ** 2 / below if below > 0 else math.inf


def fieller_ratio(
    mean_a: float,
    error_a: float,
    nu_a: float,
    mean_b: float,
    error_b: float,
    nu_b: float,
    confidence: float = 0.95,
    *,
    covariance: float = 0.0,
    degrees_of_freedom: float | None = None,
) -> Ratio:
    """Ratio of two estimates with Fieller's confidence set.

    Parameters
    ----------
    mean_a, error_a, nu_a : float
        Numerator: estimate, standard error, degrees of freedom (may be infinite).
    mean_b, error_b, nu_b : float
        Denominator.
    confidence : float
        Fraction.
    covariance : float
        Covariance of the two estimates (product of their units); 0 when independent. A gain error
        they share is better left out of both: it cancels in the ratio.
    degrees_of_freedom : float, optional
        Overrides the Satterthwaite value at the estimated ratio.

    Returns
    -------
    Ratio

    Raises
    ------
    NotDetermined
        The base is exactly zero, no spread on both sides, or overflow.

    Notes
    -----
    The set of theta with (a - theta b)^2 <= t^2 (v_a - 2 theta c + theta^2 v_b). Fieller,
    J. R. Stat. Soc. B 16 (1954) 175-185. Unequal variances: t with Satterthwaite degrees of freedom at
    theta = a / b (Tamhane and Logan, Biostatistics 5 (2004) 449-464; from memory).

    Examples
    --------
    >>> r = fieller_ratio(14, 3, 10, 7, 2, 10, 0.9, degrees_of_freedom=10)
    >>> r.shape.value, round(r.low, 4), round(r.high, 4)
    ('bounded', 1.0514, 4.4143)
    >>> fieller_ratio(10, 1, 10, 1, 1, 10).shape.value
    'outside'
    >>> fieller_ratio(0.1, 1, 10, 0.1, 1, 10).shape.value
    'whole line'
    """
    if mean_b == 0:
        raise NotDetermined("the value below the fraction is zero")
    theta = finite(mean_a / mean_b, "ratio")
    nu = degrees_of_freedom
    if nu is None:
        nu = _freedom_at(theta, error_a, nu_a, error_b, nu_b)
    factor = coverage_factor(confidence, nu)
    return fieller_set(mean_a, error_a, mean_b, error_b, covariance, factor, nu, confidence)


def fieller_set(
    mean_a: float,
    error_a: float,
    mean_b: float,
    error_b: float,
    covariance: float,
    factor: float,
    nu: float,
    confidence: float,
    standard_error: float | None = None,
) -> Ratio:
    """The theta with (a - theta b)^2 <= factor^2 (v_a - 2 theta c + theta^2 v_b), for a base that is not zero.

    Parameters
    ----------
    mean_a, error_a, mean_b, error_b, covariance
        As `fieller_ratio`; the errors may be widened by factors of their own.
    factor : float
        What multiplies them all.
    nu, confidence : float
        Handed on to the result.
    standard_error : float, optional
        Of the ratio, where the errors are widened.

    Raises
    ------
    NotDetermined
        No spread on both sides, or overflow.

    Examples
    --------
    >>> fieller_set(10.0, 0.1, 5.0, 0.0, 0.0, 2.0, 9.0, 0.95).low
    1.96
    """
    theta = finite(mean_a / mean_b, "ratio")
    # relative errors keep values from 1e-300 to 1e300 in range; ends are found as multiples of a/b or,
    # for a numerator of zero, in units of error_a / b
    scale = theta if theta != 0 else error_a / abs(mean_b)
    if scale == 0:
        raise NotDetermined(NO_SPREAD)
    top = 1.0 if theta != 0 else 0.0
    spread_a = error_a / (scale * mean_b)
    spread_b = error_b / mean_b
    shared = covariance / mean_b / mean_b / scale
    if not max(abs(spread_a), abs(spread_b), abs(shared)) < 1e70:
        raise NotDetermined("the uncertainties are too large beside the values for a ratio")
    if standard_error is None:
        variance = spread_a * spread_a - 2 * top * shared + top * top * spread_b * spread_b
        standard_error = finite(abs(scale) * math.sqrt(max(variance, 0.0)), "standard error of the ratio")
    shape, ends = quadratic_set(top, spread_a * spread_a, spread_b * spread_b, shared, factor)
    limits = sorted(end * scale for end in ends)
    low, high = _ends(shape, limits, top * scale)
    return Ratio(
        ratio=theta,
        shape=shape,
        low=low,
        high=high,
        g=finite((factor * spread_b) ** 2, "g of Fieller"),
        standard_error=standard_error,
        degrees_of_freedom=nu,
        confidence=confidence,
    )


def quadratic_set(
    top: float, variance_a: float, variance_b: float, shared: float, factor: float
) -> tuple[RatioShape, list[float]]:
    """The x with (top - x)^2 <= factor^2 (variance_a - 2 x shared + x^2 variance_b).

    Returns
    -------
    (RatioShape, list of float)
        Shape of the set and its finite ends, in no order.

    Examples
    --------
    >>> quadratic_set(2.0, 0.01, 0.0, 0.0, 2.0)
    (<RatioShape.BOUNDED: 'bounded'>, [2.2, 1.7999999999999998])
    """
    square = factor * factor
    lead = 1 - square * variance_b
    middle = top - square * shared
    constant = top * top - square * variance_a
    # the discriminant is expanded by hand so that top^2 - top^2 never leaves rounding behind
    discriminant = square * (
        variance_a - 2 * top * shared + top * top * variance_b
        - square * (variance_a * variance_b - shared * shared)
    )  # fmt: skip
    if lead < 0 and discriminant < 0:
        return RatioShape.WHOLE_LINE, []
    root = math.sqrt(max(discriminant, 0.0))
    if lead == 0:
        return RatioShape.OUTSIDE, [constant / (2 * middle)] if middle else []
    # the form that adds numbers of one sign keeps the digits of the smaller root
    sum_ = middle + math.copysign(root, middle)
    ends = [sum_ / lead, constant / sum_] if sum_ else [0.0, 0.0]
    return (RatioShape.BOUNDED if lead > 0 else RatioShape.OUTSIDE), ends


def _ends(shape: RatioShape, limits: list[float], inside: float) -> tuple[float | None, float | None]:
    if not limits:
        return None, None
    if len(limits) == 1:
        # one end at infinity: the set reaches from the finite end through the estimate
        end = finite(limits[0], "limit of the ratio")
        return (None, end) if end < inside else (end, None)
    return finite(limits[0], "limit of the ratio"), finite(limits[1], "limit of the ratio")


def ratio_of_means(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Ratio:
    """Ratio of the means of two independent sets of runs, unequal spreads allowed.

    Parameters
    ----------
    values_a, values_b : 1-D of float
        One value a run, at least two each.

    Raises
    ------
    NotDetermined
        Fewer than two values on a side, mean of b zero, or no spread on both.

    Notes
    -----
    See `fieller_ratio`. For percent of baseline multiply by 100. The site prints `ratio_by_parts`.

    Examples
    --------
    >>> r = ratio_of_means([9.9, 10.0, 10.1], [5.0, 5.05, 4.95])
    >>> round(r.ratio, 3), round(r.low, 3), round(r.high, 3)
    (2.0, 1.955, 2.046)
    """
    return fieller_ratio(*mean_and_error(values_a), *mean_and_error(values_b), confidence)


def paired_ratio(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Ratio:
    """Ratio of the means of runs that belong together in pairs.

    Parameters
    ----------
    values_a, values_b : 1-D of float
        Same length, same order, at least two pairs.

    Notes
    -----
    Fieller with the covariance of the pairs and nu = pairs - 1.

    Examples
    --------
    >>> r = paired_ratio([3.3, 3.6, 3.0, 3.1], [3.0, 3.1, 2.7, 2.6])
    >>> round(r.ratio, 4), r.degrees_of_freedom
    (1.1404, 3.0)
    """
    a, b = moderate(as_list(values_a, 2, "pair")), moderate(as_list(values_b, 2, "pair"))
    if len(a) != len(b):
        raise NotDetermined("runs in pairs need as many on one side as on the other")
    count = len(a)
    centre_a, centre_b = mean(a), mean(b)
    cross = math.fsum((x - centre_a) * (y - centre_b) for x, y in zip(a, b, strict=True))
    nu = float(count - 1)
    return fieller_ratio(
        centre_a,
        standard_deviation(a) / math.sqrt(count),
        nu,
        centre_b,
        standard_deviation(b) / math.sqrt(count),
        nu,
        confidence,
        covariance=cross / (count - 1) / count,
        degrees_of_freedom=nu,
    )
