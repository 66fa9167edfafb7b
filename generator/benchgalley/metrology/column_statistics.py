"""Statistics of a column of runs that many figures share: read once, combined without reading it again."""

from __future__ import annotations

import math

import numpy as np

from .repeatability import mean, standard_deviation
from .sample import Array, NotDetermined

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

    __slots__ = ("_deviations", "count", "mean", "values")

    def __init__(self, values: list[float]) -> None:
        self.values = values
        self.count = len(values)
        try:
            self.mean = math.fsum(values) / self.count if values else mean(values)
        except OverflowError:
            self.mean = mean(values)
        self._deviations: Array | None = None

    @property
    def deviations(self) -> Array:
        """Value less mean of each run, unit of the column."""
        if self._deviations is None:
            # a run of 1.7e308 about a mean of -1.7e308 is refused later, when its square is taken
            with np.errstate(over="ignore"):
                self._deviations = np.array(self.values) - self.mean
        return self._deviations

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
        total = corrected_squares(self.deviations)
        # equal values leave a mean that is theirs up to rounding, so nothing but rounding is left of them
        if not _SMALLEST < total < _LARGEST or total < 1e-24 * self.mean * self.mean:
            return standard_deviation(self.values)
        return math.sqrt(total / (self.count - 1))


def corrected_squares(deviations: Array) -> float:
    """Sum of squares of deviations from a mean, what rounding of the mean left behind taken off.

    Parameters
    ----------
    deviations : 1-D of float, at least one

    Returns
    -------
    float
        Square of their unit; may be infinite or have underflowed.

    Notes
    -----
    Corrected two-pass algorithm (Chan, Golub and LeVeque, Am. Stat. 37 (1983) 242-247) with exact sums, as
    in `standard_deviation`.

    Examples
    --------
    >>> corrected_squares(np.array([-6.0, -3.0, 3.0, 6.0]))
    90.0
    """
    with np.errstate(all="ignore"):
        squares = (deviations * deviations).tolist()
    total = math.fsum(squares)
    if not total < _LARGEST:
        return math.inf
    rest = math.fsum(deviations.tolist())
    return max(total - rest * rest / len(squares), 0.0)


def deviation_of(deviations: Array) -> float:
    """Standard deviation, divisor n - 1, of runs given as deviations from their mean.

    Parameters
    ----------
    deviations : 1-D of float, at least two

    Raises
    ------
    NotDetermined
        One run, or values too far apart.

    Examples
    --------
    >>> round(deviation_of(np.array([-6.0, -3.0, 3.0, 6.0])), 6)
    5.477226
    """
    if deviations.size < 2:
        raise NotDetermined("one run: its spread cannot be estimated")
    total = corrected_squares(deviations)
    if _SMALLEST < total < _LARGEST:
        return math.sqrt(total / (deviations.size - 1))
    if not np.isfinite(deviations).all():
        raise NotDetermined("the values are too far apart to compute with")
    return standard_deviation(deviations.tolist())


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
        self.offsets: Array = np.array(positions) - self.centre
        self.square = math.fsum((self.offsets * self.offsets).tolist())

    def slope(self, deviations: Array) -> tuple[float, float]:
        """Slope of a straight line through a column's deviations, and its standard error.

        Parameters
        ----------
        deviations : 1-D of float
            As many as positions.

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
        Least squares about the means, NIST/SEMATECH e-Handbook 4.4.3.1, one step of refinement; see `fit_line`.
        """
        count = deviations.size
        if count < 3 or not self.square > 0:
            raise NotDetermined("a straight line needs three runs at different times")
        try:
            with np.errstate(all="ignore"):
                slope = math.fsum((self.offsets * deviations).tolist()) / self.square
                rest = deviations - slope * self.offsets
                slope += math.fsum((self.offsets * rest).tolist()) / self.square
                rest = deviations - slope * self.offsets
                squares = math.fsum((rest * rest).tolist())
        except (OverflowError, ValueError):
            squares = math.inf
        if not squares < _LARGEST:
            raise NotDetermined("the values are too far apart to compute with")
        return slope, math.sqrt(squares / (count - 2) / self.square)
