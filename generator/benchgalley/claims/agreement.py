"""The values a stated numeral may stand for, and whether a computed one is among them.

A number agrees when the computed value lies in the rounding interval of the stated digits, ends included.
A hedge widens that to half a unit of the last non-zero digit, at most the site's share of the value and at
least one unit of the last digit; "nearly" takes the lower half of it, "just over" the upper half. A fraction
or factor in words ("half", "twice", "three times") counts as two significant digits.
"""

from decimal import Decimal

from benchgalley.metrology.agreement import (
    StatedInterval,
    agrees,
    hedged_interval,
    not_above,
    not_below,
    rounding_interval,
    widened,
)
from benchgalley.records import units
from benchgalley.records.results import Number
from benchgalley.records.units import Unit

from .mentions import NumberMention
from .numerals import Numeral, Style
from .vocabulary import Hedge

__all__ = ["agrees", "magnitude_interval", "not_above", "not_below", "value_as_stated"]

_PLAIN_DIMENSIONS = frozenset({"number", "ratio", "count"})


def magnitude_interval(numeral: Numeral, hedge: Hedge, hedge_share_pct: float, factor: bool = False) -> StatedInterval:
    """Magnitudes that a numeral may stand for.

    Parameters
    ----------
    numeral : Numeral
    hedge : Hedge
    hedge_share_pct : float
        The site's limit of a hedge, percent of the value.
    factor : bool
        Whether "times" follows: then a whole number in words has two significant digits.
    """
    plain = numeral.plain
    if factor and numeral.style is Style.WORDS and "." not in plain:
        plain += ".0"
    if hedge is Hedge.NONE:
        found = rounding_interval(plain)
        if numeral.style is Style.DIGITS:
            return found
    else:
        found = hedged_interval(plain, hedge_share_pct / 100)
    centre = abs(numeral.value)
    half = (found.high - found.low) / 2
    low, high = centre - half, centre + half
    if hedge is Hedge.BELOW:
        high = centre
    elif hedge is Hedge.ABOVE:
        low = centre
    return StatedInterval(low=low, high=high, last_digit=found.last_digit)


def half_width_interval(numeral: Numeral) -> StatedInterval:
    """Values that a stated half-width may stand for."""
    return widened(numeral.plain, rounding_interval(numeral.plain).last_digit / 2)


def value_as_stated(
    value: float, number_unit: Unit, mention: NumberMention, relation: str, in_table: bool
) -> float | None:
    """A value of the number's unit in the unit the prose uses; None when the two do not go together.

    A temperature difference may be stated in degrees Celsius or kelvin. Percent and percentage points are kept
    apart. A factor ("twice", "1.2 times") states a ratio, or a share of the baseline; with a direction word a
    fraction states a relative change ("a third less"). A number without a unit is accepted for scores, ratios
    and counts, and in table cells.
    """
    stated, style = mention.unit, mention.numerals[0].style
    if not mention.unit_known:
        return None
    in_words = style in (Style.FRACTION, Style.MULTIPLE)
    if stated == units.RATIO or (stated is None and in_words):
        return _as_factor(value, number_unit, style, relation, mention.direction is not None)
    if stated is None:
        bare = number_unit.dimension in _PLAIN_DIMENSIONS or number_unit.dimension.startswith("score:")
        return value if bare or in_table else None
    if stated.dimension == (told := units.told_in(number_unit)).dimension:
        return units.convert(value, told, stated)
    if stated == units.CELSIUS and number_unit.dimension == "temperature-difference":
        return value
    if stated == units.PERCENT and number_unit.dimension == "ratio":
        return value * 100
    if mention.yearly and (yearly := _a_year(value, told, stated)) is not None:
        return yearly
    if stated.dimension == "count" and number_unit.dimension in _PLAIN_DIMENSIONS:
        return value
    return None


def _a_year(value: float, told: Unit, stated: Unit) -> float | None:
    """A yearly sum stated in its unit alone, with the year elsewhere in the sentence."""
    if told.dimension.replace("money-per-year", "money") == stated.dimension:
        return value
    if told.dimension == "energy-per-year" and stated.dimension == "energy":
        return units.convert(value * told.factor, units.KILOWATT_HOUR, stated)
    return None


def _as_factor(value: float, unit: Unit, style: Style, relation: str, turned: bool) -> float | None:
    if unit.dimension in _PLAIN_DIMENSIONS:
        return value
    if unit.dimension != "share":
        return None
    relative_change = relation in ("change-percent", "saved-percent")
    if relative_change:
        return value / 100 if style is Style.FRACTION else None
    return value / 100


def last_digit_in(number: Number, mention: NumberMention, numeral: Numeral) -> Decimal:
    """One unit of the last digit written, in the number's own unit."""
    digit = Decimal(1).scaleb(-numeral.decimals)
    stated, told = mention.unit, units.told_in(number.unit)
    if stated is not None and stated.dimension == told.dimension:
        return digit * Decimal(repr(stated.factor)) / Decimal(repr(told.factor))
    if number.unit.dimension == "share" and (stated is None or stated == units.RATIO):
        return digit * 100
    if stated == units.PERCENT and number.unit.dimension == "ratio":
        return digit / 100
    return digit
