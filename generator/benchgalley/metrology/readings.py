"""What the readings of a sensor tell of the sensor: independence, steps, stale values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .sample import Array, NotDetermined, Numbers, as_array


def autocorrelation(values: Numbers, lags: int) -> Array:
    """Autocorrelation at lags 0 to `lags`.

    Parameters
    ----------
    values : 1-D of float
        Evenly spaced readings in time order, at least three.
    lags : int
        Largest lag, below the number of readings.

    Returns
    -------
    1-D array
        1 at lag 0; divisor n at every lag.

    Raises
    ------
    NotDetermined
        Too few readings or no spread.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.12, by the fast Fourier transform.

    Examples
    --------
    >>> autocorrelation([1.0, 2.0, 3.0, 4.0, 5.0], 1).round(6).tolist()
    [1.0, 0.4]
    """
    readings = as_array(values, max(3, lags + 1), "reading")
    away = readings - readings.mean()
    largest = float(np.abs(away).max())
    if largest <= 4 * np.finfo(float).eps * float(np.abs(readings).max()):
        raise NotDetermined("all readings are equal: there is no variation to correlate")
    away = away / largest
    from scipy.fft import next_fast_len

    size = next_fast_len(2 * readings.size, real=True)
    spectrum = np.fft.rfft(away, size)
    covariance = np.fft.irfft(spectrum * np.conj(spectrum), size)[: lags + 1]
    result: Array = covariance / covariance[0]
    return result


@dataclass(frozen=True, kw_only=True, slots=True)
class Independence:
    """How many independent readings a log is worth."""

    effective_count: float
    """readings that would give the mean the same spread if they were independent, 1 to n"""
    correlation_length: float
    """n over the effective count, in readings"""
    count: int
    """n, number of readings"""


_FIRST_LAGS = 16


def _first_lags(readings: Array) -> Array | None:
    """Autocorrelation at the first lags, when it falls to zero within them; else None: all lags are needed."""
    if readings.size < 4 * _FIRST_LAGS:
        return None
    away = readings - readings.mean()
    largest = float(np.abs(away).max())
    if largest <= 4 * np.finfo(float).eps * float(np.abs(readings).max()):
        return None
    away /= largest
    size, square = away.size, float(away @ away)

    def at(lag: int) -> float:
        return float(away[: size - lag] @ away[lag:]) / square

    if at(_FIRST_LAGS - 2) + at(_FIRST_LAGS - 1) > 0:
        return None
    return np.array([at(lag) for lag in range(_FIRST_LAGS)])


def effective_readings(values: Numbers) -> Independence:
    """Effective number of independent readings.

    Parameters
    ----------
    values : 1-D of float
        Evenly spaced readings in steady state, in time order, at least four.

    Returns
    -------
    Independence
        n / tau with tau = -1 + 2 sum of pairs (rho_2m + rho_2m+1) while the pairs are positive and, by
        running minimum, falling; never above n.

    Raises
    ------
    NotDetermined
        Fewer than four readings or no spread.

    Notes
    -----
    Initial monotone sequence estimator: Geyer, Stat. Sci. 7 (1992) 473-483 (from memory).

    Examples
    --------
    >>> effective_readings([1.0, -1.0, 1.0, 1.0, -1.0, -1.0, 1.0, -1.0]).effective_count
    8.0
    """
    readings = as_array(values, 4, "reading")
    count = readings.size
    rho = _first_lags(readings)
    if rho is None:
        rho = autocorrelation(readings, count - 1)
    pairs = rho[: count - count % 2].reshape(-1, 2).sum(axis=1)
    stop = int(np.argmax(pairs <= 0)) if (pairs <= 0).any() else pairs.size
    tau = -1 + 2 * float(np.minimum.accumulate(pairs[:stop]).sum()) if stop else 1.0
    tau = min(max(tau, 1.0), float(count))
    return Independence(effective_count=count / tau, correlation_length=tau, count=count)


def repeated_share(values: Numbers) -> float:
    """Share of readings that equal the one before: high when the log is faster than the sensor.

    Parameters
    ----------
    values : 1-D of float
        At least two readings in time order.

    Returns
    -------
    float
        Fraction of the n - 1 steps without change.

    Raises
    ------
    NotDetermined
        Fewer than two readings.

    Examples
    --------
    >>> repeated_share([5.0, 5.0, 6.0, 6.0, 6.0])
    0.75
    """
    readings = as_array(values, 2, "reading")
    return float((readings[1:] == readings[:-1]).mean())


def longest_repeat(values: Numbers) -> int:
    """Longest row of equal readings.

    Examples
    --------
    >>> longest_repeat([5.0, 5.0, 6.0, 6.0, 6.0])
    3
    """
    readings = as_array(values, 1, "reading")
    breaks = np.flatnonzero(np.concatenate([[True], readings[1:] != readings[:-1], [True]]))
    return int(np.diff(breaks).max())


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantisation:
    """The step in which a sensor seems to read."""

    step: float
    """largest step that all differences are multiples of, unit of the readings"""
    distinct: int
    """number of distinct readings"""
    share_on_grid: float
    """share of distinct differences that are whole multiples of the step, within 1e-6 of it"""


def quantisation_step(values: Numbers) -> Quantisation:
    """Step of a sensor or counter, from its readings.

    Parameters
    ----------
    values : 1-D of float
        At least three distinct readings.

    Returns
    -------
    Quantisation

    Raises
    ------
    NotDetermined
        Fewer than three distinct readings, or no common step larger than the last digits.

    Notes
    -----
    Greatest common divisor of the gaps between distinct readings by Euclid's algorithm with a
    tolerance of 1e-6 of the smallest gap and of the binary rounding of the readings. Common practice, no
    published source. Few distinct readings may share a larger step by chance.

    Examples
    --------
    >>> round(quantisation_step([10.0, 10.5, 12.0, 11.0]).step, 6)
    0.5
    """
    distinct = np.unique(as_array(values, 3, "reading"))
    if distinct.size < 3:
        raise NotDetermined("fewer than three different readings: the step of the sensor cannot be told")
    gaps = np.diff(distinct)
    rounding = 8 * np.finfo(float).eps * float(np.abs(distinct).max())
    slack = max(1e-6 * float(gaps.min()), rounding)
    step = float(gaps.min())
    left = np.unique(gaps)
    while left.size:
        # gaps that are whole multiples leave the step as it is: only the next one that is not changes it
        rest, slack_here = left % step, slack * np.maximum(1.0, left / step)
        left = left[(rest > slack_here) & (step - rest > slack_here)]
        if left.size:
            step, left = _common_step(step, float(left[0]), slack), left[1:]
        if step < 100 * slack:
            raise NotDetermined("the readings share no step: the sensor reads finer than its log tells apart")
    multiples = gaps / step
    on_grid = np.abs(multiples - np.round(multiples)) * step <= 4 * slack + 1e-6 * step
    return Quantisation(step=step, distinct=int(distinct.size), share_on_grid=float(on_grid.mean()))


def _common_step(a: float, b: float, slack: float) -> float:
    a, b = max(a, b), min(a, b)
    while b > slack:
        rest = a % b
        # a remainder just short of b is rounding of zero
        a, b = b, 0.0 if b - rest <= slack * max(1.0, a / b) or rest <= slack * max(1.0, a / b) else rest
    return a
