"""Drift of the baseline with time or run order, and order effects."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .comparison import two_sided
from .distribution import t_two_sided_p
from .repeatability import mean
from .sample import Estimate, NotDetermined, Numbers, as_list, finite
from .straight_line import fit_line


@dataclass(frozen=True, kw_only=True, slots=True)
class Drift:
    """Linear drift of repeated baseline runs."""

    slope: float
    """change per unit of position"""
    standard_error: float
    """standard error of the slope"""
    degrees_of_freedom: float
    """n - 2"""
    low: float
    """lower limit of the slope's interval"""
    high: float
    """upper limit of the slope's interval"""
    p_two_sided: float
    """p value of no drift"""
    mean_position: float
    """mean position of the baseline runs"""
    mean_value: float
    """mean of the baseline runs, the value of the line there"""
    residual_deviation: float
    """spread about the line, divisor n - 2"""
    count: int
    """number of baseline runs"""
    first: float
    """earliest position of a baseline run"""
    last: float
    """latest position"""
    confidence: float
    """confidence of the interval as a fraction"""


def fit_drift(positions: Numbers, values: Numbers, confidence: float = 0.95) -> Drift:
    """Linear drift from baseline runs that bracket or interleave the others.

    Parameters
    ----------
    positions : 1-D of float
        Run number or time of each baseline run, any unit.
    values : 1-D of float
        Result of each baseline run.
    confidence : float
        Fraction.

    Returns
    -------
    Drift

    Raises
    ------
    NotDetermined
        Fewer than two distinct positions, fewer than three runs, or runs exactly on a line.

    Notes
    -----
    Ordinary least squares, NIST/SEMATECH e-Handbook 4.4.3.1.

    Examples
    --------
    >>> d = fit_drift([1, 2, 9, 10], [100.0, 100.2, 99.0, 99.2])
    >>> round(d.slope, 4), d.degrees_of_freedom, d.low < 0 < d.high
    (-0.12, 2.0, True)
    """
    xs, ys = as_list(positions, noun="baseline run"), as_list(values, noun="baseline run")
    if len(set(xs)) < 2:
        raise NotDetermined("drift cannot be estimated: the baseline was measured at one position only")
    if len(xs) < 3:
        raise NotDetermined("drift cannot be told from spread: only two baseline runs, at least 3 are needed")
    line = fit_line(xs, ys)
    if not line.slope_error > 0:
        raise NotDetermined("drift cannot be told from spread: the baseline runs show no spread")
    slope = two_sided(line.slope, line.slope_error, float(line.degrees_of_freedom), confidence)
    return Drift(
        slope=line.slope,
        standard_error=line.slope_error,
        degrees_of_freedom=slope.degrees_of_freedom,
        low=slope.low,
        high=slope.high,
        p_two_sided=t_two_sided_p(line.slope / line.slope_error, line.degrees_of_freedom),
        mean_position=line.mean_x,
        mean_value=line.mean_y,
        residual_deviation=line.residual_deviation,
        count=line.count,
        first=min(xs),
        last=max(xs),
        confidence=confidence,
    )


def drift_correction(drift: Drift, position: float, reference: float | None = None) -> tuple[float, float]:
    """What to take off a result at a position to refer it to another.

    Parameters
    ----------
    drift : Drift
    position : float
        Where the result was obtained, between the first and the last baseline run.
    reference : float, optional
        Position to refer to; the mean position of the baseline runs when left out.

    Returns
    -------
    (float, float)
        slope (position - reference) and its standard uncertainty; degrees of freedom are the drift's.

    Raises
    ------
    NotDetermined
        A position outside the baseline runs: drift is not extended beyond them.

    Examples
    --------
    >>> d = fit_drift([1, 2, 9, 10], [100.0, 100.2, 99.0, 99.2])
    >>> [round(v, 4) for v in drift_correction(d, 10)]
    [-0.54, 0.1273]
    """
    if not drift.first <= position <= drift.last:
        raise NotDetermined("drift is known between the first and the last baseline run only")
    away = position - (drift.mean_position if reference is None else reference)
    return finite(drift.slope * away, "correction"), finite(drift.standard_error * abs(away), "uncertainty")


def baseline_at(drift: Drift, position: float) -> Estimate:
    """Baseline expected at a position, with interval, from the drift line.

    Parameters
    ----------
    drift : Drift
    position : float
        Between the first and the last baseline run.

    Returns
    -------
    Estimate
        Uncertainty sqrt(s^2 / n + (position - mean)^2 u(slope)^2), nu = n - 2.

    Raises
    ------
    NotDetermined
        A position outside the baseline runs.

    Examples
    --------
    >>> d = fit_drift([1, 2, 9, 10], [100.0, 100.2, 99.0, 99.2])
    >>> round(baseline_at(d, 5.5).value, 3)
    99.6
    """
    shift, error = drift_correction(drift, position)
    total = math.hypot(drift.residual_deviation / math.sqrt(drift.count), error)
    return two_sided(drift.mean_value + shift, total, drift.degrees_of_freedom, drift.confidence)


def ranks(values: Numbers) -> list[float]:
    """Ranks from 1, ties sharing the mean of theirs.

    Examples
    --------
    >>> ranks([10.0, 30.0, 10.0])
    [1.5, 3.0, 1.5]
    """
    return _ranks(as_list(values))


def _ranks(numbers: list[float]) -> list[float]:
    order = sorted(range(len(numbers)), key=numbers.__getitem__)
    found = [0.0] * len(numbers)
    start = 0
    while start < len(order):
        end = start
        while end + 1 < len(order) and numbers[order[end + 1]] == numbers[order[start]]:
            end += 1
        for place in order[start : end + 1]:
            found[place] = (start + end) / 2 + 1
        start = end + 1
    return found


def rank_correlation(settings: Numbers, order: Numbers) -> float:
    """Spearman's rank correlation of setting with run order, -1 to 1.

    Parameters
    ----------
    settings, order : 1-D of float
        One entry a run, at least three.

    Returns
    -------
    float
        Correlation of the ranks, ties by mean ranks. Near 1 or -1 drift and setting cannot be told apart.

    Raises
    ------
    NotDetermined
        Fewer than three runs, lengths that differ, or one setting only.

    Notes
    -----
    Spearman, Am. J. Psychol. 15 (1904) 72-101.

    Examples
    --------
    >>> rank_correlation([60, 70, 80, 90], [1, 2, 3, 4])
    1.0
    """
    first, second = _ranks(as_list(settings, 3)), _ranks(as_list(order, 3))
    if len(first) != len(second):
        raise NotDetermined("the lists of values do not have the same length")
    centre = mean(first)
    a, b = [rank - centre for rank in first], [rank - centre for rank in second]
    size = math.sqrt(math.fsum(x * x for x in a) * math.fsum(y * y for y in b))
    if size == 0:
        raise NotDetermined("all runs have the same setting: there is no order to compare")
    return max(-1.0, min(1.0, math.fsum(x * y for x, y in zip(a, b, strict=True)) / size))
