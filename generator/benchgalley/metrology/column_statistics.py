"""Statistics of a column of runs that many figures share: read once, combined without reading it again."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .repeatability import mean, standard_deviation
from .sample import NotDetermined

_SMALLEST, _LARGEST = 1e-200, 1e200
"""sums of squares between these have lost nothing to underflow or overflow"""


class ColumnStatistics:
    """Mean of a column and the deviations of its runs from it.

    Parameters
    ----------
    values : list of float
        One finite value a run, at least one, any unit.

    Raises
    ------
    NotDetermined
        No values.

    Notes
    -----
    The mean is that of `mean`; see `deviation_of` for the rest.
    """

    __slots__ = ("count", "deviations", "mean", "values")

    def __init__(self, values: list[float]) -> None:
        self.values = values
        self.count = len(values)
        try:
            self.mean = math.fsum(values) / self.count if values else mean(values)
        except OverflowError:
            self.mean = mean(values)
        self.deviations = [value - self.mean for value in values]
        """Value less mean of each run, unit of the column; may be infinite, and is refused when squares are taken."""

    @property
    def standard_deviation(self) -> float | None:
        """Repeatability standard deviation, divisor n - 1, same unit; None for one run.

        Raises
        ------
        NotDetermined
            The values are too far apart to compute with.
        """
        if self.count < 2:
            return None
        total = corrected_squares(self.deviations, self.mean)
        # equal values leave a mean that is theirs up to rounding, so nothing but rounding is left of them
        if not _SMALLEST < total < _LARGEST or total < 1e-24 * self.mean * self.mean:
            return standard_deviation(self.values)
        return math.sqrt(total / (self.count - 1))


def corrected_squares(deviations: Sequence[float], size: float) -> float:
    """Sum of squares of deviations from a mean, what rounding of the mean left behind taken off.

    Parameters
    ----------
    deviations : sequence of float, at least one
    size : float
        Size of the mean they were taken from, same unit.

    Returns
    -------
    float
        Square of their unit; may be infinite or have underflowed.

    Notes
    -----
    Corrected two-pass algorithm (Chan, Golub and LeVeque, Am. Stat. 37 (1983) 242-247) with exact sums, as
    in `standard_deviation`. The correction, at most n ulp(mean)^2 / 4, is left out where it is below the last
    digit of the sum.

    Examples
    --------
    >>> corrected_squares([-6.0, -3.0, 3.0, 6.0], 10.0)
    90.0
    """
    squares = [deviation * deviation for deviation in deviations]
    try:
        total = math.fsum(squares)
    except OverflowError:
        return math.inf
    if not total < _LARGEST:
        return math.inf
    if total > 1e-14 * len(squares) * size * size:
        return total
    rest = math.fsum(deviations)
    return max(total - rest * rest / len(squares), 0.0)


def deviation_of(deviations: Sequence[float], size: float) -> float:
    """Standard deviation, divisor n - 1, of runs given as deviations from their mean.

    Parameters
    ----------
    deviations : sequence of float, at least two
    size : float
        Size of the values they belong to, same unit.

    Raises
    ------
    NotDetermined
        One run, or values too far apart.

    Examples
    --------
    >>> round(deviation_of([-6.0, -3.0, 3.0, 6.0], 10.0), 6)
    5.477226
    """
    count = len(deviations)
    if count < 2:
        raise NotDetermined("one run: its spread cannot be estimated")
    total = corrected_squares(deviations, size)
    if _SMALLEST < total < _LARGEST:
        return math.sqrt(total / (count - 1))
    if not all(map(math.isfinite, deviations)):
        raise NotDetermined("the values are too far apart to compute with")
    return standard_deviation(deviations)


class Places:
    """Places of runs in time or order, ready for straight lines of many columns against them.

    Parameters
    ----------
    positions : list of float
        One a run, any unit.
    """

    __slots__ = ("centre", "distinct", "first", "last", "offsets", "square")

    def __init__(self, positions: list[float]) -> None:
        self.centre = mean(positions)
        self.first, self.last = min(positions), max(positions)
        self.distinct = len(set(positions))
        self.offsets = [position - self.centre for position in positions]
        self.square = math.fsum([offset * offset for offset in self.offsets])

    def slope(self, deviations: Sequence[float], deviation: float) -> tuple[float, float]:
        """Slope of a straight line through a column's deviations, and its standard error.

        Parameters
        ----------
        deviations : sequence of float
            As many as positions.
        deviation : float
            Their standard deviation, divisor n - 1.

        Returns
        -------
        (float, float)
            Unit of the column over unit of the positions.

        Raises
        ------
        NotDetermined
            Fewer than three runs, one place only, or values too far apart.

        Notes
        -----
        Least squares about the means, NIST/SEMATECH e-Handbook 4.4.3.1, see `fit_line`. The residual sum of
        squares is the total less what the line explains: good to 1e-8 of the slope even where the points lie on
        a line.
        """
        count = len(deviations)
        if count < 3 or not self.square > 0:
            raise NotDetermined("a straight line needs three runs at different times")
        try:
            products = [offset * deviation for offset, deviation in zip(self.offsets, deviations, strict=True)]
            slope = math.fsum(products) / self.square
            rest = max((count - 1) * deviation * deviation - slope * slope * self.square, 0.0)
        except (OverflowError, ValueError):
            rest = math.inf
        if not rest < _LARGEST:
            raise NotDetermined("the values are too far apart to compute with")
        return slope, math.sqrt(rest / (count - 2) / self.square)
