"""Mean, standard deviation and spread of repeats, to the last digits the data hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from .sample import NotDetermined, Numbers, as_list, finite, moderate, plural

ONE_RUN = "one run: its spread cannot be estimated"


def exact_sum(values: Numbers) -> float:
    """Correctly rounded sum.

    Parameters
    ----------
    values : 1-D of float, any unit

    Returns
    -------
    float
        The sum, same unit, rounded once.

    Raises
    ------
    NotDetermined
        No values, or the sum overflows.

    Notes
    -----
    `math.fsum` (Shewchuk, Discrete Comput. Geom. 18 (1997) 305-363). Sums whose
    partial sums overflow are formed at a power of two below.

    Examples
    --------
    >>> exact_sum([1.0, 1e100, 1.0, -1e100])
    2.0
    """
    return finite(_sum(as_list(values)), "sum")


def _sum(numbers: list[float]) -> float:
    try:
        return math.fsum(numbers)
    except OverflowError:
        # scaling by a power of two is exact, so only the final step can overflow
        scaled = math.fsum([math.ldexp(number, -64) for number in numbers])
        return scaled * 2.0**64


def _mean(numbers: list[float]) -> float:
    count = len(numbers)
    try:
        return math.fsum(numbers) / count
    except OverflowError:
        return math.fsum([math.ldexp(number, -64) for number in numbers]) / count * 2.0**64


def mean(values: Numbers) -> float:
    """Arithmetic mean.

    Parameters
    ----------
    values : 1-D of float, n >= 1, any unit

    Returns
    -------
    float
        sum / n with a correctly rounded sum, same unit.

    Raises
    ------
    NotDetermined
        No values.

    Notes
    -----
    Checked against NIST StRD, univariate summary statistics.

    Examples
    --------
    >>> mean([4.0, 7.0, 13.0, 16.0])
    10.0
    """
    return _mean(as_list(values))


def _squares(numbers: list[float]) -> tuple[float, float]:
    """Mean and corrected sum of squared deviations from it, at a scale: (ss, scale)."""
    centre = _mean(numbers)
    deviations = [number - centre for number in numbers]
    largest = max(map(abs, deviations))
    if largest == 0:
        return 0.0, 1.0
    if not math.isfinite(largest):
        raise NotDetermined("the values are too far apart to compute with")
    # a power of two keeps squares clear of overflow and underflow without rounding anything
    scale = 1.0 if 1e-100 < largest < 1e100 else math.ldexp(1.0, math.frexp(largest)[1] - 1)
    if scale != 1.0:
        deviations = [deviation / scale for deviation in deviations]
    # the second term removes what rounding of the centre left behind (corrected two-pass form)
    rest = math.fsum(deviations)
    total = math.fsum([deviation * deviation for deviation in deviations]) - rest * rest / len(numbers)
    return max(total, 0.0), scale


def standard_deviation(values: Numbers) -> float:
    """Repeatability standard deviation, divisor n - 1.

    Parameters
    ----------
    values : 1-D of float, n >= 2, any unit

    Returns
    -------
    float
        sqrt(sum (x - mean)^2 / (n - 1)), same unit. Zero when all values are equal.

    Raises
    ------
    NotDetermined
        Fewer than two values: one run has no spread.

    Notes
    -----
    Corrected two-pass algorithm (Chan, Golub and LeVeque, Am. Stat. 37 (1983) 242-247) with
    exact sums; checked against NIST StRD including NumAcc4.

    Examples
    --------
    >>> standard_deviation([1e9 + 4, 1e9 + 7, 1e9 + 13, 1e9 + 16]) ** 2
    30.0
    """
    numbers = as_list(values)
    if len(numbers) < 2:
        raise NotDetermined(ONE_RUN)
    if min(numbers) == max(numbers):
        return 0.0
    total, scale = _squares(numbers)
    return finite(math.sqrt(total / (len(numbers) - 1)) * scale, "standard deviation")


def pooled_standard_deviation(groups: Sequence[Numbers]) -> tuple[float, int]:
    """Standard deviation within groups, pooled over groups.

    Parameters
    ----------
    groups : sequence of 1-D of float
        Repeats at each setpoint, same unit. Groups of one add nothing.

    Returns
    -------
    (float, int)
        sqrt(sum of within sums of squares / nu) and nu = sum (n_i - 1).

    Raises
    ------
    NotDetermined
        No group has two values.

    Notes
    -----
    ISO 5725-2, 7.4.5.1 (repeatability). Holds when the groups share one spread; say so where used.

    Examples
    --------
    >>> pooled_standard_deviation([[1.0, 3.0], [5.0, 7.0], [9.0]])
    (1.4142135623730951, 2)
    """
    lists = [as_list(group) for group in groups]
    used = [numbers for numbers in lists if len(numbers) > 1]
    freedom = sum(len(numbers) - 1 for numbers in used)
    if not freedom:
        raise NotDetermined("no setting was run twice: the spread cannot be estimated")
    deviations = [(standard_deviation(numbers), len(numbers) - 1) for numbers in used]
    largest = max(deviation for deviation, _ in deviations)
    if largest == 0:
        return 0.0, freedom
    total = math.fsum(nu * (deviation / largest) ** 2 for deviation, nu in deviations)
    return largest * math.sqrt(total / freedom), freedom


def lag1_autocorrelation(values: Numbers) -> float:
    """Lag-1 autocorrelation in the order given, between -1 and 1.

    Parameters
    ----------
    values : 1-D of float, n >= 3, in run order

    Returns
    -------
    float
        sum (x_i - m)(x_{i-1} - m) / sum (x_i - m)^2.

    Raises
    ------
    NotDetermined
        Fewer than three values or no spread.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.12; checked against NIST StRD.

    Examples
    --------
    >>> round(lag1_autocorrelation([1.0, 2.0, 3.0, 4.0, 5.0]), 12)
    0.4
    """
    numbers = moderate(as_list(values, 3))
    centre = _mean(numbers)
    deviations = [number - centre for number in numbers]
    largest = max(map(abs, deviations))
    if largest == 0:
        raise NotDetermined(f"all {plural(len(numbers))} gave the same value: there is no variation to correlate")
    # what rounding of the centre left is taken off, as in the standard deviation
    rest = math.fsum(deviations) / len(deviations)
    scaled = [(deviation - rest) / largest for deviation in deviations]
    square = math.fsum([item * item for item in scaled])
    return math.fsum([a * b for a, b in pairwise(scaled)]) / square


def spread_range(values: Numbers) -> float:
    """Largest less smallest value, same unit.

    Raises
    ------
    NotDetermined
        No values, or the difference overflows.

    Examples
    --------
    >>> spread_range([3.0, 1.0, 2.0])
    2.0
    """
    numbers = as_list(values)
    return finite(max(numbers) - min(numbers), "range")
