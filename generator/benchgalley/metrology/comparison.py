"""Difference of two means: Welch, pooled, paired, and from summary statistics."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .distribution import coverage_factor, t_quantile, t_two_sided_p
from .mean_interval import mean_and_error
from .repeatability import mean, pooled_standard_deviation
from .sample import Estimate, NotDetermined, Numbers, as_list, check_confidence, finite

NO_SPREAD = "every run gave the same value: the spread cannot be estimated"


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """A difference a - b with its interval and test of no difference."""

    difference: float
    """a - b, unit of the quantity"""
    standard_error: float
    """standard uncertainty of the difference, same unit"""
    degrees_of_freedom: float
    """degrees of freedom; may be infinite"""
    t: float
    """difference over its standard error"""
    p_two_sided: float
    """two-sided p value of no difference"""
    low: float
    """lower limit of the interval, same unit"""
    high: float
    """upper limit of the interval, same unit"""
    confidence: float
    """confidence level of the interval as a fraction"""


def _difference(value: float, error: float, nu: float, confidence: float) -> Difference:
    if not error > 0:
        raise NotDetermined(NO_SPREAD)
    check_confidence(confidence)
    statistic = finite(value / error, "t statistic")
    half = coverage_factor(confidence, nu) * error
    return Difference(
        difference=finite(value, "difference"),
        standard_error=finite(error, "standard error"),
        degrees_of_freedom=nu,
        t=statistic,
        p_two_sided=t_two_sided_p(statistic, nu),
        low=finite(value - half, "lower limit"),
        high=finite(value + half, "upper limit"),
        confidence=confidence,
    )


def welch_degrees_of_freedom(error_a: float, nu_a: float, error_b: float, nu_b: float) -> float:
    """Welch-Satterthwaite degrees of freedom of a difference of two independent means.

    Parameters
    ----------
    error_a, error_b : float
        Standard errors, same unit, not both zero.
    nu_a, nu_b : float
        Their degrees of freedom, may be infinite.

    Returns
    -------
    float
        (ea^2 + eb^2)^2 / (ea^4/nu_a + eb^4/nu_b).

    Raises
    ------
    NotDetermined
        Both errors zero.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.3; JCGM 100:2008, G.4.1.

    Examples
    --------
    >>> round(welch_degrees_of_freedom(1.0, 4, 1.0, 4), 9)
    8.0
    """
    largest = max(error_a, error_b)
    if not largest > 0:
        raise NotDetermined(NO_SPREAD)
    share_a, share_b = (error_a / largest) ** 2, (error_b / largest) ** 2
    below = share_a * share_a / nu_a + share_b * share_b / nu_b
    return (share_a + share_b) ** 2 / below if below > 0 else math.inf


def difference_from_statistics(
    mean_a: float,
    error_a: float,
    nu_a: float,
    mean_b: float,
    error_b: float,
    nu_b: float,
    confidence: float = 0.95,
) -> Difference:
    """Difference of two independent estimates from mean, standard error and degrees of freedom.

    Parameters
    ----------
    mean_a, mean_b : float
        Estimates, same unit.
    error_a, error_b : float
        Standard errors of the estimates (not standard deviations of runs), same unit.
    nu_a, nu_b : float
        Degrees of freedom of the standard errors, may be infinite.
    confidence : float
        Fraction.

    Returns
    -------
    Difference
        a - b.

    Raises
    ------
    NotDetermined
        Both errors zero, degrees of freedom not above zero, overflow.

    Examples
    --------
    >>> d = difference_from_statistics(19.4, 2.7 / 40**0.5, 39, 11.3, 2.1 / 40**0.5, 39)
    >>> round(d.t, 4), round(d.degrees_of_freedom, 2)
    (14.9769, 73.54)
    """
    if not (nu_a > 0 or error_a == 0) or not (nu_b > 0 or error_b == 0):
        raise NotDetermined("no degrees of freedom are left to estimate the spread")
    nu = welch_degrees_of_freedom(error_a, nu_a if error_a else math.inf, error_b, nu_b if error_b else math.inf)
    return _difference(mean_a - mean_b, math.hypot(error_a, error_b), nu, confidence)


def welch_difference(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Difference:
    """Difference of two means with unequal spreads (Welch).

    Parameters
    ----------
    values_a, values_b : 1-D of float
        One value a run, at least two each, same unit.
    confidence : float
        Fraction.

    Returns
    -------
    Difference
        mean(a) - mean(b); standard error sqrt(sa^2/na + sb^2/nb) with divisors n - 1.

    Raises
    ------
    NotDetermined
        Fewer than two values on a side, or no spread on both.

    Notes
    -----
    Welch, Biometrika 34 (1947) 28-35; NIST/SEMATECH e-Handbook 1.3.5.3. Assumes independent runs,
    near normal. This is the published formula. It falls short where few runs of a large spread stand beside
    many of a small one: a 95 % interval covers 92.8 % at worst with three runs beside ten, 88 % with two beside
    ten (tests/metrology/test_exact_rates.py). The site prints `difference_by_parts`, which does not.

    Examples
    --------
    >>> d = welch_difference([5.1, 4.9, 5.0], [4.0, 4.2, 4.1])
    >>> round(d.difference, 3), round(d.degrees_of_freedom, 3)
    (0.9, 4.0)
    """
    return difference_from_statistics(*mean_and_error(values_a), *mean_and_error(values_b), confidence)


def pooled_difference(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Difference:
    """Difference of two means assuming one common spread.

    Parameters
    ----------
    values_a, values_b : 1-D of float
        At least one value each and three together.

    Returns
    -------
    Difference
        standard error s_p sqrt(1/na + 1/nb), nu = na + nb - 2.

    Raises
    ------
    NotDetermined
        No repeats at all, or no spread.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.3. Only where one spread is justified; say so where used.

    Examples
    --------
    >>> pooled_difference([5.1, 4.9], [4.0]).degrees_of_freedom
    1.0
    """
    list_a, list_b = as_list(values_a), as_list(values_b)
    deviation, freedom = pooled_standard_deviation([list_a, list_b])
    error = deviation * math.sqrt(1 / len(list_a) + 1 / len(list_b))
    return _difference(mean(list_a) - mean(list_b), error, float(freedom), confidence)


def pooled_difference_from_statistics(
    mean_a: float,
    deviation_a: float,
    runs_a: int,
    mean_b: float,
    deviation_b: float,
    runs_b: int,
    confidence: float = 0.95,
) -> Difference:
    """`pooled_difference` from means, standard deviations (n - 1) and numbers of runs.

    Examples
    --------
    >>> d = pooled_difference_from_statistics(20.14458, 6.4147, 249, 30.48101, 6.10771, 79)
    >>> round(d.t, 5), d.degrees_of_freedom
    (-12.62059, 326.0)
    """
    freedom = runs_a + runs_b - 2
    if runs_a < 1 or runs_b < 1 or freedom < 1:
        raise NotDetermined("no setting was run twice: the spread cannot be estimated")
    pooled = math.hypot(deviation_a * math.sqrt(runs_a - 1), deviation_b * math.sqrt(runs_b - 1))
    error = pooled / math.sqrt(freedom) * math.sqrt(1 / runs_a + 1 / runs_b)
    return _difference(mean_a - mean_b, error, float(freedom), confidence)


def paired_difference(values_a: Numbers, values_b: Numbers, confidence: float = 0.95) -> Difference:
    """Mean difference of runs that belong together in pairs (same block, same time).

    Parameters
    ----------
    values_a, values_b : 1-D of float
        Same length, at least two pairs, in the same order.

    Returns
    -------
    Difference
        nu = pairs - 1.

    Raises
    ------
    NotDetermined
        Different lengths, fewer than two pairs, or equal differences.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.3 (paired samples).

    Examples
    --------
    >>> round(paired_difference([3.0, 5.0, 7.0], [2.0, 3.0, 6.0]).t, 6)
    4.0
    """
    list_a, list_b = as_list(values_a, 2, "pair"), as_list(values_b, 2, "pair")
    if len(list_a) != len(list_b):
        raise NotDetermined("runs in pairs need as many on one side as on the other")
    return _difference(*mean_and_error([a - b for a, b in zip(list_a, list_b, strict=True)]), confidence)


def difference_from_reference(values: Numbers, reference: float, confidence: float = 0.95) -> Difference:
    """Mean of repeats less a value known exactly (one-sample t).

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.2.

    Examples
    --------
    >>> difference_from_reference([9.0, 10.0, 11.0], 10.0).p_two_sided
    1.0
    """
    centre, error, nu = mean_and_error(values)
    return _difference(centre - reference, error, nu, confidence)


def two_sided(value: float, standard_error: float, nu: float, confidence: float = 0.95) -> Estimate:
    """Estimate +- t_{(1+confidence)/2, nu} standard error.

    Parameters
    ----------
    value, standard_error : float
        Same unit; the error above zero.
    nu : float
        Degrees of freedom, may be infinite.

    Raises
    ------
    NotDetermined
        No spread, no degrees of freedom, overflow.

    Examples
    --------
    >>> round(two_sided(10.0, 1.0, 4).high, 3)
    12.776
    """
    found = _difference(value, standard_error, nu, confidence)
    return Estimate(
        value=found.difference,
        standard_error=standard_error,
        degrees_of_freedom=nu,
        low=found.low,
        high=found.high,
        confidence=confidence,
    )


def lower_bound(value: float, standard_error: float, nu: float, confidence: float = 0.95) -> float:
    """One-sided lower bound: the quantity is at least this, with the confidence given.

    Returns
    -------
    float
        value - t_{confidence, nu} standard error, same unit.

    Raises
    ------
    NotDetermined
        No spread or no degrees of freedom.

    Examples
    --------
    >>> round(lower_bound(10.0, 1.0, 4), 3)
    7.868
    """
    if not standard_error > 0:
        raise NotDetermined(NO_SPREAD)
    return finite(value - t_quantile(check_confidence(confidence), nu) * standard_error, "lower bound")


def upper_bound(value: float, standard_error: float, nu: float, confidence: float = 0.95) -> float:
    """One-sided upper bound: the quantity is at most this, with the confidence given.

    Examples
    --------
    >>> round(upper_bound(10.0, 1.0, 4), 3)
    12.132
    """
    return -lower_bound(-value, standard_error, nu, confidence)
