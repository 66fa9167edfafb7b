"""What every function of the room accepts, and what it says when no number can be given.

A *sample* here is the statistician's word: a set of values, one a run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Numbers = Sequence[float] | Array


class NotDetermined(ValueError):  # noqa: N818  it is an answer, not an error of the program
    """No number can be given; the reason is plain English and fit for a page.

    Attributes
    ----------
    reason : str
        One sentence without a full stop, for example ``"one run: its spread cannot be estimated"``.

    Examples
    --------
    >>> NotDetermined("no runs").reason
    'no runs'
    """

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """Two finite limits and the confidence they were made for."""

    low: float
    """lower limit, unit of the quantity"""
    high: float
    """upper limit, unit of the quantity"""
    confidence: float
    """confidence level as a fraction, 0.95 for 95 %"""

    @property
    def half_width(self) -> float:
        """Half the distance between the limits, unit of the quantity."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A value with its standard uncertainty, degrees of freedom and interval."""

    value: float
    """the estimate, unit of the quantity"""
    standard_error: float
    """standard uncertainty of the estimate, same unit"""
    degrees_of_freedom: float
    """degrees of freedom of the standard uncertainty; may be infinite"""
    low: float
    """lower limit of the interval, same unit"""
    high: float
    """upper limit of the interval, same unit"""
    confidence: float
    """confidence level of the interval as a fraction"""


def plural(count: int, noun: str = "run") -> str:
    """Write a count with its noun for a reason.

    >>> plural(1), plural(3, "sample")
    ('1 run', '3 samples')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def as_list(values: Numbers, least: int = 1, noun: str = "run") -> list[float]:
    """Values as a list of finite floats.

    Parameters
    ----------
    values : sequence or 1-D array of float
        One value a run, any unit.
    least : int
        Fewest values that make sense.
    noun : str
        What one value is called in the reason.

    Raises
    ------
    NotDetermined
        Too few values, more than one dimension, or a value that is not finite.

    Examples
    --------
    >>> as_list([1, 2.5])
    [1.0, 2.5]
    """
    if isinstance(values, np.ndarray):
        if values.ndim != 1:
            raise NotDetermined("the values are not a single list")
        numbers: list[float] = values.astype(float).tolist()
    else:
        numbers = [float(value) for value in values]
    if len(numbers) < least:
        if not numbers:
            raise NotDetermined(f"there is no {noun} with a value")
        raise NotDetermined(f"only {plural(len(numbers), noun)} with a value, at least {least} are needed")
    if not all(map(math.isfinite, numbers)):
        raise NotDetermined("a value is missing or not finite")
    return numbers


LARGEST = 1e150
"""beyond this size squares overflow; no quantity of the trade comes near"""


def moderate(numbers: list[float]) -> list[float]:
    """The numbers themselves, if their squares can be computed.

    Raises
    ------
    NotDetermined
        A value beyond 1e150.

    Examples
    --------
    >>> moderate([1.0, -2.0])
    [1.0, -2.0]
    """
    if numbers and max(map(abs, numbers)) > LARGEST:
        raise NotDetermined("a value is too large to compute with")
    return numbers


def as_array(values: Numbers, least: int = 1, noun: str = "run") -> Array:
    """Values as a 1-D float64 array of finite numbers up to 1e150 in size; see `as_list`."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1:
        raise NotDetermined("the values are not a single list")
    if array.size < least:
        as_list(array, least, noun)
    if not np.isfinite(array).all():
        raise NotDetermined("a value is missing or not finite")
    if array.size and float(np.abs(array).max()) > LARGEST:
        raise NotDetermined("a value is too large to compute with")
    return array


def same_length(*columns: Array) -> None:
    """Refuse columns of different length.

    Raises
    ------
    NotDetermined
        The lengths differ.
    """
    if len({column.size for column in columns}) > 1:
        raise NotDetermined("the lists of values do not have the same length")


def check_confidence(confidence: float) -> float:
    """A confidence level strictly between 0 and 1.

    Raises
    ------
    NotDetermined
        Outside that range.
    """
    if not 0 < confidence < 1:
        raise NotDetermined("a confidence level lies between 0 and 1")
    return confidence


def finite(value: float, what: str) -> float:
    """The value itself, if it can be written down.

    Raises
    ------
    NotDetermined
        The value overflowed or is undefined.
    """
    value = float(value)
    if not math.isfinite(value):
        raise NotDetermined(f"the {what} is too large or undefined")
    return value
