# ruff: noqa: E501 - the messages are compared whole
"""Numbers as typed: what is read, and what is told of everything that only looks like a number."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchgalley.intake.number_text import decimals_of, has_leading_zero, number_fault, read_number


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0.0), ("41", 41.0), ("-130", -130.0), ("+5", 5.0), (".5", 0.5), ("5.", 5.0), ("1e3", 1000.0), ("1.5E-2", 0.015)],
)  # fmt: skip
def test_plain_numbers_are_read(text: str, value: float) -> None:
    assert read_number(text) == value


@pytest.mark.parametrize(
    ("text", "fault", "mend"),
    [
        ("1,5", "has a decimal comma", "Write 1.5."),
        ("1,234", "has a thousands separator or a decimal comma", "Write the digits without separators and a point for decimals."),
        ("1 234.5", "has a thousands separator or a decimal comma", "Write the digits without separators and a point for decimals."),
        ("1\u202f234", "has a thousands separator or a decimal comma", "Write the digits without separators and a point for decimals."),
        ("1_000", "has underscores", "Write 1000."),
        ("200 W", "carries the unit `W`", "Write 200; the name says the unit."),
        ("84%", "carries the unit `%`", "Write 84; the name says the unit."),
        ("62 °C", "carries the unit `°C`", "Write 62; the name says the unit."),
        (".inf", "is not a finite number", "Write a finite number, or leave the value out."),
        ("nan", "is not a finite number", "Write a finite number, or leave the value out."),
        ("-Infinity", "is not a finite number", "Write a finite number, or leave the value out."),
        ("0x1A", "is not a decimal number", "Write it in decimal digits."),
        ("12:30:00", "is a time or a number in base sixty", "Write one plain number; the key names its unit."),
        ("2026-03-01", "is a date", "Write a number."),
        ("on", "is a word, not a number", "Write a number."),
        ("true", "is a word, not a number", "Write a number."),
        ("N/A", "is a placeholder, not a number", "Leave the value out when it was not measured."),
        ("\u2212130", "has a typographic minus", "Write -130 with a plain hyphen."),
        ("\u0663\u0664", "has digits other than 0 to 9", "Write it with the digits 0 to 9."),
        ("1e999", "is too large", "Write a number a computer can hold."),
        (" 5", "has a space around it", "Write 5."),
        ("", "is empty", "Write a number."),
        ("12abc+", "carries the unit `abc+`", "Write 12; the name says the unit."),
        ("1.2.3", "is not a number", "Write digits, with a point for decimals."),
    ],
)  # fmt: skip
def test_what_only_looks_like_a_number_is_told_apart(text: str, fault: str, mend: str) -> None:
    assert read_number(text) is None
    assert number_fault(text) == (fault, mend)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_reads_back(value: float) -> None:
    assert read_number(repr(value)) == value


@given(st.text(max_size=12))
def test_any_text_gives_a_number_or_two_sentence_parts(text: str) -> None:
    value = read_number(text)
    if value is None:
        assert all(part for part in number_fault(text))
    else:
        assert math.isfinite(value)
        assert value == float(text)


@pytest.mark.parametrize(
    ("text", "decimals"), [("41", 0), ("41.0", 1), ("0.30", 2), ("1.2e-3", 4), ("1.25e1", 1), ("2e3", 0)]
)
def test_decimals_as_typed(text: str, decimals: int) -> None:
    assert decimals_of(text) == decimals


def test_leading_zeros_are_noticed() -> None:
    assert has_leading_zero("010") and has_leading_zero("-007")
    assert not has_leading_zero("0") and not has_leading_zero("0.5") and not has_leading_zero("10")
