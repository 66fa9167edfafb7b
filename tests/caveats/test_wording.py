"""How figures are written in caveats."""

import doctest

import pytest

from benchgalley.caveats import context, wording
from benchgalley.caveats.context import blocks
from benchgalley.caveats.wording import amount, counted, exact, figure, listed, tied


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (12.34, 2, "12"),
        (1234.5, 2, "1234"),
        (0.9986, 2, "1.0"),
        (99.7, 2, "100"),
        (-0.0456, 2, "−0.046"),
        (0.0, 2, "0"),
        (12345.6, 4, "12\u202f346"),
        (-1234567.0, 2, "−1\u202f234\u202f567"),
        (22.04, 3, "22.0"),
    ],
)
def test_figures_to_so_many_digits(value, digits, text):
    assert figure(value, digits) == text


def test_settings_stay_as_typed():
    assert [exact(v) for v in (84.0, -130.0, 0.5, 62.25)] == ["84", "−130", "0.5", "62.25"]


def test_units_counts_and_lists():
    assert amount(12.0, "W") == "12\xa0W" and amount(12.0, "") == "12"
    assert counted(1) == "1\xa0run" and counted(2, "sample") == "2\xa0samples"
    assert listed("abc") == "a, b and c" and listed("a") == "a" and listed([]) == ""
    assert listed(map(str, range(9))) == "0, 1, 2, 3, 4 and 4 more"


def test_only_units_are_tied_to_their_number():
    assert tied("at 84 % or 12 V, 5 runs") == "at 84\xa0% or 12\xa0V, 5\xa0runs"
    assert tied("1 of 5 Wednesdays, SC '15, 12 samples") == "1 of 5 Wednesdays, SC '15, 12 samples"


def test_stretches_of_neighbours():
    assert blocks([]) == 0 and blocks([True, False, True, True]) == 2


@pytest.mark.parametrize("module", [wording, context])
def test_examples_in_docstrings(module):
    tried = doctest.testmod(module)
    assert tried.attempted and not tried.failed
