"""Statements free of a distribution: median interval, two groups, quartile fences."""

from __future__ import annotations

from dataclasses import dataclass

from .averages import median, quantile
from .distribution import binomial_cdf
from .repeatability import mean, standard_deviation
from .sample import NotDetermined, Numbers, as_list, check_confidence


@dataclass(frozen=True, kw_only=True, slots=True)
class MedianInterval:
    """Median with an interval between two of the values themselves."""

    median: float
    """the median, unit of the values"""
    low: float
    """lower limit, one of the values"""
    high: float
    """upper limit, one of the values"""
    low_rank: int
    """rank of the lower limit, from 1"""
    high_rank: int
    """rank of the upper limit"""
    coverage: float
    """confidence actually reached, at least the one asked for"""


def median_ranks(runs: int, confidence: float = 0.95) -> tuple[int, int, float]:
    """Ranks of the narrowest symmetric interval for the median.

    Parameters
    ----------
    runs : int
        Number of values.
    confidence : float
        Least confidence.

    Returns
    -------
    (int, int, float)
        Lower rank, upper rank, confidence reached.

    Raises
    ------
    NotDetermined
        Too few values: five reach 93.75 % at most.

    Notes
    -----
    Order statistics r and n + 1 - r hold the median with confidence 1 - 2 P(B <= r - 1), B binomial (n, 1/2).
    Le Boudec, Performance Evaluation (2010), theorem 2.1.

    Examples
    --------
    >>> median_ranks(9)[:2], round(median_ranks(9)[2], 4)
    ((2, 8), 0.9609)
    """
    check_confidence(confidence)
    rank = 0
    while 2 * (rank + 1) <= runs and 1 - 2 * binomial_cdf(rank, runs, 0.5) >= confidence:
        rank += 1
    if rank == 0:
        most = max(0.0, 1 - 2 * 0.5**runs) if runs else 0.0
        raise NotDetermined(
            f"with {runs} runs no {100 * confidence:g} % interval of the median exists "
            f"({100 * most:.4g} % at most); the range is shown"
        )
    return rank, runs + 1 - rank, 1 - 2 * binomial_cdf(rank - 1, runs, 0.5)


def median_interval(values: Numbers, confidence: float = 0.95) -> MedianInterval:
    """Median with its distribution-free interval.

    Parameters
    ----------
    values : 1-D of float
        One value a run; six at least for 95 %.

    Raises
    ------
    NotDetermined
        Too few values.

    Examples
    --------
    >>> i = median_interval([1.0, 2.0, 3.0, 4.0, 5.0, 60.0])
    >>> i.median, i.low, i.high, i.coverage
    (3.5, 1.0, 60.0, 0.96875)
    """
    ordered = sorted(as_list(values))
    low, high, coverage = median_ranks(len(ordered), confidence)
    return MedianInterval(
        median=median(ordered),
        low=ordered[low - 1],
        high=ordered[high - 1],
        low_rank=low,
        high_rank=high,
        coverage=coverage,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Split:
    """Runs that fall in two groups."""

    boundary: float
    """middle of the gap, unit of the values"""
    gap: float
    """width of the gap"""
    lower_count: int
    """values below the gap"""
    upper_count: int
    """values above the gap"""
    lower_mean: float
    """mean of the values below"""
    upper_mean: float
    """mean of the values above"""


def two_groups(values: Numbers, smallest_runs: int = 8, least_share: float = 0.5, least_side: int = 2) -> Split | None:
    """Do the runs fall in two groups, so that a mean between them describes neither?

    Parameters
    ----------
    values : 1-D of float
    smallest_runs : int
        Below this number nothing is said.
    least_share : float
        The largest gap must exceed this share of the range.
    least_side : int
        Fewest values on each side of the gap.

    Returns
    -------
    Split or None
        None when no split is seen, or there are too few runs to see one.

    Raises
    ------
    NotDetermined
        No values.

    Notes
    -----
    Thresholds of this project for the case shown by Hoefler and Belli, SC '15, figure 3.

    Examples
    --------
    >>> s = two_groups([1.0, 1.1, 1.2, 1.1, 3.0, 3.1, 3.2, 3.1])
    >>> s.lower_count, s.upper_count, round(s.boundary, 2)
    (4, 4, 2.1)
    >>> two_groups([1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7]) is None
    True
    """
    ordered = sorted(as_list(values))
    count = len(ordered)
    if count < max(smallest_runs, 2 * least_side) or ordered[0] == ordered[-1]:
        return None
    gaps = [ordered[place + 1] - ordered[place] for place in range(count - 1)]
    # an outlier on one side must not hide a gap that has enough values on both
    inner = range(least_side - 1, count - least_side)
    place = max(inner, key=gaps.__getitem__)
    if not gaps[place] > least_share * (ordered[-1] - ordered[0]):
        return None
    lower, upper = ordered[: place + 1], ordered[place + 1 :]
    return Split(
        boundary=lower[-1] / 2 + upper[0] / 2,
        gap=gaps[place],
        lower_count=len(lower),
        upper_count=len(upper),
        lower_mean=mean(lower),
        upper_mean=mean(upper),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Fences:
    """Quartile fences and the values beyond them."""

    low: float
    """lower quartile less 1.5 interquartile ranges"""
    high: float
    """upper quartile plus 1.5 interquartile ranges"""
    outside: tuple[int, ...]
    """places of the values beyond the fences, in the order given"""


def quartile_fences(values: Numbers, reach: float = 1.5) -> Fences:
    """Values far from the middle half, to be marked and kept.

    Parameters
    ----------
    values : 1-D of float
        At least four values.
    reach : float
        Multiple of the interquartile range.

    Raises
    ------
    NotDetermined
        Fewer than four values.

    Notes
    -----
    Tukey (1977); Hoefler and Belli, SC '15, 3.1.3. Quartiles by linear interpolation.

    Examples
    --------
    >>> quartile_fences([1.0, 2.0, 3.0, 4.0, 50.0]).outside
    (4,)
    """
    numbers = as_list(values, 4)
    lower, upper = quantile(numbers, 0.25), quantile(numbers, 0.75)
    low, high = lower - reach * (upper - lower), upper + reach * (upper - lower)
    outside = tuple(place for place, value in enumerate(numbers) if value < low or value > high)
    return Fences(low=low, high=high, outside=outside)


def skewness(values: Numbers) -> float:
    """Sample skewness g1, a hint that a mean hides a tail.

    Parameters
    ----------
    values : 1-D of float
        At least three values.

    Raises
    ------
    NotDetermined
        Fewer than three values or no spread.

    Notes
    -----
    m3 / m2^(3/2) with divisor n; NIST/SEMATECH e-Handbook 1.3.5.11.

    Examples
    --------
    >>> round(skewness([1.0, 1.0, 4.0]), 4)
    0.7071
    """
    numbers = as_list(values, 3)
    spread = standard_deviation(numbers)
    if spread == 0:
        raise NotDetermined("all runs gave the same value: there is no shape to describe")
    centre = mean(numbers)
    scaled = [(number - centre) / spread for number in numbers]
    count = len(scaled)
    second = sum(value**2 for value in scaled) / count
    return float(sum(value**3 for value in scaled) / count / second**1.5)
