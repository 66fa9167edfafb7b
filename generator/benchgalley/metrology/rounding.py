"""The one place where a number becomes digits.

Values are read as decimals: a float by its shortest text, so that 2.675 means 2.675 and not
the binary number beside it. Results are text, since "0.30" and "0.3" say different things.
"""

from __future__ import annotations

import enum
import math
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Context, Decimal, InvalidOperation

from .sample import NotDetermined

Decimalish = float | str | Decimal

# wide enough for any float written out in full, with an exponent range beyond that of floats
_EXACT = Context(prec=1200, Emin=-100_000, Emax=100_000)

_TENS = tuple(10.0**place for place in range(7))


class Ties(enum.Enum):
    """Where a value halfway between two multiples goes."""

    EVEN = ROUND_HALF_EVEN
    """to the even multiple: ISO 80000-1 rule A, IEC 60559 roundTiesToEven"""
    AWAY = ROUND_HALF_UP
    """to the multiple greater in magnitude: ISO 80000-1 rule B"""


def as_decimal(value: Decimalish) -> Decimal:
    """A value as the decimal it is written as.

    Parameters
    ----------
    value : float, text or Decimal
        A float counts as its shortest text that reads back to it.

    Raises
    ------
    NotDetermined
        Not a number, or not finite.

    Examples
    --------
    >>> as_decimal(0.1)
    Decimal('0.1')
    """
    try:
        number = (
            value if isinstance(value, Decimal) else Decimal(value if isinstance(value, str) else repr(float(value)))
        )
    except InvalidOperation:
        raise NotDetermined(f"{value!r} is not a number") from None
    if not number.is_finite():
        raise NotDetermined("the value is missing or not finite")
    return number


def _text(number: Decimal) -> str:
    written = format(number, "f")
    # "-0" and "-0.00" would claim a sign that the digits do not show
    return written if written.strip("-0.") else written.lstrip("-")


def _at_place(number: Decimal, place: int, rounding: str) -> Decimal:
    """Rounded to 10**place; a place left of the point keeps plain zeros."""
    rounded = number.quantize(Decimal(1).scaleb(place, _EXACT), rounding=rounding, context=_EXACT)
    return rounded if place <= 0 else rounded.quantize(Decimal(1), context=_EXACT)


def round_to_place(value: Decimalish, decimals: int, ties: Ties = Ties.EVEN) -> str:
    """Value with a number of decimals; negative counts tens.

    Parameters
    ----------
    value : float, text or Decimal
    decimals : int
        2 for hundredths, 0 for whole numbers, -1 for tens.
    ties : Ties
        Half to even by default.

    Returns
    -------
    str
        Plain digits, trailing zeros kept.

    Raises
    ------
    NotDetermined
        Not a finite number.

    Notes
    -----
    ISO 80000-1:2009, Annex B; rounded once, never in stages.

    Examples
    --------
    >>> round_to_place(2.675, 2), round_to_place(-0.04, 1), round_to_place(1225.0, -1)
    ('2.68', '0.0', '1220')
    """
    # a float and its shortest text lie on the same side of any halfway point that is not as close as rounding errors
    if 0 <= decimals <= 6 and isinstance(value, float):
        scaled = abs(value) * _TENS[decimals]
        if scaled < 1e9 and abs(scaled % 1.0 - 0.5) > 1e-6:
            # "-0.00" would claim a sign that the digits do not show
            return f"{value if scaled > 0.5 else 0.0:.{decimals}f}"
    return _text(_at_place(as_decimal(value), -decimals, ties.value))


def round_to_step(value: Decimalish, step: Decimalish, ties: Ties = Ties.EVEN) -> str:
    """Nearest multiple of a rounding range such as 0.1, 10 or 0.05.

    Parameters
    ----------
    value, step : float, text or Decimal
        The step above zero.
    ties : Ties
        Rule A (even multiple) or B (greater magnitude).

    Returns
    -------
    str
        With as many decimals as the step.

    Raises
    ------
    NotDetermined
        Not a number, or a step not above zero.

    Notes
    -----
    ISO 80000-1:2009, Annex B.

    Examples
    --------
    >>> round_to_step("12.25", "0.1"), round_to_step("12.25", "0.1", Ties.AWAY)
    ('12.2', '12.3')
    """
    number, unit = as_decimal(value), as_decimal(step)
    if unit <= 0:
        raise NotDetermined("a rounding step lies above zero")
    whole, rest = divmod(_EXACT.abs(number), unit) if number else (Decimal(0), Decimal(0))
    twice = _EXACT.multiply(rest, Decimal(2))
    if twice > unit or (twice == unit and (ties is Ties.AWAY or whole % 2 == 1)):
        whole += 1
    exponent = unit.as_tuple().exponent
    decimals = max(-exponent, 0) if isinstance(exponent, int) else 0
    rounded = _EXACT.multiply(whole, unit).quantize(Decimal(1).scaleb(-decimals), context=_EXACT)
    return _text(rounded if number >= 0 else -rounded)


def _leading_place(number: Decimal) -> int:
    return number.adjusted()


def round_significant(value: Decimalish, digits: int, ties: Ties = Ties.EVEN) -> str:
    """Value to a number of significant digits.

    Parameters
    ----------
    value : float, text or Decimal
    digits : int
        At least one.

    Raises
    ------
    NotDetermined
        Not a number, or fewer than one digit.

    Examples
    --------
    >>> round_significant(0.0123456, 2), round_significant(9.96, 2), round_significant(0.0, 2)
    ('0.012', '10', '0')
    """
    if digits < 1:
        raise NotDetermined("a number is rounded to at least one digit")
    return _text(_significant(as_decimal(value), digits, ties.value))


def _significant(number: Decimal, digits: int, rounding: str) -> Decimal:
    if not number:
        return Decimal(0)
    place = _leading_place(number) - digits + 1
    rounded = _at_place(number, place, rounding)
    if _leading_place(rounded) > _leading_place(number):
        # 9.96 became 10.0: one place fewer keeps the count of digits
        rounded = _at_place(number, place + 1, rounding)
    return rounded


def round_uncertainty(uncertainty: Decimalish, digits: int = 2, *, up: bool = False) -> str:
    """An uncertainty to one or two significant digits.

    Parameters
    ----------
    uncertainty : float, text or Decimal
        Standard or expanded, above zero.
    digits : int
        1 or 2: JCGM 100:2008, 7.2.6 allows at most two.
    up : bool
        Round away from zero instead of to nearest.

    Raises
    ------
    NotDetermined
        Not above zero, or digits other than 1 or 2.

    Examples
    --------
    >>> round_uncertainty("10.47", up=True), round_uncertainty("28.05"), round_uncertainty(0.0999)
    ('11', '28', '0.10')
    """
    if digits not in (1, 2):
        raise NotDetermined("an uncertainty is stated with one or two significant digits")
    number = as_decimal(uncertainty)
    if number <= 0:
        raise NotDetermined("an uncertainty lies above zero")
    return _text(_significant(number, digits, ROUND_UP if up else ROUND_HALF_EVEN))


def uncertainty_place(uncertainty: Decimalish, digits: int = 2) -> int:
    """Decimals that an uncertainty of so many digits has; negative for tens.

    Examples
    --------
    >>> uncertainty_place(0.027), uncertainty_place(9.96), uncertainty_place(123.0)
    (3, 0, -1)
    """
    if isinstance(uncertainty, float) and 0 < uncertainty < math.inf and digits in (1, 2):
        mantissa, _, exponent = f"{uncertainty:.{digits - 1}e}".partition("e")
        # only nines may become the next power of ten, where the shortest text ends halfway
        if mantissa.strip("9."):
            return digits - 1 - int(exponent)
    rounded = as_decimal(round_uncertainty(uncertainty, digits))
    return digits - 1 - _leading_place(rounded)


def round_with_uncertainty(value: Decimalish, uncertainty: Decimalish, digits: int = 2) -> tuple[str, str]:
    """A value and its uncertainty to the same decimal place.

    Parameters
    ----------
    value, uncertainty : float, text or Decimal
        Same unit; the uncertainty above zero.
    digits : int
        Significant digits of the uncertainty, 1 or 2.

    Returns
    -------
    (str, str)
        Value and uncertainty.

    Raises
    ------
    NotDetermined
        As `round_uncertainty`.

    Notes
    -----
    JCGM 100:2008, 7.2.6.

    Examples
    --------
    >>> round_with_uncertainty("10.05762", "0.027")
    ('10.058', '0.027')
    """
    rounded = round_uncertainty(uncertainty, digits)
    return round_to_place(value, uncertainty_place(uncertainty, digits)), rounded
