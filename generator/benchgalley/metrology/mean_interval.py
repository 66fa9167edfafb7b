"""Intervals of a mean and of a standard deviation."""

from __future__ import annotations

import math

from .distribution import chi2_quantile, coverage_factor
from .repeatability import ONE_RUN, mean, standard_deviation
from .sample import Estimate, Interval, NotDetermined, Numbers, as_list, check_confidence, finite, plural


def standard_error(values: Numbers) -> float:
    """Standard uncertainty of the mean of repeats, s / sqrt(n).

    Parameters
    ----------
    values : 1-D of float, n >= 2, any unit

    Returns
    -------
    float
        JCGM 100:2008, 4.2.3, same unit.

    Raises
    ------
    NotDetermined
        Fewer than two values.

    Examples
    --------
    >>> round(standard_error([1.0, 2.0, 3.0, 4.0, 5.0]) ** 2, 9)
    0.5
    """
    numbers = as_list(values)
    return standard_deviation(numbers) / math.sqrt(len(numbers))


def mean_and_error(values: Numbers, noun: str = "run") -> tuple[float, float, float]:
    """Mean, its standard error and their degrees of freedom: what two means are compared by.

    Parameters
    ----------
    values : 1-D of float, n >= 2, any unit
    noun : str
        What a value is one of, for the reason when there are too few.

    Raises
    ------
    NotDetermined
        Fewer than two values.

    Examples
    --------
    >>> [round(x, 6) for x in mean_and_error([9.0, 10.0, 11.0])]
    [10.0, 0.57735, 2.0]
    """
    numbers = as_list(values, 2, noun)
    return mean(numbers), standard_deviation(numbers) / math.sqrt(len(numbers)), float(len(numbers) - 1)


def mean_interval(values: Numbers, confidence: float = 0.95) -> Estimate:
    """Mean with its two-sided t interval.

    Parameters
    ----------
    values : 1-D of float, n >= 2, any unit
    confidence : float
        Fraction, 0.95 for 95 %.

    Returns
    -------
    Estimate
        mean +- t_{n-1} s / sqrt(n).

    Raises
    ------
    NotDetermined
        Fewer than two values, or all values equal: then the spread is below
        what was recorded and an interval of width zero would be untrue.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.2. Assumes independent runs, near normal.

    Examples
    --------
    >>> e = mean_interval([9.0, 10.0, 11.0])
    >>> round(e.low, 4), round(e.high, 4)
    (7.5159, 12.4841)
    """
    numbers = as_list(values)
    deviation = standard_deviation(numbers)
    return mean_interval_from_statistics(mean(numbers), deviation, len(numbers), confidence)


def mean_interval_from_statistics(mean_value: float, deviation: float, runs: int, confidence: float = 0.95) -> Estimate:
    """The interval of `mean_interval` from mean, standard deviation (n - 1) and number of runs.

    Raises
    ------
    NotDetermined
        Fewer than two runs or a spread that is not above zero.

    Examples
    --------
    >>> round(mean_interval_from_statistics(9.26146, 0.02278881, 195).low, 6)
    9.258241
    """
    if runs < 2:
        raise NotDetermined(ONE_RUN)
    if not deviation > 0:
        raise NotDetermined(f"all {plural(runs)} gave the same value: the spread cannot be estimated")
    error = deviation / math.sqrt(runs)
    half = coverage_factor(confidence, runs - 1) * error
    return Estimate(
        value=mean_value,
        standard_error=error,
        degrees_of_freedom=float(runs - 1),
        low=finite(mean_value - half, "lower limit"),
        high=finite(mean_value + half, "upper limit"),
        confidence=confidence,
    )


def deviation_interval(deviation: float, degrees_of_freedom: float, confidence: float = 0.95) -> Interval:
    """Two-sided chi-square interval of a standard deviation.

    Parameters
    ----------
    deviation : float
        Standard deviation s, any unit, above zero.
    degrees_of_freedom : float
        nu behind s.
    confidence : float
        Fraction.

    Returns
    -------
    Interval
        s sqrt(nu / chi2_{1-a/2}) to s sqrt(nu / chi2_{a/2}).

    Raises
    ------
    NotDetermined
        No degrees of freedom, or s not above zero.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.8. Depends strongly on normality.

    Examples
    --------
    >>> i = deviation_interval(1.0, 4)
    >>> round(i.low, 3), round(i.high, 3)
    (0.599, 2.874)
    """
    check_confidence(confidence)
    if not degrees_of_freedom > 0 or not deviation > 0:
        raise NotDetermined("the spread itself is not determined, so neither is its interval")
    tail = (1 - confidence) / 2
    return Interval(
        low=deviation * math.sqrt(degrees_of_freedom / chi2_quantile(1 - tail, degrees_of_freedom)),
        high=deviation * math.sqrt(degrees_of_freedom / chi2_quantile(tail, degrees_of_freedom)),
        confidence=confidence,
    )
