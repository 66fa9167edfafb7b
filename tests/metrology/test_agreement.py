"""Rounding intervals of stated text, hedges, and the ends: a convention of this project, no published source."""

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchgalley.metrology import (
    NotDetermined,
    agrees,
    agrees_with_range,
    hedged_interval,
    round_significant,
    round_to_place,
    round_with_uncertainty,
    rounding_interval,
    uncertainty_place,
)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("41", "40.5", "41.5"),
        ("41.0", "40.95", "41.05"),
        ("0.30", "0.295", "0.305"),
        ("4100", "4099.5", "4100.5"),
        ("-3.2", "-3.25", "-3.15"),
        ("0", "-0.5", "0.5"),
        ("1.5e3", "1450", "1550"),
    ],
)
def test_rounding_interval(text, low, high):
    found = rounding_interval(text)
    assert (found.low, found.high) == (Decimal(low), Decimal(high))


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("4100", "4050", "4150"),  # half of the hundreds
        ("40", "38", "42"),  # half of the tens is 5: more than 5 %
        ("41", "40", "42"),  # at least one unit of the last digit
        ("41.5", "41.4", "41.6"),
        ("300", "285", "315"),  # 5 % of the value, less than half of the hundreds
        ("0", "-1", "1"),
        ("-40", "-42", "-38"),
    ],
)
def test_hedged_interval(text, low, high):
    found = hedged_interval(text)
    assert (found.low, found.high) == (Decimal(low), Decimal(high))


def test_the_share_of_a_hedge_is_a_parameter():
    found = hedged_interval("300", largest_share=0.01)
    assert (found.low, found.high) == (Decimal("297"), Decimal("303"))


@pytest.mark.parametrize(
    ("computed", "text", "expected"),
    [
        (40.5, "41", True),
        (41.5, "41", True),
        (40.499999, "41", False),
        (38.2, "41", False),
        (0.1 + 0.2, "0.3", True),
        (0.295, "0.30", True),
        (0.285 + 0.01, "0.30", True),  # 0.29499999999999998
        (1.005 * 100, "100.5", True),
        (1e22, "10000000000000000000000", True),
    ],
)
def test_ends_are_inside(computed, text, expected):
    assert agrees(computed, rounding_interval(text)) is expected


def test_range_includes_rounding_of_both_ends():
    assert agrees_with_range(29.5, "30", "35") and agrees_with_range(35.5, "30", "35")
    assert not agrees_with_range(29.49, "30", "35")
    with pytest.raises(NotDetermined, match="from the lower"):
        agrees_with_range(3, "35", "30")


@pytest.mark.parametrize("text", ["", "4 1", "abc", "nan", "inf"])
def test_text_that_is_no_number(text):
    with pytest.raises(NotDetermined):
        rounding_interval(text)


finite = st.floats(min_value=-1e12, max_value=1e12, allow_nan=False)


@settings(max_examples=400, derandomize=True)
@given(finite, st.integers(-3, 8))
def test_what_is_printed_agrees_with_what_was_computed(value, decimals):
    """Round trip: the printed text of a number always agrees with the number."""
    text = round_to_place(value, decimals)
    if decimals >= 0:
        assert agrees(value, rounding_interval(text))
    assert abs(Decimal(text) - Decimal(repr(value))) <= Decimal(1).scaleb(-decimals) / 2


@settings(max_examples=400, derandomize=True)
@given(finite.filter(bool), st.integers(1, 12))
def test_significant_digits(value, digits):
    rounded = Decimal(round_significant(value, digits))
    exact = Decimal(repr(value))
    assert abs(rounded - exact) <= abs(exact) * Decimal(10) ** (1 - digits)
    assert len(rounded.normalize().as_tuple().digits) <= digits


@settings(max_examples=400, derandomize=True)
@given(finite, st.floats(min_value=1e-9, max_value=1e9))
def test_value_and_uncertainty_end_at_the_same_place(value, uncertainty):
    """JCGM 100:2008, 7.2.6: at most two digits, value to the same place."""
    stated, error = round_with_uncertainty(value, uncertainty)
    assert Decimal(stated).as_tuple().exponent == Decimal(error).as_tuple().exponent
    assert len(str(int(Decimal(error).normalize().scaleb(20))).strip("0")) <= 2
    assert abs(Decimal(error) - Decimal(repr(uncertainty))) <= Decimal(repr(uncertainty)) * Decimal("0.051")


@pytest.mark.parametrize("seed", range(20))
def test_digits_are_those_of_decimal_arithmetic_on_the_shortest_text(seed):
    """Floats typed with few digits, halfway cases and neighbours among them, against `decimal` alone."""
    draw = np.random.default_rng(7000 + seed)
    typed = [round(float(v), int(d)) for v, d in zip(draw.normal(0, 500, 300), draw.integers(0, 8, 300), strict=True)]
    halves = [float(f"{int(n)}.{'0' * int(k)}5") for n, k in draw.integers(0, [20000, 7], (300, 2))]
    free = (draw.normal(0, 1, 400) * 10.0 ** draw.integers(-12, 13, 400)).tolist()
    beside = [math.nextafter(v, side) for v in halves for side in (-math.inf, math.inf)]
    nines = [
        float(f"{m}e{e}") for m in ("9.95", "9.949999999999999", "9.950000000000001", "0.995") for e in range(-9, 9)
    ]
    for value in (*typed, *halves, *free, *beside, *nines):
        exact = Decimal(repr(value))
        for decimals in range(8):
            expected = format(exact.quantize(Decimal(1).scaleb(-decimals)), "f")
            if not Decimal(expected):
                expected = expected.lstrip("-")
            assert round_to_place(value, decimals) == expected
        if value > 0:
            for digits in (1, 2):
                rounded = Context(prec=digits, rounding=ROUND_HALF_EVEN).plus(exact)
                assert uncertainty_place(value, digits) == digits - 1 - rounded.adjusted()
