"""Does a computed value agree with the digits somebody wrote?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from .rounding import as_decimal
from .sample import NotDetermined

_ULPS = 8


@dataclass(frozen=True, kw_only=True, slots=True)
class StatedInterval:
    """The values that a stated decimal may stand for, ends included."""

    low: Decimal
    """lowest value, unit of the statement"""
    high: Decimal
    """highest value, same unit"""
    last_digit: Decimal
    """one unit of the last digit written"""


def _exponent(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int):
        raise NotDetermined("the stated number is not finite")
    return exponent


def last_digit_unit(text: str) -> Decimal:
    """One unit of the last digit written.

    Parameters
    ----------
    text : str
        Plain decimal as written, point as decimal sign: "41", "41.0", "0.30", "4100", "1.5e3".

    Raises
    ------
    NotDetermined
        Not a number.

    Examples
    --------
    >>> last_digit_unit("41.0"), last_digit_unit("4100")
    (Decimal('0.1'), Decimal('1'))
    """
    return Decimal(1).scaleb(_exponent(as_decimal(text)))


def last_nonzero_digit_unit(text: str) -> Decimal:
    """One unit of the last digit that is not zero; of the last digit when all are zero.

    Examples
    --------
    >>> last_nonzero_digit_unit("4100"), last_nonzero_digit_unit("0.30")
    (Decimal('1E+2'), Decimal('0.1'))
    """
    number = as_decimal(text)
    return Decimal(1).scaleb(_exponent(number.normalize() if number else number))


def rounding_interval(text: str) -> StatedInterval:
    """The values that round to the stated digits: half a unit of the last digit to each side, ends included.

    Parameters
    ----------
    text : str
        Plain decimal as written; every written digit counts, so "41.0" is narrower than "41".

    Raises
    ------
    NotDetermined
        Not a number.

    Examples
    --------
    >>> i = rounding_interval("0.30")
    >>> i.low, i.high
    (Decimal('0.295'), Decimal('0.305'))
    """
    return widened(text, last_digit_unit(text) / 2)


def hedged_interval(text: str, largest_share: float = 0.05) -> StatedInterval:
    """The values that "about" such a number may stand for.

    Parameters
    ----------
    text : str
        Plain decimal as written.
    largest_share : float
        Widening never goes beyond this share of the value; 0.05 for 5 %.

    Returns
    -------
    StatedInterval
        Half a unit of the last non-zero digit to each side, at most `largest_share` of the value, and at
        least one unit of the last digit written.

    Raises
    ------
    NotDetermined
        Not a number, or a negative share.

    Notes
    -----
    A convention of this project, printed in the methods; no published source.

    Examples
    --------
    >>> i = hedged_interval("4100")
    >>> int(i.low), int(i.high)
    (4050, 4150)
    >>> i = hedged_interval("40")
    >>> int(i.low), int(i.high)
    (38, 42)
    """
    if not 0 <= largest_share < math.inf:
        raise NotDetermined("the widening for a hedge is a share that is not negative")
    number = as_decimal(text)
    wide = last_nonzero_digit_unit(text) / 2
    if number:
        wide = min(wide, abs(number) * as_decimal(largest_share))
    return widened(text, max(wide, last_digit_unit(text)))


def widened(text: str, half_width: Decimal) -> StatedInterval:
    """The stated number with a half-width to each side.

    Examples
    --------
    >>> widened("41", Decimal("1.5")).high
    Decimal('42.5')
    """
    number = as_decimal(text)
    return StatedInterval(low=number - half_width, high=number + half_width, last_digit=last_digit_unit(text))


def not_below(computed: float, limit: Decimal) -> bool:
    """Is a computed value at least a limit, up to rounding of the last binary digits?

    Examples
    --------
    >>> not_below(0.1 + 0.2, Decimal("0.3")), not_below(0.3 - 1e-12, Decimal("0.3"))
    (True, False)
    """
    return as_decimal(computed) >= limit - _slack(computed)


def not_above(computed: float, limit: Decimal) -> bool:
    """Is a computed value at most a limit, up to rounding of the last binary digits?

    Examples
    --------
    >>> not_above(0.1 + 0.2, Decimal("0.3")), not_above(0.3 + 1e-12, Decimal("0.3"))
    (True, False)
    """
    return as_decimal(computed) <= limit + _slack(computed)


def _slack(computed: float) -> Decimal:
    # a value that is mathematically on the end arrives a few units in the last binary place off
    return Decimal(_ULPS * math.ulp(computed))


def agrees(computed: float, stated: StatedInterval) -> bool:
    """Does the computed value lie in the stated interval, ends included?

    Parameters
    ----------
    computed : float
        In the unit of the statement.
    stated : StatedInterval

    Returns
    -------
    bool
        A value within 8 units in the last binary place of an end counts as on it.

    Raises
    ------
    NotDetermined
        The computed value is not finite.

    Examples
    --------
    >>> agrees(40.5, rounding_interval("41")), agrees(40.49, rounding_interval("41"))
    (True, False)
    >>> agrees(4.05 * 10 + 1e-14, rounding_interval("40.5"))
    True
    """
    return not_below(computed, stated.low) and not_above(computed, stated.high)


def agrees_with_range(computed: float, low_text: str, high_text: str) -> bool:
    """Does the computed value lie in a stated range such as "30 to 35", rounding of both ends included?

    Raises
    ------
    NotDetermined
        Not numbers, or the range runs backwards.

    Examples
    --------
    >>> agrees_with_range(35.4, "30", "35"), agrees_with_range(35.6, "30", "35")
    (True, False)
    """
    low, high = rounding_interval(low_text), rounding_interval(high_text)
    if low.low > high.high:
        raise NotDetermined("a range is written from the lower to the higher end")
    return not_below(computed, low.low) and not_above(computed, high.high)
