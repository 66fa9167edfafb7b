"""The one printed form, against the examples of the GUM and by hand."""

import pytest

from benchgalley.derive.printing import digits, printed, printed_exact
from benchgalley.records import units
from benchgalley.records.results import Interval


def around(value, half):
    return Interval(low=value - half, high=value + half, confidence_pct=95.0, method="t")


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (10.05762, 0.027, "10.058\u00a0V ± 0.027\u00a0V"),  # JCGM 100:2008, 7.2.6: 10,058 with 27 mΩ
        (38.243, 1.31, "38.2\u00a0V ± 1.3\u00a0V"),
        (-62.96, 25.8, "\u221263\u00a0V ± 26\u00a0V"),
        (12345.6, 123.4, "12\u202f350\u00a0V ± 120\u00a0V"),
        (0.0, 0.0996, "0.00\u00a0V ± 0.10\u00a0V"),
        (193.1, 9.96, "193\u00a0V ± 10\u00a0V"),
        (-0.04, 3.0, "0.0\u00a0V ± 3.0\u00a0V"),
    ],
)
def test_two_digits_of_the_uncertainty(value, half, text):
    assert printed(value, units.VOLT, interval=around(value, half)).plus_minus == text


def test_interval_text_and_decimals():
    form = printed(38.2, units.WATT, interval=around(38.2, 1.3))
    assert form.interval == "36.9\u00a0W to 39.5\u00a0W"
    assert (form.value, form.text, form.decimals) == ("38.2", "38.2\u00a0W", 1)


def test_a_lopsided_interval_has_no_plus_minus():
    form = printed(1.0, units.WATT, interval=Interval(low=0.6, high=2.9, confidence_pct=95.0, method="chi-square"))
    assert form.plus_minus == form.text
    assert form.interval == "0.6\u00a0W to 2.9\u00a0W"


def test_one_sided_and_unbounded():
    bound = printed(
        36.9, units.WATT, interval=Interval(low=36.9, high=None, confidence_pct=95.0, method="t"), spread=1.3
    )
    assert bound.interval == "at least 36.9\u00a0W"
    assert bound.plus_minus == "36.9\u00a0W"
    nothing = printed(3.0, units.RATIO, interval=Interval(low=None, high=None, confidence_pct=95.0, method="Fieller"))
    assert nothing.interval == "" and nothing.text == "3.000\u00a0times"


def test_without_uncertainty_the_decimals_of_the_data_stand():
    assert printed(214.0, units.WATT, decimals=1).text == "214.0\u00a0W"
    assert printed(214.024, units.WATT).text == "214.0\u00a0W"
    assert printed(0.0, units.WATT).text == "0\u00a0W"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (84.0, units.PERCENT, "84\u00a0%"),
        (0.1 + 0.2, units.WATT, "0.3\u00a0W"),
        (-130.0, units.MILLIVOLT, "\u2212130\u00a0mV"),
        (1.0, units.RUNS, "1\u00a0run"),
        (12000.0, units.RUNS, "12\u202f000\u00a0runs"),
        (1e15, units.HERTZ, "1\u202f000\u202f000\u202f000\u202f000\u202f000\u00a0Hz"),
        (5.0, units.ONE, "5"),
    ],
)
def test_exact_numbers_have_the_shortest_text(value, unit, text):
    assert printed_exact(value, unit).text == text


def test_grouping_starts_at_five_digits():
    assert [digits(t) for t in ("1234", "12345", "-1234567.89")] == [
        "1234", "12\u202f345", "\u22121\u202f234\u202f567.89",
    ]  # fmt: skip
