"""The one printed form of a number: digits as its uncertainty carries them."""

import math
from collections.abc import Callable

from benchgalley.metrology.rounding import round_to_place, uncertainty_place
from benchgalley.records.results import Interval, Printed
from benchgalley.records.units import RUNS, Unit

NOT_DETERMINED = "not determined"
NO_BREAK = "\u00a0"
MINUS = "\u2212"
THIN = "\u202f"

EXACT_DIGITS = 10
"""Enough for any setting typed by hand; hides the binary tail of 0.1 + 0.2."""
UNCERTAIN_DIGITS = 4
"""Digits of a derived value whose uncertainty is not known."""

Decimals = int | Callable[[], int | None] | None
"""Decimals of the data, or what finds them where they are needed."""


def digits(text: str) -> str:
    """Plain digits as printed: true minus, thin spaces between groups of three from five digits."""
    if text.startswith("-"):
        return MINUS + digits(text[1:])
    if "." in text[:5] or len(text) < 5:
        return text
    whole, point, rest = text.partition(".")
    first = len(whole) % 3 or 3
    groups = [whole[:first], *[whole[i : i + 3] for i in range(first, len(whole), 3)]]
    return f"{THIN.join(groups)}{point}{rest}"


def _unit_after(text: str, unit: Unit) -> str:
    symbol = unit.symbol
    if text == "1" and unit.dimension == RUNS.dimension:
        symbol = symbol.removesuffix("s")
    return f"{text}{NO_BREAK}{symbol}" if symbol else text


def _place(value: float, interval: Interval | None, spread: float | None, decimals: Decimals) -> int:
    half = spread if spread is not None else _half_width(value, interval)
    if half is not None and half > 0 and math.isfinite(half):
        return uncertainty_place(half)
    if (known := decimals() if callable(decimals) else decimals) is not None:
        return known
    if value == 0:
        return 0
    return UNCERTAIN_DIGITS - 1 - math.floor(math.log10(abs(value)))


def _half_width(value: float, interval: Interval | None) -> float | None:
    if interval is None:
        return None
    if interval.low is not None and interval.high is not None:
        return (interval.high - interval.low) / 2
    end = interval.high if interval.low is None else interval.low
    return None if end is None or end == value else abs(end - value)


def printed(
    value: float,
    unit: Unit,
    *,
    interval: Interval | None = None,
    spread: float | None = None,
    decimals: Decimals = None,
) -> Printed:
    """Printed form of a value that is not exact.

    The expanded uncertainty (half-width of the interval, or `spread` where that governs) is printed with two
    significant digits and everything else to the same place (JCGM 100:2008, 7.2.6). Without uncertainty the
    decimals of the data stand; without those, four significant digits.
    """
    place = _place(value, interval, spread, decimals)
    number = digits(round_to_place(value, place))
    text = _unit_after(number, unit)
    limits, plus_minus = "", text
    if interval is not None and (interval.low is not None or interval.high is not None):
        limits, plus_minus = _interval_text(value, unit, interval, place, number, text)
    return Printed(number, text, limits, plus_minus, place)


def _interval_text(value: float, unit: Unit, interval: Interval, place: int, number: str, text: str) -> tuple[str, str]:
    low, high = interval.low, interval.high
    if low is None or high is None:
        end = high if high is not None else low
        word = "at most" if high is not None else "at least"
        return f"{word} {_unit_after(digits(round_to_place(end or 0.0, place)), unit)}", text
    first = _unit_after(digits(round_to_place(low, place)), unit)
    ends = f"{first} to {_unit_after(digits(round_to_place(high, place)), unit)}"
    half = (high - low) / 2
    # a lopsided interval (Fieller, chi-square, exact counts) has no honest ± form
    if abs((high + low) / 2 - value) > 0.05 * half or half <= 0:
        return ends, text
    return ends, f"{text} ± {_unit_after(digits(round_to_place(half, place)), unit)}"


def printed_exact(value: float, unit: Unit) -> Printed:
    """Printed form of a setting, a count or a rated value: the shortest text, no uncertainty."""
    short = format(value, f".{EXACT_DIGITS}g")
    if "e" in short:
        short = round_to_place(value, 0)
    number = digits(short)
    text = _unit_after(number, unit)
    decimals = len(short.partition(".")[2])
    return Printed(value=number, text=text, interval="", plus_minus=text, decimals=decimals)


def printed_absent() -> Printed:
    """Printed form of a number that cannot be given."""
    return Printed(value=NOT_DETERMINED, text=NOT_DETERMINED, interval="", plus_minus=NOT_DETERMINED, decimals=0)
