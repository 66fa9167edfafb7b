"""Averages other than the mean of repeats: median, quantile, geometric and harmonic mean, ratio of totals."""

from __future__ import annotations

import math

from .distribution import coverage_factor
from .repeatability import exact_sum, mean, standard_deviation
from .sample import Estimate, NotDetermined, Numbers, as_list, finite


def median(values: Numbers) -> float:
    """Middle value, or the mean of the two middle values.

    Parameters
    ----------
    values : 1-D of float, n >= 1, any unit

    Raises
    ------
    NotDetermined
        No values.

    Examples
    --------
    >>> median([5.0, 1.0, 2.0, 4.0])
    3.0
    """
    return quantile(values, 0.5)


def quantile(values: Numbers, fraction: float) -> float:
    """Quantile by linear interpolation between order statistics.

    Parameters
    ----------
    values : 1-D of float, n >= 1, any unit
    fraction : float
        0 to 1.

    Returns
    -------
    float
        x_(h) with h = (n - 1) fraction + 1, interpolated, same unit.

    Raises
    ------
    NotDetermined
        No values, or a fraction outside 0 to 1.

    Notes
    -----
    Definition 7 of Hyndman and Fan, Am. Stat. 50 (1996) 361-365.

    Examples
    --------
    >>> quantile([1.0, 2.0, 3.0, 4.0], 0.25)
    1.75
    """
    if not 0 <= fraction <= 1:
        raise NotDetermined("a quantile is asked for at a fraction between 0 and 1")
    ordered = sorted(as_list(values))
    place = (len(ordered) - 1) * fraction
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    share = place - below
    # weights instead of a difference: the difference of two huge values of opposite sign overflows
    return ordered[below] * (1 - share) + ordered[above] * share


def geometric_mean(values: Numbers) -> float:
    """n-th root of the product; the one average of ratios that does not depend on the base.

    Parameters
    ----------
    values : 1-D of float, all above zero

    Returns
    -------
    float
        exp(mean(log x)), same unit.

    Raises
    ------
    NotDetermined
        No values, or one not above zero.

    Notes
    -----
    Fleming and Wallace, Commun. ACM 29 (1986) 218-221.

    Examples
    --------
    >>> geometric_mean([2.0, 8.0])
    4.0
    """
    numbers = as_list(values, noun="ratio")
    if min(numbers) <= 0:
        raise NotDetermined("a geometric mean needs values above zero")
    if min(numbers) == max(numbers):
        return numbers[0]
    # splitting off the power of two keeps the logarithms small and products of powers of two exact
    parts = [math.frexp(number) for number in numbers]
    exponent = sum(part[1] for part in parts)
    whole, rest = divmod(exponent, len(numbers))
    mantissa = math.fsum(math.log2(part[0]) for part in parts)
    return finite(math.ldexp(2.0 ** ((mantissa + rest) / len(numbers)), whole), "geometric mean")


def geometric_mean_interval(values: Numbers, confidence: float = 0.95) -> Estimate:
    """Geometric mean with the t interval of the mean logarithm, transformed back.

    Parameters
    ----------
    values : 1-D of float, n >= 2, all above zero
    confidence : float
        Fraction.

    Returns
    -------
    Estimate
        `standard_error` is the first-order one, value times the standard error of the mean logarithm.

    Raises
    ------
    NotDetermined
        Fewer than two values, one not above zero, or all equal.

    Notes
    -----
    The interval speaks of further loads like these, taken as a random choice; say so where used.

    Examples
    --------
    >>> e = geometric_mean_interval([1.0, 2.0, 4.0])
    >>> round(e.value, 6), round(e.low, 3), round(e.high, 3)
    (2.0, 0.357, 11.19)
    """
    value = geometric_mean(values)
    logs = [math.log(number) for number in as_list(values, 2, "ratio")]
    error = standard_deviation(logs) / math.sqrt(len(logs))
    if error == 0:
        raise NotDetermined("all ratios are equal: their spread cannot be estimated")
    half = coverage_factor(confidence, len(logs) - 1) * error
    if half > 700:
        raise NotDetermined("the ratios differ too much for an interval of their geometric mean")
    return Estimate(
        value=value,
        standard_error=value * error,
        degrees_of_freedom=float(len(logs) - 1),
        low=finite(value * math.exp(-half), "lower limit"),
        high=finite(value * math.exp(half), "upper limit"),
        confidence=confidence,
    )


def harmonic_mean(values: Numbers) -> float:
    """n over the sum of reciprocals: the mean of rates over equal amounts of work.

    Parameters
    ----------
    values : 1-D of float, all above zero

    Raises
    ------
    NotDetermined
        No values, or one not above zero.

    Notes
    -----
    Hoefler and Belli, SC '15, rule 3.

    Examples
    --------
    >>> harmonic_mean([10.0, 1.0, 2.5])
    2.0
    """
    numbers = as_list(values)
    if min(numbers) <= 0:
        raise NotDetermined("a harmonic mean needs values above zero")
    smallest = min(numbers)
    return finite(len(numbers) / math.fsum(smallest / number for number in numbers) * smallest, "harmonic mean")


def ratio_of_totals(amounts: Numbers, costs: Numbers) -> float:
    """Total amount over total cost, for example score over energy of all runs.

    Parameters
    ----------
    amounts, costs : 1-D of float, same length
        Numerators and denominators run by run.

    Returns
    -------
    float
        sum(amounts) / sum(costs); not the mean of the ratios.

    Raises
    ------
    NotDetermined
        Different lengths, no runs, or costs that add to zero.

    Notes
    -----
    Hoefler and Belli, SC '15, rule 3: 300 units in 10 + 100 + 40 s are 2.0 a second.

    Examples
    --------
    >>> ratio_of_totals([100.0, 100.0, 100.0], [10.0, 100.0, 40.0])
    2.0
    """
    if len(amounts) != len(costs):
        raise NotDetermined("the lists of values do not have the same length")
    total = exact_sum(costs)
    if total == 0:
        raise NotDetermined("the total below the fraction is zero")
    return finite(exact_sum(amounts) / total, "ratio")


def share_of_mean(values: Numbers) -> float:
    """Coefficient of variation: standard deviation (n - 1) over the mean, a fraction.

    Raises
    ------
    NotDetermined
        Fewer than two values or a mean of zero.

    Examples
    --------
    >>> round(share_of_mean([9.0, 10.0, 11.0]), 6)
    0.1
    """
    centre = mean(values)
    if centre == 0:
        raise NotDetermined("the mean is zero, so the spread has no share of it")
    return finite(standard_deviation(values) / abs(centre), "coefficient of variation")
