"""The unit table against a general units library and against the unit codes' own grammar."""

import warnings

import pint
import pytest

from benchgalley.records import units
from benchgalley.records.units import UNITS, convert, find_unit, per, score_unit

PINT_NAMES = {
    "W": "watt", "kW": "kilowatt", "mW": "milliwatt", "V": "volt", "mV": "millivolt", "Hz": "hertz", "kHz": "kilohertz",
    "MHz": "megahertz", "GHz": "gigahertz", "°C": "degree_Celsius", "K": "delta_degree_Celsius",
    "r/min": "revolution / minute", "s": "second", "ms": "millisecond", "min": "minute", "h": "hour", "J": "joule",
    "kJ": "kilojoule", "W h": "watt * hour", "kW h": "kilowatt * hour", "K/W": "kelvin / watt", "per hour": "1 / hour",
    "GB": "gigabyte", "GiB": "gibibyte", "A": "ampere", "%": "percent", "kW h a year": "kilowatt * hour / year",
}  # fmt: skip
"""Printed symbol -> name in pint. Benchmark points, counts and A-weighted levels are not its business."""


@pytest.fixture(scope="module")
def registry():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("unit", [u for u in UNITS if u.symbol in PINT_NAMES], ids=lambda u: u.symbol)
def test_factor_agrees_with_pint(unit, registry):
    """Source of the expected values: pint's default registry (SI prefixes and CODATA-free definitions)."""
    for other in UNITS:
        if other.dimension == unit.dimension and other.symbol in PINT_NAMES:
            ours = convert(7.25, unit, other)
            theirs = registry.Quantity(7.25, PINT_NAMES[unit.symbol]).to(PINT_NAMES[other.symbol]).magnitude
            assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize("unit", UNITS, ids=lambda u: u.symbol)
def test_code_parses_as_ucum(unit):
    """Source: the UCUM grammar, as implemented by ucumvert."""
    from ucumvert import get_ucum_parser

    assert get_ucum_parser().parse(unit.ucum) is not None


def test_no_spelling_names_two_units():
    owners = {}
    for unit in UNITS:
        for word in {unit.symbol, *unit.spellings}:
            assert owners.setdefault(word, unit) is unit, word


@pytest.mark.parametrize(
    ("text", "symbol"),
    [("W", "W"), ("Watts", "W"), ("mW", "mW"), ("rpm", "r/min"), ("kWh", "kW h"), ("°C", "°C"), ("per cent", "%")],
)
def test_spellings_are_found(text, symbol):
    assert find_unit(text).symbol == symbol


def test_a_megawatt_is_not_a_milliwatt():
    assert find_unit("MW") is None


def test_scores_of_different_loads_do_not_convert():
    with pytest.raises(ValueError, match="does not convert"):
        convert(1.0, score_unit("points"), score_unit("frames/s"))


def test_compound_unit_takes_words_and_stroke():
    unit = per(score_unit("points"), units.WATT)
    assert unit.symbol == "points/W"
    assert {"points per watt", "point/W", "points/W"} <= set(unit.spellings)


@pytest.mark.parametrize(
    ("word", "symbol"),
    [("points", "J/point"), ("frames", "J/frame"), ("fps", "J/fps"), ("frames/s", "J/(frames/s)"), ("mass", "J/mass")],
)
def test_a_score_after_the_stroke_stands_in_the_singular(word, symbol):
    unit = per(units.JOULE, score_unit(word))
    assert unit.symbol == symbol
    assert f"J/{word}" in unit.spellings


def test_a_score_in_seconds_is_no_run_time_but_is_read_like_one():
    unit = score_unit("s")
    assert unit.dimension != units.SECOND.dimension
    assert all(unit.spellings) and all(per(unit, units.WATT).spellings)
