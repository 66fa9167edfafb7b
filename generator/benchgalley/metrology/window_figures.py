"""All figures of one window of a sensor log at once: its readings are checked once and passed over few times."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .readings import autocorrelation, quantisation_step
from .sample import LARGEST, Array, NotDetermined, Numbers, finite, same_length

_PIECE = 8192
"""Longer products are added piece by piece: beyond 10 000 numbers some linear algebra libraries share them out between
threads, and the last bits then depend on the number of threads."""
_PAIRS = (0, 8, 48, 256)
"""Pairs of lags are looked at in so many growing batches before all of them are."""
_MOST_DECIMALS = 6
_ROUNDING = float(np.finfo(float).eps)
_OFF_GRID = 1e-6
_LARGEST_GRID = 1e12


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowFigures:
    """What a window of a log amounts to."""

    count: int
    """number of readings in the window"""
    integral: float
    """trapezoid integral over the window, unit of the readings times s"""
    mean: float
    """integral over the length of the window, unit of the readings"""
    smallest: float
    """smallest reading"""
    largest: float
    """largest reading"""
    percentile_95: float
    """95th percentile of the readings, definition 7 of Hyndman and Fan (1996)"""
    effective_count: float
    """readings that would give the mean the same spread if they were independent; 1 when all are equal"""
    repeated_share: float
    """share of the steps between readings without a change"""
    step: float | None
    """step in which the sensor seems to read, unit of the readings; None: none can be told"""
    longest_gap_s: float
    """longest time between two readings, s"""
    slope_per_s: float
    """least-squares slope, unit of the readings a second"""


def window_figures(time_s: Numbers, values: Numbers, start_s: float, end_s: float) -> WindowFigures:
    """Figures of the readings between two times.

    Parameters
    ----------
    time_s, values : 1-D of float
        Readings taken as instants, times rising, seconds.
    start_s, end_s : float
        Window in seconds, inside the log, with at least three readings in it.

    Returns
    -------
    WindowFigures

    Raises
    ------
    NotDetermined
        Fewer than three readings in the window, times that do not rise, a window that is empty or reaches beyond the
        log.

    Notes
    -----
    The integral is that of `window_integral`: edges interpolated. The effective number of readings is that of
    `effective_readings`, and the step that of `quantisation_step`; for readings written with up to six decimals the
    step is worked out with whole numbers, which gives the same without a tolerance.

    Examples
    --------
    >>> w = window_figures([0.0, 1.0, 2.0, 3.0, 4.0], [2.0, 4.0, 4.0, 5.0, 9.0], 0.5, 3.0)
    >>> w.count, w.integral, w.smallest, w.percentile_95, w.longest_gap_s
    (3, 10.25, 4.0, 4.9, 1.0)
    """
    time, value = np.asarray(time_s, dtype=np.float64), np.asarray(values, dtype=np.float64)
    same_length(time, value)
    if time.ndim != 1 or not time.size:
        raise NotDetermined("the readings are not a single list")
    if not start_s < end_s:
        raise NotDetermined("the window has no length")
    if start_s < time[0] or end_s > time[-1]:
        raise NotDetermined("the window reaches beyond the log")
    first, last = np.searchsorted(time, start_s, "left"), np.searchsorted(time, end_s, "right")
    kept_time, kept = time[first:last], value[first:last]
    if kept.size < 3:
        raise NotDetermined(f"only {kept.size} readings in the window, at least 3 are needed")
    steps = kept_time[1:] - kept_time[:-1]
    if not float(steps.min()) > 0:
        raise NotDetermined("the times of the log do not rise")
    smallest, largest = float(kept.min()), float(kept.max())
    if not -LARGEST <= smallest <= largest <= LARGEST:
        raise NotDetermined("a reading is missing, not finite, or too large to compute with")
    at_start, at_end = _reading_at(start_s, time, value, int(first)), _reading_at(end_s, time, value, int(last) - 1)
    # halving first keeps the sum of two huge readings in range
    half = kept / 2
    inner = half[1:] + half[:-1]
    repeated = int(np.count_nonzero(kept[1:] == kept[:-1]))
    inner *= steps
    lead = (float(kept_time[0]) - start_s) * (at_start / 2 + float(half[0]))
    tail = (end_s - float(kept_time[-1])) * (at_end / 2 + float(half[-1]))
    integral = finite(float(inner.sum()) + lead + tail, "integral")
    percentile_95, step = _spread_of(kept, smallest, largest)
    mean = float(kept.sum()) / kept.size
    away = kept - mean
    slope_per_s = _slope(kept_time, away)
    return WindowFigures(
        count=int(kept.size),
        integral=integral,
        mean=integral / (end_s - start_s),
        smallest=smallest,
        largest=largest,
        percentile_95=percentile_95,
        effective_count=_effective_count(kept, away, max(largest - mean, mean - smallest), max(largest, -smallest)),
        repeated_share=repeated / (kept.size - 1),
        step=step,
        longest_gap_s=float(steps.max()),
        slope_per_s=slope_per_s,
    )


def _reading_at(moment_s: float, time: Array, value: Array, near: int) -> float:
    """Reading at a time, on the straight line between its neighbours; `near`: the place of the one nearest within."""
    if float(time[near]) == moment_s:
        return float(value[near])
    return float(np.interp(moment_s, time, value))


def _dot(a: Array, b: Array) -> float:
    if a.size <= _PIECE:
        return float(np.dot(a, b))
    return math.fsum(float(np.dot(a[at : at + _PIECE], b[at : at + _PIECE])) for at in range(0, a.size, _PIECE))


def _slope(time: Array, from_mean: Array) -> float:
    """Least-squares slope of readings less their mean."""
    away = time - (float(time[0]) + float(time[-1])) / 2
    away -= float(away.sum()) / away.size
    return _dot(away, from_mean) / _dot(away, away)


def _spread_of(values: Array, smallest: float, largest: float) -> tuple[float, float | None]:
    """95th percentile, and the step of the sensor."""
    place = 0.95 * (values.size - 1)
    below = int(place)
    above = min(below + 1, values.size - 1)
    grid = _whole_numbers(values, smallest, largest)
    if grid is None:
        ordered = np.sort(values)
        distinct = ordered[np.append(True, ordered[1:] != ordered[:-1])]
        low, high, step = float(ordered[below]), float(ordered[above]), _tolerant_step(distinct)
    else:
        whole, origin, scale = grid
        counts = np.bincount(whole)
        up_to = np.cumsum(counts)
        at = np.searchsorted(up_to, [below, above], "right").tolist()
        low, high = ((origin + number) / scale for number in at)
        there = np.flatnonzero(counts)
        gaps = there[1:] - there[:-1]
        # Neighbours one apart settle what all the others have in common.
        step = (1 if (gaps == 1).any() else int(np.gcd.reduce(gaps))) / scale if gaps.size > 1 else None
    return low + (high - low) * (place - below), step


def _tolerant_step(distinct: Array) -> float | None:
    try:
        return float(f"{quantisation_step(distinct).step:.6g}")
    except NotDetermined:
        return None


def _whole_numbers(values: Array, smallest: float, largest: float) -> tuple[NDArray[np.intp], int, float] | None:
    """Readings with few decimals as whole numbers from zero on; what was taken off them, and what they were times."""
    for decimals in range(_MOST_DECIMALS + 1):
        scale = 10.0**decimals
        low, high = round(smallest * scale), round(largest * scale)
        if max(-low, high) > _LARGEST_GRID or high - low > 4 * values.size + 4096:
            return None
        if 0 < (largest - smallest) * scale < 0.5:  # apart by less than a step of this grid: not all one number
            continue
        # A few readings tell quickly that more decimals are needed.
        if all(abs(value * scale - round(value * scale)) <= _OFF_GRID for value in values[:5].tolist()):
            scaled = values * scale
            scaled -= low
            whole = np.rint(scaled)
            scaled -= whole
            if max(float(scaled.max()), -float(scaled.min())) <= _OFF_GRID:
                return whole.astype(np.intp), low, scale
    return None


def _effective_count(values: Array, away: Array, largest: float, size: float) -> float:
    """See `effective_readings`; pairs of lags are summed only as far as they are looked at.

    `away` is the readings less their mean, and used up; `largest` is the largest of these without its sign, and `size`
    that of the readings.
    """
    count = values.size
    if count < 4 or largest <= 4 * _ROUNDING * size:
        # equal readings: nothing shows that they are more than one
        return 1.0
    away /= largest
    pairs = _pairs_until_negative(away)
    if pairs is None:
        rho = autocorrelation(values, count - 1)
        pairs = rho[: count - count % 2].reshape(-1, 2).sum(axis=1)
    stop = int(np.argmax(pairs <= 0)) if (pairs <= 0).any() else pairs.size
    tau = -1 + 2 * float(np.minimum.accumulate(pairs[:stop]).sum()) if stop else 1.0
    return count / min(max(tau, 1.0), float(count))


def _pairs_until_negative(away: Array) -> Array | None:
    """Autocorrelations at lags 2 m and 2 m + 1 added, up to the first sum that is not positive; None if that is far."""
    square, halves = _dot(away, away), _halves(away)
    found: list[Array] = []
    for low, high in pairwise(_PAIRS):
        if 2 * high > away.size // 2:
            return None
        found.append(_pairs(halves, low, high) / square)
        if (found[-1] <= 0).any():
            return np.concatenate(found)
    return None


def _halves(away: Array) -> list[tuple[Array, Array]]:
    """The readings at even places and those at odd ones, each with b_i = a_i + a_(i + 1) at the same places.

    So many zeros follow the b_i as lags may be asked for.
    """
    joined = np.empty(away.size + 2 * _PAIRS[-1])
    joined[: away.size] = away
    joined[: away.size - 1] += away[1:]
    joined[away.size :] = 0.0
    return [(away[at::2].copy(), joined[at::2].copy()) for at in (0, 1)]


def _pairs(halves: list[tuple[Array, Array]], low: int, high: int) -> Array:
    """Sums of a_i a_(i + 2 m) + a_i a_(i + 2 m + 1) for m from `low` to below `high`: those of a_i b_(i + 2 m)."""
    even, odd = (_products(a, b, low, high) for a, b in halves)
    return even + odd


def _products(a: Array, b: Array, low: int, high: int) -> Array:
    """Sums of a_j b_(j + m) for m from `low` to below `high`; b goes on as far beyond the end of a."""
    if a.size <= _PIECE:
        return np.correlate(b[low : a.size + high - 1], a, "valid")
    total: Array = np.zeros(high - low)
    for at in range(0, a.size, _PIECE):
        piece = a[at : at + _PIECE]
        total += np.correlate(b[at + low : at + piece.size + high - 1], piece, "valid")
    return total
