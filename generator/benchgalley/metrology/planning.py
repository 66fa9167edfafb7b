"""How many more runs or hours would settle a claim, at the spread seen so far.

All figures are expectations: they take spread and difference as found and promise nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from . import by_parts
from .comparison import welch_degrees_of_freedom
from .distribution import coverage_factor, t_quantile
from .repeatability import ONE_RUN
from .sample import NotDetermined, check_confidence

MOST_RUNS = 1_000_000


def _fewest(settled: Callable[[int], bool], start: int = 2) -> int:
    """Smallest number of runs from `start` for which a condition that stays true becomes true."""
    if settled(start):
        return start
    low, high = start, 2 * start
    while not settled(high):
        low, high = high, 2 * high
        if high > MOST_RUNS:
            raise NotDetermined("more than a million runs would be needed at this spread")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if settled(middle) else (middle, high)
    return high


def _positive(value: float, what: str) -> float:
    if not 0 < value < math.inf:
        raise NotDetermined(f"the {what} lies above zero")
    return value


def runs_for_half_width(deviation: float, half_width: float, confidence: float = 0.95, floor: float = 0.0) -> int:
    """Runs for which the interval of a mean is expected to be +- half_width.

    Parameters
    ----------
    deviation : float
        Standard deviation of runs, above zero.
    half_width : float
        Wanted half-width, same unit.
    confidence : float
        Fraction.
    floor : float
        Standard uncertainty that does not shrink with runs (instrument), same unit.

    Returns
    -------
    int
        Runs in all, at least two: smallest n with which the half-width of `by_parts` is at most that wished.

    Raises
    ------
    NotDetermined
        Arguments out of range, the floor alone exceeds the wish, or over a million runs.

    Notes
    -----
    n = (s t / e)^2 solved with t for n - 1; Hoefler and Belli, SC '15, 4.2.2.

    Examples
    --------
    >>> runs_for_half_width(1.0, 1.0), runs_for_half_width(1.0, 0.5)
    (7, 18)
    """
    _positive(deviation, "spread")
    _positive(half_width, "wanted half-width")
    _refuse_floor(floor, half_width, confidence)

    return _fewest(lambda runs: _reach((deviation,), runs, floor, confidence) <= half_width)


def _reach(deviations: Sequence[float], runs: int, floor: float, confidence: float) -> float:
    """Half-width of the interval with so many runs of each deviation: that of `by_parts`, which decides the claim."""
    errors = [deviation / math.sqrt(runs) for deviation in deviations]
    return by_parts.half_width(
        by_parts.pieces_of([*errors, floor], [*(float(runs - 1) for _ in errors), math.inf]), confidence
    )


def _refuse_floor(floor: float, room: float, confidence: float) -> None:
    if not floor >= 0:
        raise NotDetermined("an uncertainty is not negative")
    if coverage_factor(check_confidence(confidence), math.inf) * floor >= room:
        raise NotDetermined("more runs cannot settle it: the uncertainty of the instrument alone is too large")


def runs_to_show_difference(
    difference: float, deviation_a: float, deviation_b: float, confidence: float = 0.95, floor: float = 0.0
) -> int:
    """Runs a side for which the interval of a difference as found would exclude zero.

    Parameters
    ----------
    difference : float
        Difference found, not zero.
    deviation_a, deviation_b : float
        Standard deviations of runs on each side, not both zero.
    confidence : float
        Fraction.
    floor : float
        Standard uncertainty of the difference that does not shrink with runs.

    Returns
    -------
    int
        Runs in all on each side, equal numbers, intervals of `by_parts`.

    Raises
    ------
    NotDetermined
        No difference, no spread, the floor is too large, or over a million runs.

    Examples
    --------
    >>> runs_to_show_difference(1.0, 1.0, 1.0)
    9
    """
    if difference == 0:
        raise NotDetermined("no difference was found: more runs are not expected to show one")
    return runs_for_difference_half_width(abs(difference), deviation_a, deviation_b, confidence, floor)


def runs_for_difference_half_width(
    half_width: float, deviation_a: float, deviation_b: float, confidence: float = 0.95, floor: float = 0.0
) -> int:
    """Runs a side for which the interval of a difference is expected to be +- half_width.

    Parameters
    ----------
    half_width : float
        Wanted half-width of the interval of the difference.
    deviation_a, deviation_b, confidence, floor
        As `runs_to_show_difference`.

    Examples
    --------
    >>> runs_for_difference_half_width(0.5, 1.0, 1.0)
    32
    """
    _positive(half_width, "wanted half-width")
    _positive(math.hypot(deviation_a, deviation_b), "spread")
    _refuse_floor(floor, half_width, confidence)
    return _fewest(lambda runs: _reach((deviation_a, deviation_b), runs, floor, confidence) <= half_width)


def runs_to_settle_equivalence(
    difference: float,
    deviation_a: float,
    deviation_b: float,
    low: float,
    high: float,
    alpha: float = 0.05,
    floor: float = 0.0,
) -> int:
    """Runs a side that would settle an equivalence, if the difference stays as found.

    Parameters
    ----------
    difference : float
        Difference found.
    deviation_a, deviation_b : float
        Standard deviations of runs on each side, not both zero.
    low, high : float
        Margins, low < high.
    alpha : float
        Size of each one-sided test.
    floor : float
        Standard uncertainty of the difference that does not shrink with runs.

    Returns
    -------
    int
        Runs in all on each side. Inside the margins: the 1 - 2 alpha interval fits in. Outside: the
        1 - alpha interval lies wholly outside (refuted).

    Raises
    ------
    NotDetermined
        The difference lies on a margin, no spread, floor too large, over a million runs.

    Examples
    --------
    >>> runs_to_settle_equivalence(0.0, 1.0, 1.0, -1.0, 1.0)
    7
    """
    if not low < high:
        raise NotDetermined("the lower margin lies below the upper one")
    _positive(math.hypot(deviation_a, deviation_b), "spread")
    inside = low < difference < high
    room = min(abs(difference - low), abs(difference - high))
    if room == 0:
        raise NotDetermined("the difference found lies on the margin: more runs are not expected to settle it")
    confidence = 1 - 2 * check_confidence(alpha) if inside else 1 - alpha
    _refuse_floor(floor, room, confidence)
    # strictly inside: the tests ask for p below alpha
    return _fewest(lambda runs: _reach((deviation_a, deviation_b), runs, floor, confidence) < room)


def detectable_difference(
    deviation_a: float, runs_a: int, deviation_b: float, runs_b: int, power: float = 0.8
) -> float:
    """Smallest true difference that runs like these would show at 95 % confidence in a share of sessions.

    Parameters
    ----------
    deviation_a, deviation_b : float
        Standard deviations of runs.
    runs_a, runs_b : int
        Runs on each side, at least two.
    power : float
        Share of sessions, fraction.

    Notes
    -----
    Half-width of the 95 % interval (`by_parts`) and t_{power} standard errors with Welch degrees of freedom; common
    approximation.

    Examples
    --------
    >>> round(detectable_difference(1.0, 5, 1.0, 5), 3)
    2.021
    """
    if min(runs_a, runs_b) < 2:
        raise NotDetermined(ONE_RUN)
    error_a, error_b = deviation_a / math.sqrt(runs_a), deviation_b / math.sqrt(runs_b)
    _positive(math.hypot(error_a, error_b), "spread")
    pieces = by_parts.pieces_of([error_a, error_b], [float(runs_a - 1), float(runs_b - 1)])
    nu = welch_degrees_of_freedom(error_a, runs_a - 1, error_b, runs_b - 1)
    return by_parts.half_width(pieces) + t_quantile(power, nu) * math.hypot(error_a, error_b)


def more_needed(needed: float, made: float) -> float:
    """What is still missing, never negative.

    Examples
    --------
    >>> more_needed(59, 12), more_needed(10, 12)
    (47, 0)
    """
    return max(needed - made, 0)
