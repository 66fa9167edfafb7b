"""Sensor logs: time-weighted mean, energy in a window, running statistics in chunks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .sample import Array, NotDetermined, Numbers, as_array, finite, same_length

_EXACT_SUM = 256
"""Shorter rows of readings are added without rounding; for long ones that costs more than all the rest."""


def _check_times(time: Array) -> None:
    if time.size > 1 and not (np.diff(time) >= 0).all():
        raise NotDetermined("the times of the log run backwards")


def integral(time_s: Numbers, values: Numbers) -> float:
    """Trapezoid integral over unevenly spaced readings.

    Parameters
    ----------
    time_s : 1-D of float
        Seconds, not falling, at least two distinct.
    values : 1-D of float
        Readings taken as instants, unit u (W for energy in J).

    Returns
    -------
    float
        Unit u s.

    Raises
    ------
    NotDetermined
        Fewer than two readings, no time span, times that run backwards.

    Notes
    -----
    sum (t_{i+1} - t_i)(f_i + f_{i+1}) / 2; Chapra and Canale, Numerical Methods for Engineers, 21.3.

    Examples
    --------
    >>> integral([0.0, 1.0, 3.0], [2.0, 4.0, 4.0])
    11.0
    """
    time, value = as_array(time_s, 2, "reading"), as_array(values, 2, "reading")
    same_length(time, value)
    _check_times(time)
    if not time[-1] > time[0]:
        raise NotDetermined("all readings have the same time")
    # halving first keeps the sum of two huge readings in range
    pieces = np.diff(time) * (value[:-1] / 2 + value[1:] / 2)
    # numpy adds long arrays pairwise: its rounding grows with the logarithm of their length
    return finite(math.fsum(pieces.tolist()) if pieces.size < _EXACT_SUM else float(pieces.sum()), "integral")


def time_weighted_mean(time_s: Numbers, values: Numbers) -> float:
    """Mean over time of unevenly spaced readings: trapezoid integral over the span.

    Parameters
    ----------
    time_s, values
        As `integral`.

    Returns
    -------
    float
        Unit of the readings.

    Raises
    ------
    NotDetermined
        As `integral`.

    Examples
    --------
    >>> time_weighted_mean([0.0, 1.0, 3.0], [2.0, 4.0, 4.0])
    3.6666666666666665
    """
    time = as_array(time_s, 2, "reading")
    return integral(time, values) / float(time[-1] - time[0])


def cumulative_integral(time_s: Numbers, values: Numbers) -> Array:
    """Running trapezoid integral, zero at the first reading.

    Returns
    -------
    1-D array
        One entry a reading, unit of the readings times s.

    Raises
    ------
    NotDetermined
        As `integral`.

    Examples
    --------
    >>> cumulative_integral([0.0, 1.0, 3.0], [2.0, 4.0, 4.0]).tolist()
    [0.0, 3.0, 11.0]
    """
    time, value = as_array(time_s, 2, "reading"), as_array(values, 2, "reading")
    same_length(time, value)
    _check_times(time)
    pieces = np.diff(time) * (value[:-1] / 2 + value[1:] / 2)
    total: Array = np.concatenate([[0.0], np.cumsum(pieces)])
    return total


def window_integral(time_s: Numbers, values: Numbers, start_s: float, end_s: float) -> float:
    """Trapezoid integral between two times, readings interpolated at the edges.

    Parameters
    ----------
    time_s, values
        As `integral`.
    start_s, end_s : float
        Window in seconds, inside the log.

    Returns
    -------
    float
        Unit of the readings times s; energy in J for readings in W.

    Raises
    ------
    NotDetermined
        As `integral`; a window that is empty or reaches beyond the log.

    Examples
    --------
    >>> window_integral([0.0, 1.0, 3.0], [2.0, 4.0, 4.0], 0.5, 2.0)
    5.75
    """
    time, value = as_array(time_s, 2, "reading"), as_array(values, 2, "reading")
    same_length(time, value)
    _check_times(time)
    if not start_s < end_s:
        raise NotDetermined("the window has no length")
    if start_s < time[0] or end_s > time[-1]:
        raise NotDetermined(
            f"the window from {start_s:g} s to {end_s:g} s reaches beyond the log, "
            f"which runs from {time[0]:g} s to {time[-1]:g} s"
        )
    first, last = (
        int(np.searchsorted(time, start_s, side="right")),
        int(np.searchsorted(time, end_s, side="left")),
    )
    ends = np.interp([start_s, end_s], time, value)
    inner_time = np.concatenate([[start_s], time[first:last], [end_s]])
    inner_value = np.concatenate([ends[:1], value[first:last], ends[1:]])
    return integral(inner_time, inner_value)


def window_mean(time_s: Numbers, values: Numbers, start_s: float, end_s: float) -> float:
    """Mean over time between two times; see `window_integral`.

    Examples
    --------
    >>> round(window_mean([0.0, 1.0, 3.0], [2.0, 4.0, 4.0], 0.5, 2.0), 6)
    3.833333
    """
    return window_integral(time_s, values, start_s, end_s) / (end_s - start_s)


@dataclass(frozen=True, kw_only=True, slots=True)
class LogSummary:
    """What a log amounts to."""

    count: int
    """number of readings"""
    duration_s: float
    """last less first time, s"""
    integral: float
    """trapezoid integral, unit of the readings times s"""
    time_weighted_mean: float
    """integral over duration, unit of the readings"""
    mean: float
    """plain mean of the readings"""
    standard_deviation: float
    """of the readings, divisor n - 1; readings in one run are not independent"""
    smallest: float
    """smallest reading"""
    largest: float
    """largest reading"""
    longest_gap_s: float
    """largest time between two readings, s"""
    repeated_share: float
    """share of readings equal to the one before"""


class RunningLog:
    """Statistics of a log read in chunks, of any length, in constant memory.

    Feed chunks in order of time with `update`; `result` may be asked at any time. `merge` joins a log
    that starts where this one ends (read by another worker).

    Notes
    -----
    Mean and spread by the pairwise update of Chan, Golub and LeVeque, Am. Stat. 37 (1983) 242-247
    (the chunked form of Welford, Technometrics 4 (1962) 419-420); the integral by Neumaier's compensated
    sum, Z. Angew. Math. Mech. 54 (1974) 39-51, over chunk sums.

    Examples
    --------
    >>> log = RunningLog()
    >>> log.update([0.0, 1.0], [2.0, 4.0])
    >>> log.update([3.0], [4.0])
    >>> r = log.result()
    >>> r.integral, r.count, r.longest_gap_s, round(r.repeated_share, 3)
    (11.0, 3, 2.0, 0.333)
    """

    __slots__ = (
        "_area",
        "_area_rest",
        "_centre",
        "_count",
        "_first",
        "_gap",
        "_high",
        "_last",
        "_low",
        "_repeats",
        "_square",
    )

    def __init__(self) -> None:
        self._count = self._repeats = 0
        self._centre = self._square = self._area = self._area_rest = self._gap = 0.0
        self._low, self._high = math.inf, -math.inf
        self._first: tuple[float, float] | None = None
        self._last: tuple[float, float] | None = None

    def update(self, time_s: Numbers, values: Numbers) -> None:
        """Add a chunk.

        Parameters
        ----------
        time_s, values : 1-D of float
            Same length, times not falling and not before the chunk before. An empty chunk is allowed.

        Raises
        ------
        NotDetermined
            Lengths that differ, a reading missing, times that run backwards.
        """
        time, value = as_array(time_s, 0), as_array(values, 0)
        same_length(time, value)
        if not time.size:
            return
        _check_times(time)
        part = RunningLog()
        part._count = time.size
        part._centre = float(value.mean())
        away = value - part._centre
        # what rounding of the centre left is moved back into it
        part._centre += float(away.mean())
        part._square = float(np.dot(away, away)) - float(away.sum()) ** 2 / time.size
        part._low, part._high = float(value.min()), float(value.max())
        part._first, part._last = (float(time[0]), float(value[0])), (float(time[-1]), float(value[-1]))
        if time.size > 1:
            steps = np.diff(time)
            part._gap = float(steps.max())
            part._repeats = int(np.count_nonzero(value[1:] == value[:-1]))
            part._area = float((steps * (value[:-1] / 2 + value[1:] / 2)).sum())
        self.merge(part)

    def _add_area(self, piece: float) -> None:
        total = self._area + piece
        larger, smaller = (self._area, piece) if abs(self._area) >= abs(piece) else (piece, self._area)
        self._area_rest += (larger - total) + smaller
        self._area = total

    def merge(self, later: RunningLog) -> None:
        """Join the statistics of the readings that follow.

        Raises
        ------
        NotDetermined
            The later log starts before this one ends.
        """
        if later._first is None:
            return
        if self._last is not None:
            step = later._first[0] - self._last[0]
            if step < 0:
                raise NotDetermined("the times of the log run backwards")
            self._gap = max(self._gap, step)
            self._repeats += int(later._first[1] == self._last[1])
            self._add_area(step * (self._last[1] / 2 + later._first[1] / 2))
        total = self._count + later._count
        delta = later._centre - self._centre
        if self._count == 0:
            self._centre, self._square, self._first = later._centre, later._square, later._first
        else:
            self._centre += delta * (later._count / total)
            self._square += later._square + delta * delta * (self._count * later._count / total)
        self._add_area(later._area)
        self._area_rest += later._area_rest
        self._count, self._repeats = total, self._repeats + later._repeats
        self._low, self._high = min(self._low, later._low), max(self._high, later._high)
        self._gap, self._last = max(self._gap, later._gap), later._last

    def result(self) -> LogSummary:
        """The summary so far.

        Raises
        ------
        NotDetermined
            Fewer than two readings or no time span, or overflow.
        """
        if self._first is None or self._last is None or self._count < 2:
            raise NotDetermined("the log has fewer than two readings")
        duration = self._last[0] - self._first[0]
        if not duration > 0:
            raise NotDetermined("all readings have the same time")
        area = finite(self._area + self._area_rest, "integral")
        return LogSummary(
            count=self._count,
            duration_s=duration,
            integral=area,
            time_weighted_mean=area / duration,
            mean=finite(self._centre, "mean"),
            standard_deviation=finite(math.sqrt(max(self._square, 0.0) / (self._count - 1)), "standard deviation"),
            smallest=self._low,
            largest=self._high,
            longest_gap_s=self._gap,
            repeated_share=self._repeats / self._count,
        )
