"""What failures, and the absence of failures, bound: exact binomial and Poisson limits."""

from __future__ import annotations

import math

from .distribution import beta_quantile, binomial_cdf, gamma_quantile
from .sample import Interval, NotDetermined, check_confidence, finite


def _counts(failures: int, runs: int) -> None:
    if runs < 1:
        raise NotDetermined("there is no run to count failures in")
    if not 0 <= failures <= runs:
        raise NotDetermined(f"{failures} failures in {runs} runs cannot be")


def _exposure(count: int, exposure: float) -> None:
    if count < 0:
        raise NotDetermined("a number of failures is not negative")
    if not 0 < exposure < math.inf:
        raise NotDetermined("there is no running time to relate failures to")


def failure_share_interval(failures: int, runs: int, confidence: float = 0.95) -> Interval:
    """Exact two-sided interval of the share of runs that fail (Clopper-Pearson).

    Parameters
    ----------
    failures, runs : int
        0 <= failures <= runs, runs >= 1.
    confidence : float
        Fraction; half the rest on each side.

    Returns
    -------
    Interval
        Fractions from 0 to 1.

    Raises
    ------
    NotDetermined
        No runs or impossible counts.

    Notes
    -----
    Clopper and Pearson, Biometrika 26 (1934) 404-413; NIST/SEMATECH e-Handbook 7.2.4.1.

    Examples
    --------
    >>> i = failure_share_interval(4, 20, 0.90)
    >>> round(i.low, 6), round(i.high, 6)
    (0.071354, 0.401028)
    """
    rest = (1 - check_confidence(confidence)) / 2
    return Interval(
        low=failure_share_at_least(failures, runs, 1 - rest),
        high=failure_share_at_most(failures, runs, 1 - rest),
        confidence=confidence,
    )


def failure_share_at_most(failures: int, runs: int, confidence: float = 0.95) -> float:
    """Exact one-sided upper bound of the share of runs that fail, a fraction.

    Notes
    -----
    Clopper and Pearson 1934; for no failure 1 - (1 - confidence)^(1/n).

    Examples
    --------
    >>> round(failure_share_at_most(0, 10), 3)
    0.259
    """
    _counts(failures, runs)
    check_confidence(confidence)
    if failures == runs:
        return 1.0
    if failures == 0:
        return zero_failure_bound(runs, confidence)
    return beta_quantile(confidence, failures + 1, runs - failures)


def failure_share_at_least(failures: int, runs: int, confidence: float = 0.95) -> float:
    """Exact one-sided lower bound of the share of runs that fail, a fraction.

    Examples
    --------
    >>> failure_share_at_least(0, 10)
    0.0
    """
    _counts(failures, runs)
    check_confidence(confidence)
    if failures == 0:
        return 0.0
    if failures == runs:
        return math.exp(math.log1p(-confidence) / runs)
    return beta_quantile(1 - confidence, failures, runs - failures + 1)


def zero_failure_bound(runs: int, confidence: float = 0.95) -> float:
    """What "n of n completed" bounds: largest share of failures still compatible with it.

    Parameters
    ----------
    runs : int
        Runs completed, none failed.

    Returns
    -------
    float
        1 - (1 - confidence)^(1/n), about 3/n at 95 %.

    Raises
    ------
    NotDetermined
        No run.

    Notes
    -----
    Hanley and Lippman-Hand, JAMA 249 (1983) 1743-1745.

    Examples
    --------
    >>> [round(zero_failure_bound(n), 3) for n in (5, 10, 60)]
    [0.451, 0.259, 0.049]
    """
    _counts(0, runs)
    return -math.expm1(math.log1p(-check_confidence(confidence)) / runs)


def failure_rate_interval(failures: int, exposure: float, confidence: float = 0.95) -> Interval:
    """Exact two-sided interval of a failure rate per unit of exposure (Garwood).

    Parameters
    ----------
    failures : int
        Failures seen, not negative.
    exposure : float
        Running time, for example hours; the rate is per this unit.
    confidence : float
        Fraction; half the rest on each side.

    Returns
    -------
    Interval
        Failures per unit of exposure.

    Raises
    ------
    NotDetermined
        No exposure or a negative count.

    Notes
    -----
    Garwood, Biometrika 28 (1936) 437-442. Assumes failures that come independently at a steady rate.

    Examples
    --------
    >>> i = failure_rate_interval(15, 400)
    >>> round(i.low, 6), round(i.high, 6)
    (0.020988, 0.061851)
    """
    rest = (1 - check_confidence(confidence)) / 2
    return Interval(
        low=failure_rate_at_least(failures, exposure, 1 - rest),
        high=failure_rate_at_most(failures, exposure, 1 - rest),
        confidence=confidence,
    )


def failure_rate_at_most(failures: int, exposure: float, confidence: float = 0.95) -> float:
    """Exact one-sided upper bound of a failure rate, per unit of exposure.

    Examples
    --------
    >>> round(failure_rate_at_most(0, 1.0), 3)
    2.996
    """
    _exposure(failures, exposure)
    check_confidence(confidence)
    expected = -math.log1p(-confidence) if failures == 0 else gamma_quantile(confidence, failures + 1)
    return finite(expected / exposure, "failure rate")


def failure_rate_at_least(failures: int, exposure: float, confidence: float = 0.95) -> float:
    """Exact one-sided lower bound of a failure rate, per unit of exposure.

    Examples
    --------
    >>> failure_rate_at_least(0, 24.0)
    0.0
    """
    _exposure(failures, exposure)
    check_confidence(confidence)
    return finite(gamma_quantile(1 - confidence, failures) / exposure, "failure rate") if failures else 0.0


def runs_needed(share: float, confidence: float = 0.95, failures: int = 0) -> int:
    """Fewest runs, with so many failures among them, that bound the failure share by `share`.

    Parameters
    ----------
    share : float
        Share of failures to be excluded, between 0 and 1.
    failures : int
        Failures allowed for.

    Returns
    -------
    int
        Runs in all, those already made included.

    Raises
    ------
    NotDetermined
        Share outside 0 to 1, or too many runs to count.

    Examples
    --------
    >>> runs_needed(0.05), runs_needed(0.05, failures=1)
    (59, 93)
    """
    check_confidence(confidence)
    if not 0 < share < 1 or failures < 0:
        raise NotDetermined("the share of failures to exclude lies between 0 and 1")
    if share < 1e-12:
        raise NotDetermined("the share of failures to exclude is too small to plan for")

    def settled(runs: int) -> bool:
        # the rounding of the last digit must not ask for one run more
        return binomial_cdf(failures, runs, share) <= (1 - confidence) * (1 + 1e-12)

    low, high = failures, failures + 1
    while not settled(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if settled(middle) else (middle, high)
    return high


def exposure_needed(rate: float, confidence: float = 0.95, failures: int = 0) -> float:
    """Exposure (hours) with so many failures that bounds the failure rate by `rate`.

    Parameters
    ----------
    rate : float
        Failures per unit of exposure to be excluded, above zero.

    Returns
    -------
    float
        Exposure in all, in the unit behind the rate.

    Raises
    ------
    NotDetermined
        Rate not above zero.

    Examples
    --------
    >>> round(exposure_needed(0.1), 2)
    29.96
    """
    if not rate > 0:
        raise NotDetermined("the failure rate to exclude lies above zero")
    return finite(failure_rate_at_most(failures, 1.0, confidence) / rate, "exposure")


def wilks_runs(share: float, confidence: float = 0.95, *, two_sided: bool = False) -> int:
    """Runs whose extremes bound a share of all future runs, free of distribution.

    Parameters
    ----------
    share : float
        Share of the population to lie beyond the smallest (or between smallest and largest) run.
    two_sided : bool
        Between smallest and largest.

    Raises
    ------
    NotDetermined
        Share outside 0 to 1.

    Notes
    -----
    Wilks, Ann. Math. Stat. 12 (1941) 91-96.

    Examples
    --------
    >>> wilks_runs(0.95), wilks_runs(0.95, two_sided=True)
    (59, 93)
    """
    check_confidence(share)
    return runs_needed(1 - share, confidence, 1 if two_sided else 0)


def wilks_confidence(runs: int, share: float, *, two_sided: bool = False) -> float:
    """Confidence that the extremes of n runs bound a share of the population.

    Examples
    --------
    >>> round(wilks_confidence(59, 0.95), 4), round(wilks_confidence(93, 0.95, two_sided=True), 4)
    (0.9515, 0.95)
    """
    check_confidence(share)
    _counts(0, runs)
    return 1 - binomial_cdf(1 if two_sided else 0, runs, 1 - share)
