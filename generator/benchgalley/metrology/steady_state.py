"""Warm-up and steps in a run: MSER truncation, one change in mean."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .sample import Array, NotDetermined, Numbers, as_array


@dataclass(frozen=True, kw_only=True, slots=True)
class Truncation:
    """How many readings at the start belong to the warm-up."""

    readings: int
    """readings to leave out"""
    batches: int
    """the same in batches"""
    statistic: float
    """MSER at the cut, squared unit of the readings"""
    statistic_uncut: float
    """MSER without a cut"""
    mean_after: float
    """mean of the readings kept (whole batches)"""
    at_limit: bool
    """the best cut lies at the latest one allowed: steady state was perhaps not reached"""


def mser(values: Numbers, batch: int = 5, largest_share: float = 0.5) -> Truncation:
    """Marginal standard error rule for cutting a warm-up (MSER-5 with batches of five).

    Parameters
    ----------
    values : 1-D of float
        Evenly spaced readings in time order, at least two batches.
    batch : int
        Readings averaged into one value first; 1 for MSER.
    largest_share : float
        No more than this share of the batches is cut.

    Returns
    -------
    Truncation
        Cut d minimising sum_{i>d} (x_i - mean_{>d})^2 / (n - d)^2; the earliest of equals.

    Raises
    ------
    NotDetermined
        Fewer than two batches, batch below one, share outside 0 to 1.

    Notes
    -----
    White, Simulation 69 (1997) 323-334; White, Cobb and Spratt (2000).

    Examples
    --------
    >>> cut = mser([10, 9, 8, 7, 6, 5, 5.1, 4.9, 5, 5.1, 4.9, 5], batch=1)
    >>> cut.readings, round(cut.mean_after, 3)
    (5, 5.0)
    """
    if batch < 1 or not 0 < largest_share < 1:
        raise NotDetermined("batches hold at least one reading and a share lies between 0 and 1")
    readings = as_array(values, noun="reading")
    count = readings.size // batch
    if count < 2:
        raise NotDetermined(f"only {readings.size} readings, at least {2 * batch} are needed to find a warm-up")
    batches = _batch_means(readings[: count * batch], batch)
    origin = float(batches.mean())
    scaled = batches - origin
    unit = max(float(scaled.max()), -float(scaled.min())) or 1.0
    scaled /= unit
    # Sums from the end on give every candidate in one pass, those that keep least first; shift and scale keep them free
    # of cancellation.
    backwards = scaled[::-1].copy()
    last = min(math.floor(count * largest_share), count - 1)
    tail = backwards.cumsum()[count - 1 - last :]
    left = np.arange(count - last, count + 1, dtype=float)
    backwards *= backwards
    statistic = backwards.cumsum()[count - 1 - last :]
    of_mean = tail * tail
    of_mean /= left
    statistic -= of_mean
    np.maximum(statistic, 0.0, out=statistic)
    statistic /= left * left
    cut = int(np.argmin(statistic[::-1]))
    best = last - cut
    return Truncation(
        readings=cut * batch,
        batches=cut,
        statistic=float(statistic[best]) * unit * unit,
        statistic_uncut=float(statistic[last]) * unit * unit,
        mean_after=origin + unit * float(tail[best] / left[best]),
        at_limit=cut == last and cut > 0,
    )


def _batch_means(readings: Array, batch: int) -> Array:
    """Means of `batch` readings each; few long sums are faster than many short ones, and add in the same order."""
    total = readings[::batch].copy()
    for place in range(1, batch):
        total += readings[place::batch]
    total /= batch
    return total


@dataclass(frozen=True, kw_only=True, slots=True)
class ChangePoint:
    """The best place for one change in mean."""

    index: int
    """number of readings before the change"""
    mean_before: float
    """mean of the readings before"""
    mean_after: float
    """mean of the readings after"""
    sum_of_squares: float
    """about the two means"""
    sum_of_squares_uncut: float
    """about one mean"""
    p: float
    """approximate chance of such a gain from independent normal readings without a change"""


def change_point(values: Numbers, smallest_segment: int = 2) -> ChangePoint:
    """One change in mean by least squares (a step down when a card starts to throttle).

    Parameters
    ----------
    values : 1-D of float
        Readings in time order.
    smallest_segment : int
        Fewest readings on a side.

    Returns
    -------
    ChangePoint
        k minimising SSE(1..k) + SSE(k+1..n), the earliest of equals.

    Raises
    ------
    NotDetermined
        Fewer than two segments' worth of readings (or fewer than three readings), or no spread.

    Notes
    -----
    Bai, Econometric Theory 13 (1997) 315-352 (from memory). `p` is the Bonferroni bound over all places, each
    by the t test of two means: conservative, and meant for readings that are independent.

    Examples
    --------
    >>> c = change_point([10.0, 10.1, 9.9, 8.0, 8.1, 7.9])
    >>> c.index, round(c.mean_before, 3), round(c.mean_after, 3)
    (3, 10.0, 8.0)
    """
    readings = as_array(values, noun="reading")
    count, least = readings.size, max(smallest_segment, 1)
    if count < max(2 * least, 3):
        raise NotDetermined(f"only {count} readings, at least {max(2 * least, 3)} are needed to find a change")
    origin = float(np.median(readings))
    unit = float(np.abs(readings - origin).max())
    if unit == 0:
        raise NotDetermined("all readings are equal: there is no change to find")
    scaled = (readings - origin) / unit
    places = np.arange(least, count - least + 1)
    before = np.cumsum(scaled)[places - 1]
    whole = float(scaled.sum())
    # the gain in sum of squares of each cut; its largest value marks the best one
    gain = before**2 / places + (whole - before) ** 2 / (count - places) - whole**2 / count
    best = int(np.argmax(gain))
    k = int(places[best])
    rest = _square(scaled[:k]) + _square(scaled[k:])
    uncut = _square(scaled)
    return ChangePoint(
        index=k,
        mean_before=origin + unit * float(scaled[:k].mean()),
        mean_after=origin + unit * float(scaled[k:].mean()),
        sum_of_squares=rest * unit * unit,
        sum_of_squares_uncut=uncut * unit * unit,
        p=_p_of_gain(max(uncut - rest, 0.0), rest, count, places.size),
    )


def _square(values: Array) -> float:
    return float(((values - values.mean()) ** 2).sum())


def _p_of_gain(gain: float, rest: float, count: int, places: int) -> float:
    from .distribution import t_two_sided_p

    if rest <= 0:
        return 0.0
    return min(1.0, places * t_two_sided_p(math.sqrt(gain / rest * (count - 2)), count - 2))


def steady_share(values: Numbers, last: int) -> float:
    """Coefficient of variation of the last readings, to be held against a limit such as 0.01 or 0.02.

    Parameters
    ----------
    values : 1-D of float
        Readings in time order.
    last : int
        How many at the end, at least two.

    Raises
    ------
    NotDetermined
        Too few readings, or a mean of zero.

    Notes
    -----
    Georges, Buytaert and Eeckhout, OOPSLA '07, 4.1 (steady state).

    Examples
    --------
    >>> round(steady_share([5.0, 9.9, 10.0, 10.1], 3), 4)
    0.01
    """
    from .averages import share_of_mean

    readings = as_array(values, max(last, 2), "reading")
    return share_of_mean(readings[-max(last, 2) :])
